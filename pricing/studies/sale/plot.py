"""What a sale leaves as a picture: the margin of each price before and in it, the least that is left at the foot."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from pricing.shown import percent
from pricing.studies.pictures import BLUE, GREY, VERMILLION, Called, Drawing, height_of, name_rows
from pricing.studies.sale.on_sale import OnSale

TITLE = "Margin before a sale and in it"
#: So many prices are drawn: those of which least is left.
MOST_DRAWN = 40


def what_is_left(found: Sequence[OnSale], told: str, called: Called) -> Drawing:
    """The picture of what is left of every price, or of those of which least is left."""
    known = [each for each in found if each.before.margin is not None and each.then.margin is not None]
    drawn = sorted(known, key=_then)[:MOST_DRAWN]
    more = f", the {MOST_DRAWN} of {len(known)} prices with least left" if len(known) > MOST_DRAWN else ""
    worst, best = (drawn[0], max(known, key=_then)) if drawn else (None, None)
    description = "Nothing is sold for money"
    if worst and best:
        least, most = (
            f"{_named(each, called)}: {percent(each.then.margin)} of {percent(each.before.margin)}"
            for each in (worst, best)
        )
        description = f"Least is left of {least}; most of {most}"
    draw = partial(_draw, drawn=drawn, called=called)
    return Drawing(TITLE, f"{told}{more}", description, draw, height_of(len(drawn)), len(drawn))


def _then(each: OnSale) -> float:
    return each.then.margin or 0.0


def _named(each: OnSale, called: Called) -> str:
    return ", ".join((*called(each.sku, each.alloy), each.channel))


def _draw(axes: Any, drawn: Sequence[OnSale], called: Called) -> None:
    rows = range(len(drawn))
    before = [100 * (each.before.margin or 0.0) for each in drawn]
    then = [100 * (each.then.margin or 0.0) for each in drawn]
    axes.hlines(rows, then, before, color=GREY, linewidth=1.2, zorder=2)
    axes.scatter(before, rows, s=26, color=BLUE, marker="o", label="before", zorder=3)
    axes.scatter(then, rows, s=30, color=VERMILLION, marker="D", label="on sale", zorder=3)
    axes.axvline(0, color=GREY, linewidth=1.0, linestyle="--")
    name_rows(axes, [_named(each, called) for each in drawn])
    axes.set_xlabel("margin, per cent of net sales")
