"""A plan in words that every face tells alike."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from pricing.errors import UsageFault
from pricing.pouring.figures import Flask, Plan
from pricing.pouring.packing import FIRST_FIT
from pricing.shown import percent

CAUTION = (
    "A charge is metal for the crucible, not leave to pour it. Moulds and tools bone dry, "
    "face, hands and feet covered, air moving, local codes and suppliers' sheets first."
)

#: What the columns of a plan say.
HEADS: Mapping[str, str] = MappingProxyType(
    {
        "make": "waxes or prints to begin with, or castings to order",
        "on trees": "those that are poured, as some spoil before",
        "mean": "so many would do on the average",
        "chance": "how likely it is that no fewer are good than are wanted",
    }
)


def heads() -> str:
    """What the columns say, in one sentence."""
    said = "; ".join(f"{head}: {meaning}" for head, meaning in HEADS.items())
    return f"{said[0].upper()}{said[1:]}."


def summary(plan: Plan) -> str:
    """How many pours and kiln loads, and whether fewer would do."""
    sure = plan.sure
    made = "on the mean" if sure is None else f"each with a chance of at least {percent(sure, _digits(sure))}"
    said = f"So many are good in the end, {made}: {counted(len(plan.flasks), 'pour')}"
    if plan.loads:
        said += f", {counted(len(plan.loads), 'kiln load')}"
    if len(plan.flasks) > plan.least_flasks:
        how = ", by first fit" if plan.by == FIRST_FIT else ""
        said += f" ({plan.least_flasks} at least are proved, a gap of {percent(plan.gap)}{how})"
    elif plan.flasks:
        said += "; fewer do not hold these castings"
    return f"{said}."


def _digits(share: float) -> int:
    return 0 if abs(share * 100 - round(share * 100)) < 1e-9 else 1


def counted(count: int, word: str) -> str:
    """`1 pour`, `8 pours`."""
    return f"{count} {word}{'' if count == 1 else 's'}"


def of_each(castings: int) -> str:
    """What is made is counted in castings: ` × 2` behind the sets, where a set has two of them."""
    return f" × {castings}" if castings > 1 else ""


def alike(flasks: Sequence[Flask]) -> list[tuple[str, Flask]]:
    """Flasks that follow each other and hold and weigh the same, as one line: `3–5`."""
    groups: list[list[Flask]] = []
    for flask in flasks:
        if groups and _same(groups[-1][-1]) == _same(flask):
            groups[-1].append(flask)
        else:
            groups.append([flask])
    return [(ranges([flask.number for flask in group]), group[0]) for group in groups]


def _same(flask: Flask) -> tuple[object, ...]:
    return flask.alloy, flask.flask, flask.load, flask.holds, flask.returned_g


def ranges(numbers: Sequence[int]) -> str:
    """`1–3, 7`."""
    found: list[list[int]] = []
    for number in numbers:
        if found and found[-1][-1] == number - 1:
            found[-1].append(number)
        else:
            found.append([number])
    return ", ".join(str(each[0]) if len(each) == 1 else f"{each[0]}–{each[-1]}" for each in found)


def holds(flask: Flask) -> str:
    """`12 thimble, 15 cloak-clasp`."""
    return ", ".join(f"{each.castings} {each.design.titled}" for each in flask.holds)


def all_poured(mixed: Sequence[str], made: Plan) -> None:
    """Raises UsageFault for an alloy that is to be mixed and that no flask of the plan takes."""
    poured = dict.fromkeys(flask.alloy for flask in made.flasks)
    for alloy in mixed:
        if alloy not in poured:
            raise UsageFault(f'--mix "{alloy}": none of it is poured here. Poured: {", ".join(poured) or "nothing"}.')
