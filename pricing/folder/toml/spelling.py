"""Values as a person would type them into a TOML file.

A number given as Decimal keeps its digits: Decimal("24.00") is written 24.00.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from decimal import Decimal
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def spelled(value: Any) -> str:
    """A value on one line: tables in braces, lists in brackets. Raises TypeError for what TOML has no words for."""
    if isinstance(value, Mapping):
        inner = ", ".join(f"{spelled_key(key)} = {spelled(item)}" for key, item in value.items())
        return f"{{ {inner} }}" if inner else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(spelled(item) for item in value)}]"
    if isinstance(value, Decimal):
        return str(value) if value.is_finite() else "nan" if value.is_nan() else f"{'-' * (value < 0)}inf"
    import tomlkit

    try:
        return str(tomlkit.item(value).as_string())
    except ValueError:
        raise TypeError(f"{value!r} has no place in a TOML file") from None


def spelled_key(name: str) -> str:
    """A key, in quotes where it needs them."""
    return name if _BARE.fullmatch(name) else spelled(str(name))


def plain(value: Any) -> Any:
    """The value as reading the file gives it back: Decimals as numbers, tuples as lists."""
    if isinstance(value, Mapping):
        return {key: plain(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    if isinstance(value, Decimal):
        return int(value) if re.fullmatch(r"-?\d+", str(value)) else float(value)
    return value
