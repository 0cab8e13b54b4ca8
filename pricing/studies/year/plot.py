"""A seller's year as a picture: what each month paid by the rules, by the asked price, by one never changed."""

from __future__ import annotations

from functools import partial
from typing import Any

from pricing.shown import Shown
from pricing.studies.pictures import BLUE, GREY, VERMILLION, Drawing, is_narrow
from pricing.studies.year.seller_year import Year

TITLE = "What each month would have paid"
WAYS = (
    ("by the rules of the folder", BLUE, "o", "-"),
    ("at the asked price, every day", VERMILLION, "D", "--"),
    ("at the first price, never changed", GREY, "s", ":"),
)


def months_paid(found: Year, told: str, shown: Shown) -> Drawing:
    """The picture; a month that is not over is counted as far as it goes, and so left out of the lines."""
    paid = found.paid
    description = (
        f"From {found.first} to {found.last} the rules of the folder pay {shown.money(paid[0])} {shown.currency}, the "
        f"asked price every day {shown.money(paid[1])}, the first price never changed {shown.money(paid[2])}"
    )
    return Drawing(TITLE, told, description, partial(_draw, found=found, currency=shown.currency))


def _draw(axes: Any, found: Year, currency: str) -> None:
    days = found.days
    for way, (label, colour, marker, line) in enumerate(WAYS):
        a_day = [month[way] / count for month, count in zip(found.by_month, days, strict=True)]
        axes.plot(
            found.months, a_day, color=colour, marker=marker, markersize=5, linestyle=line, linewidth=1.4, label=label,
            zorder=4 - way,
        )  # fmt: skip
    under = [sum(month in each.below for each in found.prices) for month in range(len(found.months))]
    low, high = axes.get_ylim()
    axes.set_ylim(low - 0.12 * (high - low), high)
    for month, count in enumerate(under):
        if count:
            axes.annotate(f"{count}", (month, low - 0.09 * (high - low)), fontsize=8, ha="center", color=VERMILLION)
    if any(under):
        axes.annotate(
            "prices under their least margin, by month", (0, low - 0.03 * (high - low)), fontsize=8, color=VERMILLION
        )
    every = max(1, -(-len(found.months) // (6 if is_narrow(axes) else 12)))
    axes.set_xticks(range(0, len(found.months), every), found.months[::every], fontsize=8, rotation=30, ha="right")
    axes.set_ylabel(f"paid a day, {currency}")
