"""What an import would change: a figure in a file of the folder, or a line of the price history."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pricing.folder.edits import Drop, Edit, Put
from pricing.folder.places import Path
from pricing.folder.telling import written
from pricing.publish.incoming.cells import Cell

Number = float | int


@dataclass(frozen=True)
class Change:
    """`path` in `file` shall hold `new`; None takes it out. `old` is what held so far, wherever it stood.

    `cells` are those that asked for it; `why` says what a maker would not guess.
    """

    file: str
    path: Path
    old: Any
    new: Any
    cells: tuple[Cell, ...]
    why: str = ""

    @property
    def edit(self) -> Edit:
        """How it is made in the file's text."""
        return Drop(self.path) if self.new is None else Put(self.path, as_written(self.new))

    @property
    def told(self) -> tuple[str, str]:
        """Where, and from what to what: `steps."cut and grind".minutes` and `3 -> 4.5`."""
        return written(self.path), f"{said(self.old)} -> {said(self.new)}"


def as_written(value: Any) -> Any:
    """A value with its numbers as a person types them: whole ones without a point, others with their own digits."""
    if isinstance(value, dict):
        return {key: as_written(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [as_written(item) for item in value]
    if isinstance(value, float):
        return int(value) if value == int(value) and abs(value) < 1e15 else Decimal(_without_exponent(value))
    return value


def _without_exponent(value: float) -> str:
    return f"{Decimal(repr(value)):f}"


def said(value: Any) -> str:
    """A value in a listing."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return ", ".join(f"{key} {said(item)}" for key, item in value.items()) or "nothing"
    if isinstance(value, (list, tuple)):
        if value and all(isinstance(item, dict) for item in value):
            return "; ".join(said(item) for item in value)
        return "[" + ", ".join(str(item) for item in value) + "]"
    if isinstance(value, float):
        return str(as_written(value))
    return str(value)


def once(cells: Sequence[Cell]) -> tuple[Cell, ...]:
    """Each cell once, in order."""
    return tuple(dict.fromkeys(cells))
