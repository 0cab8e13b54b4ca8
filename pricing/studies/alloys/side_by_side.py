"""One design in several alloys side by side: each figure in every alloy, the first of which the others are held to."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pricing.records import COST_LINES


@dataclass(frozen=True)
class ComparedLine:
    """One quantity of the cost model in every alloy, None where it is undefined or not sold (`sold` says which)."""

    quantity: str
    channel: str
    values: tuple[float | None, ...]
    sold: tuple[bool, ...]


def compared(records: Sequence[dict[str, Any]], quantity: str, channel: str = "") -> ComparedLine:
    """A quantity of some variants, of which the first is what the others are compared with; a price's in a channel."""
    sold = tuple(not channel or channel in record["prices"] for record in records)
    values = tuple(
        record["prices"].get(channel, {}).get(quantity) if channel else record[quantity] for record in records
    )
    return ComparedLine(quantity, channel, values, sold)


def cost_lines_of(records: Sequence[dict[str, Any]]) -> list[str]:
    """The lines of cost that some of these variants have, in the order in which they are read."""
    return [name for name in COST_LINES if any(record[name] for record in records)]
