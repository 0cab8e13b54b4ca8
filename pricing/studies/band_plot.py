"""The frontier of repricing policies as a picture: changes a year against margin given away."""

from __future__ import annotations

import re
from collections.abc import Sequence
from io import BytesIO
from typing import Any

from pricing.errors import TroytagError
from pricing.studies.band import Fared, frontier

#: Colours that keep 3:1 on white for most eyes (after Okabe and Ito); marks differ in shape, too.
BLUE, VERMILLION, GREY = "#0072B2", "#D55E00", "#767676"
TITLE = "Repricing policies: price changes against margin given away"


def frontier_pictures(results: Sequence[Fared], best: Fared, told: str) -> dict[str, bytes]:
    """The picture as `svg` and `png`; `told` says what history and prices it is about.

    Raises TroytagError where matplotlib is not installed.
    """
    try:
        from matplotlib.figure import Figure
    except ImportError:
        raise TroytagError(
            'A plot needs matplotlib, which is not installed. Install it with: pip install "troytag[studies]"'
        ) from None
    figure = Figure(figsize=(7.6, 4.8), layout="constrained")
    axes = figure.subplots()
    _draw(axes, results, best)
    figure.suptitle(TITLE, fontsize=12, fontweight="bold", x=0.01, ha="left")
    axes.set_title(told, fontsize=9, loc="left", color="#444444")
    written = {}
    for form in ("svg", "png"):
        target = BytesIO()
        figure.savefig(target, format=form, dpi=144, metadata={"Date": None} if form == "svg" else None)
        written[form] = target.getvalue()
    written["svg"] = _described(written["svg"], f"{told}. {description(best)}")
    return written


def description(best: Fared) -> str:
    """The picture's message in a sentence."""
    return (
        f"Recommended: look every {best.interval} days and hold within {100 * best.keep_within:g} points of margin; "
        f"{best.changes_per_year:.2f} changes a year of each price, {100 * best.shortfall:.2f} points given away"
    )


def _draw(axes: Any, results: Sequence[Fared], best: Fared) -> None:
    edge = frontier(results)
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
        label="recommended", zorder=4,
    )  # fmt: skip
    axes.annotate(
        f"every {best.interval} days, within {100 * best.keep_within:g} points",
        (best.changes_per_year, 100 * best.shortfall),
        xytext=(12, 12),
        textcoords="offset points",
        fontsize=9,
        color="#222222",
        bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.85, "pad": 1.5},
        zorder=5,
    )
    axes.set_xscale("symlog", linthresh=max(1e-3, min((x for x in across if x > 0), default=1.0)))
    axes.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    axes.set_xlim(left=0)
    axes.set_ylim(bottom=0)
    axes.set_xlabel("changes a year of each price (logarithmic)")
    axes.set_ylabel("margin below the one asked, mean, points")
    axes.grid(True, color="#DDDDDD", linewidth=0.6, zorder=0)
    axes.legend(frameon=False, fontsize=9)
    axes.spines[["top", "right"]].set_visible(False)


def _described(svg: bytes, words: str) -> bytes:
    """The drawing with a role, a title and a description for who cannot see it."""
    from xml.sax.saxutils import escape

    told = f'<title id="title">{escape(TITLE)}</title><desc id="desc">{escape(words)}</desc>'
    text = svg.decode("utf-8")
    text = re.sub(r"<svg ", '<svg role="img" aria-labelledby="title desc" ', text, count=1)
    return re.sub(r"(<svg [^>]*>)", lambda match: match[1] + told, text, count=1).encode("utf-8")
