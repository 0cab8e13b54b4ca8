"""Small plots of block characters: a line of them in a table, or a few rows with what stands at their edges."""

from __future__ import annotations

from collections.abc import Sequence

#: From a line at the foot of a place to a whole one.
LEVELS = "▁▂▃▄▅▆▇█"


def sparkline(values: Sequence[float | None]) -> str:
    """One character a value, its lowest at the foot and its highest at the top; blank where there is none."""
    known = [value for value in values if value is not None]
    if not known:
        return ""
    low, high = min(known), max(known)
    span = high - low
    middle = len(LEVELS) // 2 - 1
    return "".join(
        " " if value is None else LEVELS[middle if not span else round((value - low) / span * (len(LEVELS) - 1))]
        for value in values
    )


def columns(values: Sequence[float | None], rows: int) -> list[str]:
    """The same over several rows, from the top down; the lowest value still has a line."""
    known = [value for value in values if value is not None]
    if not known:
        return []
    low, span = min(known), max(known) - min(known)
    heights = [
        None if value is None else 1 + (round((value - low) / span * (8 * rows - 1)) if span else 4 * rows - 1)
        for value in values
    ]
    lines = []
    for row in range(rows - 1, -1, -1):
        filled = [0 if height is None else max(0, min(8, height - 8 * row)) for height in heights]
        lines.append("".join(LEVELS[eighths - 1] if eighths else " " for eighths in filled).rstrip())
    return lines
