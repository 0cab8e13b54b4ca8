"""What an import would change: a figure in a file of the folder, or a line of the price history."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from pricing.folder.toml.edits import Drop, Edit, Put
from pricing.folder.toml.places import KeyPath, written
from pricing.workbook.back.cells import ReadCell

#: Numbers from here on are not whole for certain.
LARGEST_WHOLE = 1e15


@dataclass(frozen=True)
class FolderChange:
    """`path` in `file` shall hold `new`; None takes it out. `old` is what held so far, wherever it stood.

    `cells` are those that asked for it, none where something only stays what it was; `why` says what a maker would
    not guess.
    """

    file: str
    path: KeyPath
    old: Any
    new: Any
    cells: tuple[ReadCell, ...]
    why: str = ""

    @property
    def edit(self) -> Edit:
        """How it is made in the file's text."""
        return Drop(self.path) if self.new is None else Put(self.path, as_written(self.new))

    def from_and_to(self) -> list[tuple[str, str, str]]:
        """Where, and from what to what: `steps."cut and grind".minutes`, `3`, `4.5`; of a list only what differs."""
        parts = [] if self.old is None or self.new is None else list(differences(self.old, self.new))
        if not parts:
            return [(written(self.path), value_in_listing(self.old), value_in_listing(self.new))]
        return [
            (written((*self.path, *path)), value_in_listing(old), value_in_listing(new)) for path, old, new in parts
        ]


def differences(old: Any, new: Any) -> Iterator[tuple[KeyPath, Any, Any]]:
    """Paths in two tables or in two lists of as many tables at which they differ, with both values."""
    if isinstance(old, dict) and isinstance(new, dict):
        for key in dict.fromkeys([*old, *new]):
            if old.get(key) != new.get(key):
                for path, before, after in differences(old.get(key), new.get(key)):
                    yield (key, *path), before, after
    elif is_tables(old) and is_tables(new) and len(old) == len(new):
        for index, (before, after) in enumerate(zip(old, new, strict=True)):
            if before != after:
                for path, was, now in differences(before, after):
                    yield (index, *path), was, now
    elif old != new:
        yield (), old, new


def is_tables(value: Any) -> bool:
    """Whether a value is a list of tables."""
    return isinstance(value, (list, tuple)) and all(isinstance(item, dict) for item in value)


def as_written(value: Any) -> Any:
    """A value with its numbers as a person types them: whole ones without a point, others with their own digits."""
    if isinstance(value, dict):
        return {key: as_written(item) for key, item in value.items()}
    if isinstance(value, (list, tuple)):
        return [as_written(item) for item in value]
    if isinstance(value, float):
        is_whole = value == int(value) and abs(value) < LARGEST_WHOLE
        return int(value) if is_whole else Decimal(f"{Decimal(repr(value)):f}")
    return value


def value_in_listing(value: Any) -> str:
    """A value in a listing."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f'"{value}"'
    if isinstance(value, dict):
        return ", ".join(f"{key} {value_in_listing(item)}" for key, item in value.items()) or "nothing"
    if isinstance(value, (list, tuple)):
        return (
            "; ".join(map(value_in_listing, value)) if is_tables(value) and value else f"[{', '.join(map(str, value))}]"
        )
    return str(as_written(value))


def once(cells: Sequence[ReadCell]) -> tuple[ReadCell, ...]:
    """Each cell once, in order."""
    return tuple(dict.fromkeys(cells))
