"""What if: levers over a costed design that move a price of metal, an hour, a fraction good or the length of a run."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pricing.costing import Costing, price_faults
from pricing.errors import Faults
from pricing.formulas.engine import Computed, compute
from pricing.model.rows import Resolved, VariantRow
from pricing.shown import metal_named, percent
from pricing.what_if import in_a_run

#: Lengths of a run by the places of its lever; the first means the steady state.
RUNS = (0, 1, 2, 3, 5, 8, 12, 20, 30, 50, 80, 120, 200, 400)
#: How far a price or an hour may be moved, in times what it is.
LOWEST, HIGHEST = 0.4, 2.5
LEAST_GOOD = 0.5
#: A lever that stands so near to where it began has not been moved.
UNMOVED = 1e-9


@dataclass(frozen=True)
class Lever:
    """One lever: `name` is its field, `start` where it stands in the folder, `value` where it stands now.

    `kind` is "amount", "fraction" or "run"; `digits` are shown after the point.
    """

    name: str
    word: str
    unit: str
    kind: str
    low: float
    high: float
    start: float
    value: float
    digits: int
    shown: str


def levers_of(resolved: Resolved, fields: Mapping[str, str]) -> list[Lever]:
    """The levers that matter to these variants, standing where the fields say."""
    home, found = resolved.currency, []
    for metal in resolved.metals:
        unit = f"{metal.currency}/{metal.quoted_per}"
        found.append(_amount(f"metal:{metal.name}", metal_named(metal.name), unit, metal.quote_price, fields))
    used = {step.role for variant in resolved.all_variants for step in variant.steps if step.role}
    used |= {channel.role for channel in resolved.channels if channel.role}
    for role in resolved.roles:
        if role.name in used:
            found.append(_amount(f"hour:{role.name}", f"hour, {role.name}", f"{home}/h", role.wage, fields))
    for name, good in _goods(resolved).items():
        value = _value(fields, f"good:{name}", good, LEAST_GOOD, 1.0)
        found.append(
            Lever(f"good:{name}", f"good, {name}", "", "fraction", LEAST_GOOD, 1.0, good, value, 1, percent(value, 1))
        )
    place = int(_value(fields, "run", 0, 0, len(RUNS) - 1))
    found.append(Lever("run", "length of the run", "", "run", 0, len(RUNS) - 1, 0, place, 0, run_word(place)))
    return found


def run_word(place: int) -> str:
    """`steady work`, `a run of 12`."""
    return f"a run of {RUNS[place]}" if RUNS[place] else "steady work"


def _amount(name: str, word: str, unit: str, start: float, fields: Mapping[str, str]) -> Lever:
    value = _value(fields, name, start, start * LOWEST, start * HIGHEST)
    return Lever(name, word, unit, "amount", start * LOWEST, start * HIGHEST, start, value, 2, f"{value:,.2f}")


def _goods(resolved: Resolved) -> dict[str, float]:
    """The lowest fraction good of each step that loses some, by its name."""
    found: dict[str, float] = {}
    for variant in resolved.all_variants:
        for step in variant.steps:
            if step.good < 1:
                found[step.name] = min(step.good, found.get(step.name, 1.0))
    return found


def _value(fields: Mapping[str, str], name: str, start: float, low: float, high: float) -> float:
    try:
        value = float(fields.get(name, ""))
    except ValueError:
        return start
    if not low <= value <= high or abs(value - start) <= UNMOVED * max(1.0, abs(start)):
        return start
    return value


def moved(levers: list[Lever]) -> list[Lever]:
    """The levers that do not stand where they began."""
    return [lever for lever in levers if lever.value != lever.start]


def with_levers(costing: Costing, levers: list[Lever]) -> Computed:
    """Every figure with the levers where they stand. Raises Faults where a price cannot be had so."""
    at = {lever.name: lever.value for lever in moved(levers)}
    if not at:
        return costing.computed
    resolved = costing.computed.resolved
    metals = tuple(
        row.model_copy(update={"quote_price": at.get(f"metal:{row.name}", row.quote_price)}) for row in resolved.metals
    )
    roles = tuple(row.model_copy(update={"wage": at.get(f"hour:{row.name}", row.wage)}) for row in resolved.roles)
    variants, hidden = resolved.variants, resolved.hidden
    losses = {
        lever.name.removeprefix("good:"): (1 - lever.value) / (1 - lever.start)
        for lever in moved(levers)
        if lever.kind == "fraction"
    }
    if losses:  # what one alloy spoils more than another at a step, it goes on spoiling more
        variants, hidden = (tuple(_with_good(each, losses) for each in rows) for rows in (variants, hidden))
    resolved = resolved.model_copy(update={"metals": metals, "roles": roles, "variants": variants, "hidden": hidden})
    if run := RUNS[int(at.get("run", 0))]:
        resolved = in_a_run(resolved, run, False)
    computed = compute(resolved)
    if faults := list(price_faults(costing.folder, computed)):
        raise Faults(faults)
    return computed


def _with_good(variant: VariantRow, losses: Mapping[str, float]) -> VariantRow:
    """The variant with what each step spoils so many times as much."""
    steps = tuple(
        step.model_copy(update={"good": max(LEAST_GOOD / 10, 1 - (1 - step.good) * losses[step.name])})
        if step.name in losses
        else step
        for step in variant.steps
    )
    return variant.model_copy(update={"steps": steps})
