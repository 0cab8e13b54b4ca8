"""The frontier of repricing policies as a picture: changes a year against margin given away."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from pricing.studies.band.back_test import Fared, frontier
from pricing.studies.pictures import BLUE, GREY, INK, PAPER, VERMILLION, Drawing, is_narrow

TITLE = "Repricing policies: price changes against margin given away"


def frontier_drawing(results: Sequence[Fared], best: Fared, told: str) -> Drawing:
    """The picture; `told` says what history and prices it is about."""
    return Drawing(TITLE, told, description(best), partial(_draw, results=results, best=best))


def description(best: Fared) -> str:
    """The picture's message in a sentence."""
    return (
        f"Recommended: look every {best.interval} days and hold within {100 * best.keep_within:g} points of margin; "
        f"{best.changes_per_year:.2f} changes a year of each price, {100 * best.shortfall:.2f} points given away"
    )


def _draw(axes: Any, results: Sequence[Fared], best: Fared) -> None:
    edge, policy = frontier(results), f"every {best.interval} days, within {100 * best.keep_within:g} points"
    across, up = [[each.changes_per_year for each in results], [100 * each.shortfall for each in results]]
    axes.scatter(across, up, s=14, color=GREY, marker=".", label="every policy", zorder=2)
    axes.plot(
        [each.changes_per_year for each in edge],
        [100 * each.shortfall for each in edge],
        color=BLUE,
        marker="o",
        markersize=4,
        linewidth=1.4,
        label="none is better in both",
        zorder=3,
    )
    axes.plot(
        best.changes_per_year, 100 * best.shortfall, color=VERMILLION, marker="D", markersize=9, linestyle="none",
        label=f"recommended: {policy}" if is_narrow(axes) else "recommended", zorder=4,
    )  # fmt: skip
    if not is_narrow(axes):
        axes.annotate(
            policy,
            (best.changes_per_year, 100 * best.shortfall),
            xytext=(12, 12),
            textcoords="offset points",
            fontsize=9,
            color=INK,
            bbox={"facecolor": PAPER, "edgecolor": "none", "alpha": 0.85, "pad": 1.5},
            zorder=5,
        )
    axes.set_xscale("symlog", linthresh=max(1e-3, min((x for x in across if x > 0), default=1.0)))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    axes.set_xlabel("changes a year of each price (logarithmic)")
    axes.set_ylabel("margin below the one asked, mean, points")
