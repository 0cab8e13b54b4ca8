"""Rows of the workshop and its rates, and of the channels."""

from __future__ import annotations

from pricing.folder.bench import Bench
from pricing.model.channel import Channel
from pricing.model.currency import minor_unit_digits
from pricing.model.resolved import (
    ChannelRow,
    FeeRow,
    FlaskRow,
    MachineRow,
    MaterialRow,
    PriceStepRow,
    RoleRow,
    WorkshopRow,
)
from pricing.model.workshop import Workshop


def workshop_row(bench: Bench) -> WorkshopRow:
    """The row of the workshop itself, with the run that was asked for and the ladder."""
    workshop, ladder, asked = bench.folder.stated.workshop, bench.folder.stated.ladder, bench.asked
    return WorkshopRow(
        overhead_per_month=workshop.overhead.per_month,
        productive_hours=workshop.overhead.productive_hours,
        price_per_kwh=workshop.energy.price_per_kwh if workshop.energy else 0.0,
        unreclaimed_tax=workshop.unreclaimed_tax,
        workshop_max_return_share=workshop.max_return_share,
        run_sets=float(asked.run or 0),
        design_charged=asked.charge_design,
        has_ladder=ladder is not None,
        keystone=(ladder.keystone if ladder else None) or 0.0,
        one_retail_price=bool(ladder and ladder.one_retail_price),
    )


def rate_rows(workshop: Workshop) -> dict[str, tuple]:
    """Rows of roles, machines, materials and flasks, by the names that the resolved model gives them."""
    return {
        "roles": tuple(
            RoleRow(name=name, wage=role.rate, on_cost=role.on_cost) for name, role in workshop.labour.items()
        ),
        "machines": tuple(
            MachineRow(
                name=name,
                purchase=machine.purchase,
                residual=machine.residual,
                life_hours=machine.life_hours,
                maintenance_per_hour=machine.maintenance_per_hour,
                power_kw=machine.power_kw,
                duty=machine.duty,
            )
            for name, machine in workshop.machines.items()
        ),
        "materials": tuple(
            MaterialRow(
                name=name,
                pack_unit=material.unit,
                pack_price=material.pack_price,
                pack_size=material.pack_size,
                waste=material.waste,
            )
            for name, material in workshop.materials.items()
        ),
        "flasks": tuple(
            FlaskRow(
                name=name,
                flask_diameter_mm=flask.diameter_mm,
                flask_height_mm=flask.height_mm,
                water_per_100=flask.water_per_100 or 0.0,
                slurry_density=flask.slurry_density or 0.0,
                button_cm3=flask.button_cm3,
                powder_g=flask.powder_g,
            )
            for name, flask in workshop.flasks.items()
        ),
    }


def channel_row(name: str, channel: Channel, currency: str) -> ChannelRow:
    """The row of a channel; without a stated step prices go by the currency's minor unit."""
    rounding = channel.rounding
    last_step = rounding.step if rounding.step is not None else 10.0 ** -minor_unit_digits(currency)
    price_steps = [(each.below, each.step) for each in rounding.steps_by_price] + [(None, last_step)]
    return ChannelRow(
        name=name,
        role=channel.labour,
        is_wholesale=channel.audience == "wholesale",
        tax_rate=channel.tax.rate,
        tax_included=channel.tax.included,
        sets_per_order=channel.units_per_order,
        discount=channel.discount,
        postage_charged=channel.postage.charged,
        postage_cost=channel.postage.cost,
        packing=channel.packing,
        order_minutes=channel.minutes,
        refund_share=channel.refund_share,
        refund_cost=channel.refund_cost or 0.0,
        ending=rounding.ending,
        rounds_up=rounding.direction == "up",
        fees=tuple(
            FeeRow(
                name=fee.name,
                fee_rate=fee.rate,
                fee_min=fee.min,
                fee_max=fee.max,
                fee_fixed=fee.fixed,
                fee_share=fee.share,
                fee_per_set=fee.per == "set",
                fee_of_order=fee.of == "order",
                fee_taxed=fee.taxed,
            )
            for fee in channel.fees
        ),
        price_steps=tuple(
            PriceStepRow(applies_below=below, step_size=size, step_position=float(position))
            for position, (below, size) in enumerate(price_steps)
        ),
    )
