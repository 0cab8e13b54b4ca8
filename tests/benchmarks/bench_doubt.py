"""How fast, how steady and how large a doubt is: 30,000 draws of the sample, beside plain numpy of the same arithmetic.

    python tests/benchmarks/bench_doubt.py

The peer is what anybody would write in numpy for one variant: a loop over its steps, each figure a vector of draws. It
does unit costs of cast pieces without parts, sizes and plating, which is less than the engine does, and must agree with
it. Processor time; other programs of a shared machine are not counted.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[2]))

from pricing.costing import asked_for, cost  # noqa: E402
from pricing.formulas.worlds import Landing  # noqa: E402
from pricing.model.rows import Resolved, VariantRow  # noqa: E402
from pricing.resources import sample_catalog  # noqa: E402
from pricing.studies.doubt.figures import doubted  # noqa: E402
from pricing.studies.doubt.in_doubt import DRAWS, _Study, in_doubt  # noqa: E402
from pricing.studies.doubt.sobol import uniform  # noqa: E402
from pricing.studies.doubt.what_to_measure import what_matters  # noqa: E402
from pricing.studies.metal_history.weeks import metal_weeks  # noqa: E402
from pricing.studies.prices_out import prices_out  # noqa: E402
from tests.benchmarks.bench_engine import peak_mib  # noqa: E402
from tests.benchmarks.timing import processor_time_of  # noqa: E402

AS_OF = date(2026, 11, 24)
MANY = 30_000
SEEDS = 6
#: Takes a figure: its column, where it stands, and its value where it is not in doubt.
Take = Callable[[str, tuple[int, ...], float], "np.ndarray | float"]


def taking(landings: list[Landing], figures: np.ndarray) -> Take:
    """Figures by column and place: a vector of draws where it is in doubt, else the number itself."""
    where = {
        (each.column, tuple(int(axis[at]) for axis in each.places)): int(np.ravel(each.figures)[at])
        for each in landings
        for at in range(np.size(each.figures))
    }

    def take(column: str, place: tuple[int, ...], value: float) -> np.ndarray | float:
        found = where.get((column, place))
        return value if found is None else figures[:, found]

    return take


def is_plain(variant: VariantRow) -> bool:
    """Whether the peer can do it."""
    plated = any(use.plating_alloy for step in variant.steps for use in step.uses)
    weighed = any(casting.metal_g is not None for casting in variant.castings)
    cast = variant.castings and not (variant.is_cut or variant.is_bought)
    return bool(cast and not (variant.parts or variant.sizes or plated or weighed))


def plain_cost(resolved: Resolved, row: int, take: Take) -> np.ndarray | float:
    """The unit cost of one variant, as vectors of draws."""
    variant, workshop = resolved.variants[row], resolved.workshop
    named = {
        kind: {each.name: (at, each) for at, each in enumerate(getattr(resolved, kind))}
        for kind in ("alloys", "roles", "machines", "materials", "flasks", "metals", "currencies")
    }
    tax = 1 + workshop.unreclaimed_tax
    hour = workshop.overhead_per_month / take("productive_hours", (), workshop.productive_hours)

    def melt_value(name: str, paid: bool = False) -> np.ndarray | float:
        value: np.ndarray | float = 0.0
        for content in named["alloys"][name][1].contents:
            if content.metal and (content.pays_as_scrap if paid else content.is_priced):
                at, metal = named["metals"][content.metal]
                place, currency = named["currencies"][metal.currency]
                rate = take("exchange_rate", (place,), currency.exchange_rate)
                spot = take("quote_price", (at,), metal.quote_price) * rate / metal.grams_per_unit
                value = value + content.mass_fraction * spot
        return value

    at_alloy, alloy = named["alloys"][variant.alloy]
    count = sum(casting.casting_count for casting in variant.castings)
    effort = sum(casting.casting_count * casting.effort for casting in variant.castings) / count
    patterns = (
        sum(
            casting.casting_count
            * (casting.model_g / casting.model_density if casting.volume_cm3 is None else casting.volume_cm3)
            for casting in variant.castings
        )
        * variant.scale**3
    )
    surface = sum(casting.casting_count * casting.area_cm2 for casting in variant.castings) * variant.scale**2
    as_cast = patterns * (1 - variant.shrinkage) ** 3 * alloy.density
    finished = as_cast * math.prod(1 - step.metal_loss for step in variant.steps)
    goods = [take("good", (row, at), step.good) for at, step in enumerate(variant.steps)]
    starts: list[np.ndarray | float] = [1.0] * len(goods)
    running: np.ndarray | float = 1.0
    for at in reversed(range(len(goods))):
        running = running / goods[at]
        starts[at] = running
    sales = take("expected_sales", (row,), variant.expected_sales)
    total: np.ndarray | float = 0.0
    metal_at = next(at for at, step in enumerate(variant.steps) if step.is_metal_step)
    mass, removed, caught, rejected, refined = as_cast, 0.0, 0.0, 0.0, 0.0
    flasks: np.ndarray | float = 0.0
    for at, step in enumerate(variant.steps):
        if step.is_piece:
            units = count * starts[at]
        elif step.is_flask:
            units = count * starts[at] / variant.pieces_per_flask
        else:
            units = 1 / sales if step.is_design else starts[at]
        is_done = finished / (count if step.is_piece else 1) >= step.from_g - 1e-9
        times = units / step.together * is_done
        if step.role:
            role = named["roles"][step.role][1]
            minutes = take("step_minutes", (row, at), step.step_minutes)
            spent = (
                (times * minutes + units * step.rework * step.rework_minutes) / 60 * (effort if step.is_piece else 1)
            )
            total = total + spent * (role.wage * (1 + role.on_cost) + hour)
        if step.machine:
            machine = named["machines"][step.machine][1]
            wear = (machine.purchase - machine.residual) / machine.life_hours + machine.maintenance_per_hour
            rate = wear + machine.power_kw * machine.duty * workshop.price_per_kwh
            total = total + times * step.machine_minutes / 60 * rate
        for use in step.uses:
            if use.takes_flask_powder:
                flask = named["flasks"][variant.flask][1]
                slurry = math.pi / 4 * (flask.flask_diameter_mm / 10) ** 2 * flask.flask_height_mm / 10
                powder = flask.powder_g or slurry * flask.slurry_density / (1 + flask.water_per_100 / 100)
                bought = named["materials"][use.material or ""][1]
                total = total + units * powder * bought.pack_price / bought.pack_size * (1 + bought.waste) * tax
                continue
            bought = named["materials"][use.material or ""][1]
            each = bought.pack_price / bought.pack_size * (1 + bought.waste) * tax
            taken = times * use.use_quantity
            by_mass = use.per_cm3 * patterns + use.per_cm2 * surface + use.per_g * as_cast
            total = total + (taken + (times if step.is_design else starts[at]) * by_mass) * each
        total = total + times * step.step_fee * tax
        if at >= metal_at:
            begun = starts[at] * mass
            removed = removed + begun * step.metal_loss
            caught = caught + begun * step.metal_loss * step.caught
            spoiled = begun * (1 - goods[at]) * (1 - step.metal_loss)
            rejected = rejected + spoiled
            refined = refined + (spoiled if step.goes_to_refiner else 0.0)
            rejected = rejected - (spoiled if step.is_lost else 0.0)
            mass = mass * (1 - step.metal_loss)
        if at == metal_at and step.is_flask:
            flasks = units
    poured = starts[metal_at] * as_cast
    button = named["flasks"][variant.flask][1].button_cm3 if variant.flask else 0.0
    sprue = variant.sprue_ratio * poured + button * alloy.density * flasks
    charge = (poured + sprue) / (1 - take("melt_loss", (at_alloy,), alloy.melt_loss))
    most = workshop.workshop_max_return_share if alloy.max_return_share is None else alloy.max_return_share
    back = sprue + rejected - refined
    reused = np.minimum(back, most * charge)
    value, paid = melt_value(variant.alloy), melt_value(variant.alloy, paid=True)
    buy = (value * (1 + alloy.premium) + alloy.fabrication_per_g) * tax
    payout = take("scrap_payout", (at_alloy,), alloy.scrap_payout)
    scrap = np.maximum(0, paid * payout - alloy.scrap_fee_per_g)
    lemel = np.maximum(0, paid * alloy.lemel_payout - alloy.lemel_fee_per_g)
    total = total + (charge - reused) * buy - (back - reused + refined) * scrap - caught * lemel
    for finding in variant.findings:
        metal = 0.0
        if finding.finding_alloy:
            metal = finding.finding_metal_g * melt_value(finding.finding_alloy) * (1 + finding.finding_premium)
        total = total + finding.finding_quantity * (finding.finding_price + metal) * tax * (1 + finding.spoil)
    return total


def main() -> None:
    out = prices_out(cost(sample_catalog(), asked_for(AS_OF)))
    known = doubted(out.costing)
    rows = [row for row, variant in enumerate(known.resolved.variants) if is_plain(variant)]
    moves = metal_weeks(out.costing.folder.stated.quotes, known.resolved, 8)
    study = _Study(out, known, moves, uniform(32768, len(known.figures) + len(moves.blocks))[:MANY], lambda _: None, 1)
    every = list(range(len(known.resolved.variants)))
    all_worlds, whole = study.worlds(every)
    few_worlds, few = study.worlds(rows)
    figures = study.drawn(few, study.points)
    take = taking(list(few_worlds.landings), figures)
    engine = few_worlds.run(figures, ["unit_cost"])["unit_cost"]
    for place, row in enumerate(rows):
        peer = plain_cost(few.resolved, place, take)
        np.testing.assert_allclose(engine[:, place], peer, rtol=1e-9, err_msg=known.resolved.variants[row].sku)
    print(f"{len(rows)} of {len(every)} variants can be done by the peer, and agree in {MANY:,} draws")

    def in_plain_numpy() -> None:
        for place in range(len(rows)):
            plain_cost(few.resolved, place, take)

    drawn = study.drawn(whole, study.points)
    prices = ["unit_cost", "price"], ["margin", "profit"]
    timed: list[tuple[str, Callable[[], object]]] = [
        (f"unit costs of these {len(rows)}, plain numpy", in_plain_numpy),
        (f"unit costs of these {len(rows)}, worlds", lambda: few_worlds.run(figures, ["unit_cost"])),
        (f"unit costs of all {len(every)}, worlds", lambda: all_worlds.run(drawn, ["unit_cost"])),
        ("and margins at the prices in force", lambda: all_worlds.run(drawn, ["unit_cost"], ["margin", "profit"])),
        ("and what the policies ask", lambda: all_worlds.run(drawn, *prices)),
    ]
    print(f"{MANY:,} draws:")
    for name, work in timed:
        print(f"  {name:46}{processor_time_of(work, 1):8.2f} s")
    print(f"  the whole study, in memory {peak_mib(lambda: in_doubt(out, draws=MANY, shares=False)):19.0f} MiB")
    found = in_doubt(out)
    print(f"{DRAWS:,} draws (the default):")
    for name, work in (
        ("cost --sure: no shares", lambda: in_doubt(out, shares=False)),
        ("study doubt: with shares", lambda: in_doubt(out)),
        ("which figures matter", lambda: what_matters(found)),
    ):
        print(f"  {name:46}{processor_time_of(work, 1):8.2f} s")
    ends = []
    for seed in range(SEEDS):
        study.points = uniform(DRAWS, len(known.figures) + len(moves.blocks), seed)
        worlds = all_worlds.run(study.drawn(whole, study.points), ["unit_cost", "required_price"], ["margin"])
        ends.append(np.quantile(worlds["unit_cost"], [0.1, 0.9], axis=0, method="inverted_cdf"))
        asked = np.quantile(worlds["required_price"], [0.1, 0.9], axis=0, method="inverted_cdf")
        ends[-1] = np.concatenate([ends[-1].ravel(), asked[:, out.computed.sold_places].ravel()])
    apart = (np.max(ends, axis=0) - np.min(ends, axis=0)) / np.mean(ends, axis=0)
    cut = 2 * len(every)
    print(f"P10 and P90 from {SEEDS} seeds lie apart by at most: unit costs {100 * apart[:cut].max():.2f} %, "
          f"prices before rounding {100 * apart[cut:].max():.2f} %")  # fmt: skip


if __name__ == "__main__":
    main()
