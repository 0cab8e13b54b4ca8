"""The staircase as a picture: what one costs in a lot of every size, with the best sizes."""

from __future__ import annotations

from functools import partial
from typing import Any

from pricing.studies.pictures import BLUE, INK, VERMILLION, Called, Drawing
from pricing.studies.quantity.lots import Lots

TITLE = "Cost of one by the size of the lot"


def staircase(found: Lots, currency: str, called: Called) -> Drawing:
    """The picture."""
    told = f"{' in '.join(called(found.sku, found.alloy))}, lots of 1 to {len(found.lots)}, whole flasks and loads"
    return Drawing(TITLE, told, description(found, currency), partial(_draw, found=found, currency=currency))


def description(found: Lots, currency: str) -> str:
    """The picture's message in a sentence."""
    first, last = found.lots[0], found.lots[-1]
    best = ", ".join(f"{lot.quantity} ({lot.unit_cost:.2f})" for lot in found.best)
    ends = f"One alone costs {first.unit_cost:.2f} {currency}, one of {last.quantity} {last.unit_cost:.2f}"
    return f"{ends}; best sizes and what one costs in them: {best}" if best else ends


def _draw(axes: Any, found: Lots, currency: str) -> None:
    axes.plot(
        [lot.quantity for lot in found.lots],
        [lot.unit_cost for lot in found.lots],
        color=BLUE,
        marker=".",
        markersize=4,
        linewidth=1.2,
        label="one costs",
        zorder=3,
    )
    axes.plot(
        [lot.quantity for lot in found.best],
        [lot.unit_cost for lot in found.best],
        color=VERMILLION,
        marker="D",
        markersize=7,
        linestyle="none",
        label="best sizes",
        zorder=4,
    )
    for lot in found.best:
        axes.annotate(
            f"{lot.quantity}", (lot.quantity, lot.unit_cost), xytext=(0, -16), textcoords="offset points",
            fontsize=9, ha="center", color=INK, zorder=5,
        )  # fmt: skip
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    axes.set_xlabel("sets in the lot")
    axes.set_ylabel(f"cost of one, {currency}")
