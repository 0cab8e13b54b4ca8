"""Values of a file as they stand in fields, and whether two of them say the same."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any


def spelled(value: Any) -> str:
    """A value of a model as it stands in a field."""
    if value is None:
        return ""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, float):
        return f"{value:.15g}" if abs(value) < 1e15 else repr(value)
    return str(value)


def alike(one: Any, other: Any) -> bool:
    """Whether two values say the same in a file; 24 and 24.0 do, nothing and an empty list do."""
    if isinstance(one, bool) or isinstance(other, bool):
        return one is other
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return all(alike(one.get(key), other.get(key)) for key in {*one, *other})
    if isinstance(one, (list, tuple)) and isinstance(other, (list, tuple)):
        return len(one) == len(other) and all(map(alike, one, other))
    if isinstance(one, (Decimal, int, float)) and isinstance(other, (Decimal, int, float)):
        return float(one) == float(other)
    return one == other or (not one and not other and one != 0 and other != 0)
