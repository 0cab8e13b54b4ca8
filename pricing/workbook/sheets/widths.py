"""How wide a column must be, so that no figure turns into ### and no name is cut, in whatever typeface is there.

Arial is not on every system; what stands in for it may be a fifth wider, so widths are those of a wide typeface. A
width of 1 is a digit of the sheet's own typeface, some 7 pixels on a screen.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from textwrap import wrap

import numpy as np
import numpy.typing as npt

#: Pixels of a sign on a screen for each point of its size, and of a width of 1.
PIXELS_A_POINT = 96 / 72
PIXELS_A_WIDTH = 7
#: What a wide typeface takes for a sign, in sizes of the type: a digit, a sign of a text, and how much more when bold.
DIGIT, SIGN, BOLD = 0.64, 0.6, 1.1
#: A figure may become so many times as large by an edit before its column is too narrow.
ROOM_TO_GROW = 10
#: Digits behind the point of a figure without a format of its own, at most.
OWN_DIGITS = 4
#: Size of the type of heads in words, and of code names.
HEAD_SIZE, CODE_SIZE = 9, 7
#: Left and right of what a cell holds.
PADDING = 1.0
#: Height of a line, for each point of its size.
LINE_POINTS = 1.3


def signs_width(signs: int, size: float = 10, bold: bool = False, each: float = SIGN) -> float:
    """The width of so many signs."""
    return signs * each * (BOLD if bold else 1) * size * PIXELS_A_POINT / PIXELS_A_WIDTH


def text_width(text: str, size: float = 10, bold: bool = False) -> float:
    """The width of a column that holds a text in one line."""
    return signs_width(len(text), size, bold) + PADDING


def figures_width(figures: npt.ArrayLike, numbers: str, size: float = 10, bold: bool = False) -> float:
    """The width of a column of figures of a number format, with room to grow."""
    finite = np.asarray(figures, dtype=float)
    finite = finite[np.isfinite(finite)]
    if not len(finite):
        return 0
    largest, is_signed = float(np.abs(finite).max()) * ROOM_TO_GROW, finite.min() < 0
    behind = re.search(r"\.([0?]+)", numbers)
    digits = len(behind[1]) if behind else _own_digits(np.unique(finite).tolist()) if numbers == "General" else 0
    text = f"{'-' if is_signed else ''}{largest:{',' if ',' in numbers else ''}.{digits}f}"
    return signs_width(len(text), size, bold, DIGIT) + PADDING


def _own_digits(figures: Iterable[float]) -> int:
    """Most digits behind the point that figures have by themselves."""
    return min(max(len(f"{figure:.10g}".partition(".")[2]) for figure in figures), OWN_DIGITS)


def lines_of(text: str, width: float, size: float = 10, bold: bool = False) -> int:
    """How many lines a text takes in a column of this width."""
    signs = max(int((width - PADDING) / signs_width(1, size, bold)), 1)
    return max(len(wrap(text, signs)), 1)


def height_of(lines: int, size: float = 10, room: float = 4) -> float:
    """The height of a row of so many lines, in points."""
    return lines * size * LINE_POINTS + room
