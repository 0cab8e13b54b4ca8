"""One design in several alloys side by side, line by line, and how far each lies from the first."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pricing.formulas.engine import Computed
from pricing.page.rendering import minus
from pricing.records import COST_LINES, variant_record
from pricing.shown import NOTHING, Shown, percent
from pricing.studies.side_by_side import compared, cost_lines_of


@dataclass(frozen=True)
class ComparedFigure:
    """One figure: `more` is how far it lies from the first alloy's, "" in the first column and where it is the same.

    `quantity`, `alloy` and `channel` ask for its work; `marked` that it is the line's largest difference.
    """

    shown: str
    more: str
    marked: bool
    quantity: str
    alloy: str
    channel: str


@dataclass(frozen=True)
class CompareLine:
    """One line of the comparison; `kind` is "mass", "cost", "whole", "price" or "detail"."""

    word: str
    kind: str
    bar: str
    figures: tuple[ComparedFigure, ...]


@dataclass(frozen=True)
class Comparison:
    """The columns by alloy name, and the lines of each block by its head."""

    alloys: tuple[tuple[str, str], ...]
    blocks: tuple[tuple[str, tuple[CompareLine, ...]], ...]


Write = Callable[..., str]


def comparison(computed: Computed, titles: Mapping[str, str], shown: Shown) -> Comparison:
    """All variants of one product beside each other."""
    records = [variant_record(computed, row) for row in range(len(computed.resolved.variants))]
    alloys = tuple((record["alloy"], titles[record["alloy"]]) for record in records)
    blocks = tuple((head, tuple(lines)) for head, lines in _blocks(computed, records, shown))
    return Comparison(alloys, blocks)


def _blocks(computed: Computed, records: list[dict[str, Any]], shown: Shown) -> Iterator[tuple[str, list[CompareLine]]]:
    def money(value: float | None, signed: bool = False) -> str:
        return minus(shown.money(value, signed))

    def mass(value: float | None, signed: bool = False) -> str:
        return minus(shown.mass(value, unit=False, signed=signed))

    def minutes(value: float, signed: bool = False) -> str:
        return NOTHING if value is None else minus(f"{value * 60:{'+' if signed else ''}.1f}")

    def share(value: float | None, signed: bool = False) -> str:
        if signed and value is not None:
            return minus(f"{round(100 * value):+d} pts")
        return percent(value)

    def one(word: str, kind: str, name: str, write: Write, channel: str = "") -> CompareLine:
        line = compared(records, name, channel)
        figures = []
        for place, (value, gap, sold) in enumerate(zip(line.values, line.gaps, line.sold, strict=True)):
            same = gap is None or write(gap) in (write(0.0), NOTHING)
            figures.append(
                ComparedFigure(
                    write(value) if sold else "not sold",
                    "" if place == 0 or same else write(gap, signed=True),
                    place > 0 and not same and abs(gap) == line.largest,
                    name if sold and value is not None else "",
                    records[place]["alloy"],
                    channel,
                )
            )
        return CompareLine(word, kind, name if name in COST_LINES else "", tuple(figures))

    yield (
        "Metal",
        [
            one(f"finished, {shown.show.mass}", "mass", "finished_g", mass),
            one(f"as cast, {shown.show.mass}", "mass", "as_cast_g", mass),
            one(f"to melt for one, {shown.show.mass}", "mass", "charge_g", mass),
        ],
    )
    lines = [one(COST_LINES[name], "cost", name, money) for name in cost_lines_of(records)]
    yield (
        f"What one costs, {shown.currency}",
        [
            *lines,
            one("in all", "whole", "unit_cost", money),
            one("minutes of hands", "detail", "labour_hours", minutes),
        ],
    )
    for channel in computed.resolved.channels:
        if any(channel.name in record["prices"] for record in records):
            yield (
                channel.name,
                [
                    one("price", "price", "price", money, channel.name),
                    one("margin", "detail", "margin", share, channel.name),
                    one("an hour brings", "detail", "earned_per_hour", money, channel.name),
                    one("left over", "detail", "profit", money, channel.name),
                ],
            )
