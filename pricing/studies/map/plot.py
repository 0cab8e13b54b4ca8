"""A map as a picture: the margin of today's price in every cell, with the number printed, light where it is high."""

from __future__ import annotations

from functools import partial
from typing import Any

import numpy as np

from pricing.shown import Shown, percent
from pricing.studies.map.price_map import Map
from pricing.studies.pictures import Called, Drawing, is_narrow

#: Luminance (WCAG 2: of linear light) above which black is read more easily than white.
LIGHT = 0.179
#: What is printed in a cell: the cell keeps its colour on every ground, and so do these.
ON_DARK, ON_LIGHT = "#FEFEFE", "#010101"


def heat_map(found: Map, shown: Shown, called: Called) -> Drawing:
    """The picture; in each cell the margin that today's price earns, below it the price that the policy asks."""
    cells = [(margin, row, column) for row, line in enumerate(found.margins) for column, margin in enumerate(line)]
    known = [each for each in cells if each[0] is not None]
    description = "No price can be had in any cell"
    if known:
        low, high = min(known), max(known)
        description = f"Lowest {_at(found, low)}; highest {_at(found, high)}"
    return Drawing(
        f"Margin at {shown.price(found.channel, found.held)}, and the price asked",
        f"{' in '.join(called(found.sku, found.alloy))}, {shown.channel(found.channel)}",
        description,
        partial(_draw, found=found, shown=shown),
        1.7 + 0.52 * len(found.down.values),
    )


def _at(found: Map, cell: tuple[float | None, int, int]) -> str:
    margin, row, column = cell
    return (
        f"{percent(margin)} with {found.down.path} {found.down.values[row]:.4g} and {found.across.path} "
        f"{found.across.values[column]:.4g}"
    )


def _draw(axes: Any, found: Map, shown: Shown) -> None:
    margins = np.array([[np.nan if each is None else each for each in line] for line in found.margins], dtype=float)
    known = margins[np.isfinite(margins)]
    ends = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    cells = np.ma.masked_invalid(margins)
    edges = [np.arange(count + 1) - 0.5 for count in (margins.shape[1], margins.shape[0])]
    image = axes.pcolormesh(*edges, cells, cmap="cividis", vmin=ends[0], vmax=ends[1], edgecolor="face", linewidth=0.4)
    axes.invert_yaxis()
    axes.grid(False)
    narrow = is_narrow(axes)
    small = len(found.across.values) > (5 if narrow else 10)
    size = 6 if small and not narrow else 8
    for row, line in enumerate(found.margins):
        for column, margin in enumerate(line):
            price = found.prices[row][column]
            dark = margin is not None and _luminance(image.to_rgba([margin])[0][:3]) < LIGHT
            words = percent(margin) if small else f"{percent(margin)}\n{shown.price(found.channel, price)}"
            axes.text(
                column, row, words, ha="center", va="center", fontsize=size, linespacing=1.1,
                color=ON_DARK if dark else ON_LIGHT,
            )  # fmt: skip
    axes.set_xticks(range(len(found.across.values)), [f"{each:.4g}" for each in found.across.values], fontsize=8)
    axes.set_yticks(range(len(found.down.values)), [f"{each:.4g}" for each in found.down.values], fontsize=8)
    axes.set_xlabel(found.across.path)
    axes.set_ylabel(found.down.path)


def _luminance(colour: np.ndarray) -> float:
    """Of a colour in sRGB, from 0 to 1 (WCAG 2, relative luminance)."""
    linear = np.where(colour <= 0.04045, colour / 12.92, ((colour + 0.055) / 1.055) ** 2.4)
    return float(linear @ np.array([0.2126, 0.7152, 0.0722]))
