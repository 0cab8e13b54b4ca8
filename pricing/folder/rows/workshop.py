"""Rows of the workshop and its rates, and of the channels."""

from __future__ import annotations

from collections.abc import Mapping

from pricing.folder.rows.resolving import Bench
from pricing.model.base import StatedModel
from pricing.model.channel import Channel, Postage
from pricing.model.currency import minor_unit
from pricing.model.given import AnyRow, row_of
from pricing.model.rows import (
    ChannelRow,
    PostageTierRow,
    PriceStepRow,
    WorkshopRow,
)


def workshop_row(bench: Bench) -> WorkshopRow:
    """The row of the workshop itself, with the run that was asked for and the ladder."""
    asked = bench.asked
    return row_of(
        WorkshopRow, bench.folder.stated, run_sets=float(asked.run or 0), design_charged=asked.charge_design
    )  # fmt: skip


def named_rows(kind: type[AnyRow], stated: Mapping[str, StatedModel]) -> tuple[AnyRow, ...]:
    """A row for each of some named tables: roles, machines, materials, flasks."""
    return tuple(row_of(kind, each, name=name) for name, each in stated.items())


def channel_row(name: str, channel: Channel, currency: str) -> ChannelRow:
    """The row of a channel; without a stated step prices go by the minor unit of its currency."""
    rounding, currency = channel.rounding, channel.currency or currency
    limited = [tier for tier in channel.tiers if tier.up_to_g is not None]
    rest = next((tier for tier in channel.tiers if tier.up_to_g is None), Postage())
    last_step = rounding.step if rounding.step is not None else minor_unit(currency)
    price_steps = [(each.below, each.step) for each in rounding.steps_by_price] + [(None, last_step)]
    return row_of(
        ChannelRow,
        channel,
        name=name,
        currency=currency,
        postage_charged=rest.charged,
        postage_cost=rest.cost,
        postage_tiers=tuple(
            row_of(PostageTierRow, tier, tier_position=float(position)) for position, tier in enumerate(limited)
        ),
        price_steps=tuple(
            PriceStepRow(applies_below=below, step_size=size, step_position=float(position))
            for position, (below, size) in enumerate(price_steps)
        ),
    )
