"""How sure costs are as pictures: a strip for each cost, and what each doubt does to the prices (a tornado)."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from pricing.shown import Shown, percent
from pricing.studies.doubt.in_doubt import InDoubt, Sure
from pricing.studies.doubt.what_to_measure import LEAST_MOVE, Matters
from pricing.studies.pictures import (
    BLUE,
    GREY,
    INK,
    PAPER,
    VERMILLION,
    Called,
    Drawing,
    height_of,
    is_narrow,
    name_rows,
    thickness,
)

STRIP, TORNADO = "How sure each cost is", "What each doubt does to the prices"
#: So many costs and figures are drawn: the least sure, the weightiest.
MOST_STRIPS, MOST_BARS = 40, 15


def strip(found: InDoubt, told: str, shown: Shown, called: Called) -> Drawing:
    """The range of every unit cost, in per cent of what it is with the figures as they stand."""
    known = [row for row in found.rows if row.unit_cost > 0]
    drawn = sorted(known, key=_spread)[-MOST_STRIPS:]
    more = f", the {MOST_STRIPS} least sure of {len(known)}" if len(known) > MOST_STRIPS else ""
    description = "No cost is above 0"
    if drawn:
        most, least = drawn[-1], drawn[0]
        description = "; ".join(
            f"{word} sure is {' in '.join(called(row.sku, row.alloy))}, "
            f"{shown.money(row.cost.low)} to {shown.money(row.cost.high)} "
            f"{shown.currency} in eight of ten worlds, {shown.money(row.unit_cost)} as stated"
            for word, row in (("least", most), ("most", least))
        )
    draw = partial(_strips, drawn=drawn, shown=shown, called=called)
    return Drawing(STRIP, f"{told}{more}", description, draw, height_of(len(drawn)), len(drawn))


def _spread(row: Sure) -> float:
    return (row.cost.high - row.cost.low) / row.unit_cost


def _strips(axes: Any, drawn: Sequence[Sure], shown: Shown, called: Called) -> None:
    rows = range(len(drawn))
    low, middle, high = (
        [100 * (each / row.unit_cost - 1) for row in drawn for each in (row.cost[at],)] for at in range(3)
    )
    axes.axvline(0, color=GREY, linewidth=1.0, linestyle="--")
    axes.hlines(rows, low, high, color=BLUE, linewidth=5, alpha=0.45, label="eight of ten worlds (P10 to P90)")
    axes.scatter(middle, rows, s=26, color=VERMILLION, marker="D", label="the middle (P50)", zorder=3)
    ranges = [f"{shown.money(row.cost.low)} to {shown.money(row.cost.high)}" for row in drawn]
    for place, words in enumerate(ranges if not is_narrow(axes) else ()):
        axes.annotate(words, (1.01, place), xycoords=("axes fraction", "data"), fontsize=7.5, va="center", color=INK)
    name_rows(axes, [", ".join(called(row.sku, row.alloy)) for row in drawn], room=1.4, also=ranges)
    axes.set_xlabel("cost against that with the figures as they stand, per cent")


def tornado(matters: Sequence[Matters], told: str) -> Drawing:
    """The mean change of the asked prices with each figure at its low and at its high point."""
    moving = [each for each in matters if each.moves >= LEAST_MOVE]
    drawn = moving[:MOST_BARS][::-1]
    more = f", the weightiest {MOST_BARS} of {len(moving)}" if len(moving) > MOST_BARS else ""
    description = "No doubt moves a price"
    if moving:
        description = "; ".join(
            f"{each.words}: {percent(each.at_low, 1, signed=True)} at its low, {percent(each.at_high, 1, signed=True)} "
            "at its high point"
            for each in moving[:5]
        )
    return Drawing(
        TORNADO, f"{told}{more}", description, partial(_bars, drawn=drawn), height_of(len(drawn) + 2), len(drawn)
    )


def _bars(axes: Any, drawn: Sequence[Matters]) -> None:
    rows = range(len(drawn))
    axes.barh(
        rows, [100 * each.at_low for each in drawn], color=BLUE, height=thickness(axes), label="at its low (5 %) point"
    )
    axes.barh(
        rows, [100 * each.at_high for each in drawn], color=PAPER, height=thickness(axes), edgecolor=VERMILLION,
        linewidth=1.5, label="at its high (95 %) point",
    )  # fmt: skip
    axes.axvline(0, color=GREY, linewidth=1.0)
    name_rows(axes, [each.words for each in drawn], room=1.6)
    axes.set_xlabel("mean change of the prices that the policies ask, per cent")
