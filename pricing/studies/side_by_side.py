"""One design in several alloys side by side: each figure in every alloy, and how far it lies from the first one's."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pricing.records import COST_LINES


@dataclass(frozen=True)
class ComparedLine:
    """One quantity of the cost model in every alloy, None where it is undefined or not sold (`sold` says which).

    `gaps` are how far each lies from the first, None where there is nothing to compare; `largest` is the greatest of
    them, without its sign.
    """

    quantity: str
    channel: str
    values: tuple[float | None, ...]
    gaps: tuple[float | None, ...]
    sold: tuple[bool, ...]

    @property
    def largest(self) -> float:
        return max((abs(gap) for gap in self.gaps if gap is not None), default=0.0)


def compared(records: Sequence[dict[str, Any]], quantity: str, channel: str = "") -> ComparedLine:
    """A quantity of some variants, of which the first is what the others are compared with; a price's in a channel."""
    sold = tuple(not channel or channel in record["prices"] for record in records)
    values = tuple(
        record["prices"].get(channel, {}).get(quantity) if channel else record[quantity] for record in records
    )
    first = values[0] if values else None
    gaps = tuple(None if value is None or first is None else value - first for value in values)
    return ComparedLine(quantity, channel, values, gaps, sold)


def cost_lines_of(records: Sequence[dict[str, Any]]) -> list[str]:
    """The lines of cost that some of these variants have, in the order in which they are read."""
    return [name for name in COST_LINES if any(record[name] for record in records)]
