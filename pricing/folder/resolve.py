"""Stated models to the resolved one: everything that a person may leave open, inherit or override is settled.

Quotes and exchange rates in force, `like` and overrides, volumes by mesh or by weighing, rounding steps by
the currency: after this there are only rows of plain numbers. What is missing or cannot hold is told with
its place, all of it at once.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from pricing.errors import Fault, Faults, Place
from pricing.folder.inherit import figures_of, inherited, steps_of
from pricing.folder.in_force import InForce, age_warning, exchange_problem, in_force

from pricing.folder.price_history import FILE as PRICES_FILE
from pricing.folder.read import Folder
from pricing.model.alloy import Alloy
from pricing.model.channel import Channel, Policy
from pricing.model.currency import minor_unit_digits
from pricing.model.process import Step
from pricing.model.product import Casting, Product
from pricing.model.resolved import (
    AlloyRow,
    CastingRow,
    ChannelRow,
    ContentRow,
    CurrencyRow,
    FeeRow,
    FindingRow,
    FlaskRow,
    MachineRow,
    MaterialRow,
    MetalRow,
    PriceRow,
    PriceStepRow,
    Resolved,
    RoleRow,
    StepRow,
    UseRow,
    VariantRow,
    WorkshopRow,
)
from pricing.units import GRAMS_PER

#: Measures a mesh file: its volume in cm3 and its surface in cm2. Raises TroytagError where it cannot.
MeasureMesh = Callable[[Path], tuple[float, float]]


@dataclass(frozen=True)
class Asked:
    """What is to be costed: the day, and a run of so many sets (None: the steady state)."""

    as_of: date
    run: float | None = None
    charge_design: bool = False


@dataclass
class _Bench:
    """What one resolving works with, and the faults and warnings that it finds."""

    folder: Folder
    asked: Asked
    quotes: InForce
    measure_mesh: MeasureMesh
    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)
    # Rows by the identity of what they were made from; the stated object is held so that it stays the only one.
    steps: dict[tuple[int, bool], tuple[Step, StepRow]] = field(default_factory=dict)
    castings: dict[int, tuple[Casting, CastingRow]] = field(default_factory=dict)

    def fault(self, file: str, path: tuple[str | int, ...], problem: str, mend: str) -> None:
        key = ".".join(str(part) for part in path)
        self.faults.append(Fault(self.folder.place(file, path), key, problem, mend))

    def warn(self, place: Place, key: str, problem: str, mend: str) -> None:
        self.warnings.append(Fault(place, key, problem, mend))


def resolve(folder: Folder, asked: Asked, measure_mesh: MeasureMesh) -> tuple[Resolved, tuple[Fault, ...]]:
    """The resolved workshop and its warnings.

    Raises Faults with everything that is missing (quotes, exchange rates, sound meshes) or cannot hold.
    """
    stated = folder.stated
    bench = _Bench(folder, asked, in_force(stated.quotes, asked.as_of), measure_mesh)
    products = inherited(stated.products)
    variants = tuple(variant for product in products.values() for variant in _variants(bench, product))
    metals, currencies = _metals(bench, products)
    if bench.faults:
        raise Faults(bench.faults)
    known = {row.name for row in metals}
    workshop = stated.workshop
    resolved = Resolved(
        currency=workshop.currency,
        as_of=asked.as_of,
        workshop=_workshop_row(bench),
        currencies=currencies,
        metals=metals,
        alloys=tuple(_alloy_row(name, alloy, known) for name, alloy in stated.alloys.items()),
        roles=tuple(RoleRow(name=name, wage=role.rate, on_cost=role.on_cost) for name, role in workshop.labour.items()),
        machines=tuple(
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
        materials=tuple(
            MaterialRow(
                name=name,
                pack_unit=material.unit,
                pack_price=material.pack_price,
                pack_size=material.pack_size,
                waste=material.waste,
            )
            for name, material in workshop.materials.items()
        ),
        flasks=tuple(
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
        channels=tuple(_channel_row(name, channel, workshop.currency) for name, channel in stated.channels.items()),
        variants=variants,
    )
    return resolved, tuple(bench.warnings)


def _workshop_row(bench: _Bench) -> WorkshopRow:
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


# ---- metals


def _metals(bench: _Bench, products: dict[str, Product]) -> tuple[tuple[MetalRow, ...], tuple[CurrencyRow, ...]]:
    """Rows of the metals and currencies that some variant needs; what is missing becomes a fault."""
    stated, home = bench.folder.stated, bench.folder.stated.workshop.currency
    for quote in stated.quotes:
        if problem := exchange_problem(quote, home):
            column, said, mend = problem
            bench.fault(PRICES_FILE, (quote.line, column), said, mend)
        if quote.date > date.today():
            place = bench.folder.place(PRICES_FILE, (quote.line, "date"))
            bench.warn(
                place,
                "date",
                f"{quote.date} has not come yet",
                "It counts from that day on; correct it if it is a slip.",
            )
    needed: dict[str, list[str]] = {}
    for product in products.values():
        for alloy_name in product.alloys:
            variant = f"{product.sku} in {alloy_name}"
            findings = [finding for finding in _findings_of(product, alloy_name) if finding.metal_g]
            for name in dict.fromkeys([alloy_name, *(finding.alloy for finding in findings)]):
                for metal in _metals_of(stated.alloys[name]):
                    needed.setdefault(metal, []).append(variant)
    exchanged: dict[str, list[str]] = {}
    for metal, variants in needed.items():
        quote = bench.quotes.metals.get(metal)
        if quote is None:
            later = next((quote for quote in stated.quotes if quote.metal == metal and quote.per != "unit"), None)
            hint = f" (the first is of {later.date})" if later else ""
            bench.faults.append(
                Fault(
                    Place(PRICES_FILE),
                    metal,
                    f"there is no quote on or before {bench.asked.as_of}{hint}; needed by {_shortened(variants)}",
                    f"Add a line: date,{metal},price,per,currency,source.",
                )
            )
            continue
        _warn_if_stale(bench, metal, quote)
        if quote.currency != home:
            exchanged.setdefault(quote.currency, []).append(metal)
    currencies = [CurrencyRow(name=home, exchange_rate=1.0)]
    for currency, metals in exchanged.items():
        quote = bench.quotes.exchange.get(currency)
        if quote is None:
            bench.faults.append(
                Fault(
                    Place(PRICES_FILE),
                    currency,
                    f"there is no exchange rate on or before {bench.asked.as_of}; {_shortened(metals)} is quoted in it",
                    f"Add a line: date,{currency},price,unit,{home},source.",
                )
            )
            continue
        _warn_if_stale(bench, currency, quote)
        currencies.append(CurrencyRow(name=currency, exchange_rate=quote.price))
    rows = tuple(
        MetalRow(
            name=metal,
            currency=quote.currency,
            quote_price=quote.price,
            grams_per_unit=GRAMS_PER[quote.per],
            quoted_per=quote.per,
            quoted_on=quote.date,
        )
        for metal in needed
        if (quote := bench.quotes.metals.get(metal))
    )
    return rows, tuple(currencies)


def _warn_if_stale(bench: _Bench, name: str, quote) -> None:
    said = age_warning(name, quote, bench.asked.as_of, bench.folder.stated.workshop.stale_after_days)
    if said:
        bench.warn(bench.folder.place(PRICES_FILE, (quote.line, "date")), "date", said, "Add today's price.")


def _shortened(names: list[str], most: int = 4) -> str:
    shown = ", ".join(names[:most])
    return shown if len(names) <= most else f"{shown} and {len(names) - most} more"


def _metals_of(alloy: Alloy) -> tuple[str, ...]:
    """Names of the quotes that an alloy is valued by."""
    if alloy.priced_by == "quote":
        return (alloy.quote,)
    return tuple(element for element in alloy.composition if element not in alloy.unpriced)


def _alloy_row(name: str, alloy: Alloy, known: set[str]) -> AlloyRow:
    if alloy.priced_by == "quote":
        metal = alloy.quote if alloy.quote in known else None
        contents = (ContentRow(metal=metal, mass_fraction=1.0, is_priced=True, pays_as_scrap=True),)
    else:
        priced = _metals_of(alloy)
        pays = priced if alloy.scrap_pays is None else alloy.scrap_pays
        contents = tuple(
            ContentRow(
                metal=element if element in priced and element in known else None,
                mass_fraction=float(fraction),
                is_priced=element in priced,
                pays_as_scrap=element in pays and element in priced,
            )
            for element, fraction in alloy.composition.items()
        )
    return AlloyRow(
        name=name,
        title=alloy.name,
        density=alloy.density,
        premium=alloy.premium,
        fabrication_per_g=alloy.fabrication_per_g,
        stock_premium=alloy.stock_premium,
        stock_fabrication_per_g=alloy.stock_fabrication_per_g,
        scrap_payout=alloy.scrap_payout,
        scrap_fee_per_g=alloy.scrap_fee_per_g,
        lemel_payout=alloy.lemel_payout,
        lemel_fee_per_g=alloy.lemel_fee_per_g,
        melt_loss=alloy.melt_loss,
        max_return_share=alloy.max_return_share,
        contents=contents,
    )


# ---- channels


def _channel_row(name: str, channel: Channel, currency: str) -> ChannelRow:
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


# ---- variants


def _findings_of(product: Product, alloy: str):
    return [finding for finding in product.findings or () if finding.alloys is None or alloy in finding.alloys]


def _variants(bench: _Bench, product: Product) -> Iterator[VariantRow]:
    process = bench.folder.stated.processes[product.process]
    castings = tuple(_casting_row(bench, product, casting) for casting in product.castings)
    if bench.faults:
        castings = tuple(casting for casting in castings if casting is not None)
    for alloy in product.alloys:
        figures = figures_of(product, alloy)
        steps = steps_of(process, product, alloy)
        metal_step = next(index for index, step in enumerate(steps) if step.takes_metal)
        yield VariantRow(
            sku=product.sku,
            alloy=alloy,
            flask=figures.flask,
            is_cut=steps[metal_step].takes_metal == "cut",
            sprue_ratio=figures.sprue_ratio,
            pieces_per_flask=figures.pieces_per_flask or 1.0,
            expected_sales=figures.expected_sales or 1.0,
            shrinkage=figures.shrinkage or 0.0,
            scale=product.scale,
            castings=castings,
            findings=tuple(
                FindingRow(
                    name=finding.name,
                    finding_alloy=finding.alloy,
                    finding_quantity=finding.quantity,
                    finding_price=finding.price,
                    finding_metal_g=finding.metal_g,
                    spoil=finding.spoil,
                )
                for finding in _findings_of(product, alloy)
            ),
            steps=tuple(_step_row(bench, step, index >= metal_step) for index, step in enumerate(steps)),
            prices=tuple(_price_rows(bench, figures, alloy)),
        )


def _casting_row(bench: _Bench, product: Product, casting: Casting) -> CastingRow | None:
    held = bench.castings.get(id(casting))
    if held is not None:
        return held[1]
    volume, area = casting.volume_cm3, casting.area_cm2
    if casting.mesh is not None:
        try:
            volume, mesh_area = bench.measure_mesh(bench.folder.root / casting.mesh)
            area = area if area is not None else mesh_area
        except Faults as found:
            bench.faults.extend(found.faults)
            return None
    row = CastingRow(
        name=casting.name,
        in_alloy=casting.in_alloy,
        casting_count=float(casting.count),
        volume_cm3=volume,
        model_g=casting.model_g,
        model_density=casting.model_density or 1.0,
        metal_g=casting.metal_g,
        weighed_finished=casting.weighed == "finished",
        area_cm2=area or 0.0,
    )
    bench.castings[id(casting)] = casting, row
    return row


def _step_row(bench: _Bench, step: Step, from_metal: bool) -> StepRow:
    held = bench.steps.get((id(step), from_metal))
    if held is not None:
        return held[1]
    row = StepRow(
        name=step.name,
        role=step.labour,
        machine=step.machine,
        is_piece=step.per == "piece",
        is_flask=step.per == "flask",
        is_design=step.per == "design",
        is_metal_step=step.takes_metal is not None,
        is_from_metal=from_metal,
        together=step.together,
        shared=step.shared,
        step_minutes=step.minutes,
        rework=step.rework,
        rework_minutes=step.rework_minutes,
        machine_minutes=step.machine_minutes,
        good=step.good,
        metal_loss=step.metal_loss,
        caught=step.caught,
        goes_to_refiner=step.rejects == "refiner",
        is_lost=step.rejects == "lost",
        step_fee=step.fee,
        from_g=step.from_g,
        uses=tuple(
            UseRow(
                material=use.material,
                use_quantity=0.0 if use.quantity in (None, "flask") else use.quantity,
                takes_flask_powder=use.quantity == "flask",
                per_cm3=use.per_cm3 or 0.0,
                per_cm2=use.per_cm2 or 0.0,
                per_g=use.per_g or 0.0,
            )
            for use in step.uses
        ),
    )
    bench.steps[id(step), from_metal] = step, row
    return row


def _price_rows(bench: _Bench, product: Product, alloy: str) -> Iterator[PriceRow]:
    channels = bench.folder.stated.channels
    policies: dict[str, Policy] = {}
    for name, channel in channels.items():
        own = product.in_channel.get(name)
        policies[name] = own.policy if own and own.policy is not None else channel.policy
    for name, channel in channels.items():
        policy, own = policies[name], product.in_channel.get(name)
        if policy.kind == "keystone_of" and policies[policy.keystone_of].kind == "keystone_of":
            bench.fault(
                bench.folder.product_file(product.sku),
                ("in_channel", name, "policy", "keystone_of"),
                f'in {alloy}, "{name}" follows "{policy.keystone_of}", which follows "{policies[policy.keystone_of].keystone_of}"',
                "Let one of them ask by its own policy: a chain is not followed.",
            )
        yield PriceRow(
            channel=name,
            followed=policy.keystone_of,
            policy_kind=policy.kind,
            sold=product.sold_in is None or name in product.sold_in,
            is_fixed=policy.kind == "fixed",
            fixed_price=policy.fixed or 0.0,
            asks_solving=policy.kind in ("margin", "markup", "earn"),
            asked_margin=policy.margin or 0.0,
            asked_markup=policy.markup or 0.0,
            asks_earnings=policy.kind == "earn",
            asked_earnings=policy.earn or 0.0,
            unit_multiple=policy.multiple or 0.0 if policy.kind == "multiple" else 0.0,
            metal_multiple=policy.metal_multiple or 0.0,
            work_multiple=policy.work_multiple or 0.0,
            follows=policy.kind == "keystone_of",
            follow_multiple=policy.multiple or 0.0 if policy.kind == "keystone_of" else 0.0,
            least_price=own.least_price if own and own.least_price is not None else channel.least_price,
        )
