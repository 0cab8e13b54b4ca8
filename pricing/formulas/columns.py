"""Resolved rows to columns: one numpy array for each input, shaped by the axes of its table.

Nested tables are padded to a box (every variant has as many step places as the longest process); places
that are not filled, and the row that an open key leads to, hold each input's idle value. Rows that are
one and the same object, as the steps of a process that many products share, are read once.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from operator import attrgetter
from typing import Any

import numpy as np

from pricing.formulas.tables import CHILDREN, INPUTS, OUTERMOST, TABLES, Input, name_of
from pricing.formulas.unlike import unlike
from pricing.model.given import all_of
from pricing.model.rows import Resolved, Row


@dataclass(frozen=True)
class Groups:
    """Variants one behind the other in groups that have something in common: group `g` from `cuts[g]` to `cuts[g + 1]`.

    What is named in `inputs` and `keys` has a row for each group in place of one for each variant. Only compiled
    formulas know of groups.
    """

    cuts: np.ndarray
    inputs: frozenset[str]
    keys: frozenset[tuple[str, str]]

    @property
    def of_variants(self) -> np.ndarray:
        """The group of each variant."""
        return np.repeat(np.arange(len(self.cuts) - 1), np.diff(self.cuts))


@dataclass(frozen=True)
class Columns:
    """Inputs by name and keys by (table, key), both shaped by the axes of their table.

    Outermost tables that keys lead to have one idle row more, at the end, and an open key is -1; `sizes`
    says how many real rows each axis has (for a nested axis: the widest). `among` is how many variants there are in
    all where these are a part of them: how a figure is computed goes by that. At most so many `threads` compute it, 0
    for as many as there are processors; no figure goes by that.
    """

    inputs: dict[str, np.ndarray]
    keys: dict[tuple[str, str], np.ndarray]
    sizes: dict[str, int]
    among: int = 0
    threads: int = 0
    groups: Groups | None = None


#: Tables that open keys lead to.
KEYED = frozenset(target for table in TABLES.values() for target in table.keys.values()) - {"price"}


def columns_of(resolved: Resolved) -> Columns:
    """The columns of a resolved workshop."""
    outermost = {table: list(getattr(resolved, attribute)) for table, attribute in OUTERMOST.items()}
    sizes = {table: len(rows) for table, rows in outermost.items()}
    places = {table: {name_of(row): index for index, row in enumerate(rows)} for table, rows in outermost.items()}
    inputs: dict[str, np.ndarray] = {}
    keys: dict[tuple[str, str], np.ndarray] = {}

    def read(table: str, rows: Sequence[Row], shape: np.ndarray | None) -> None:
        """Columns and keys of `rows` and one idle row, spread over `shape` (places of rows, -1 for idle)."""
        known_inputs, known_keys = _inputs_of(table), TABLES[table].keys
        held = _held([*(known.stated or known.name for known in known_inputs), *known_keys], rows)
        for known, values in zip(known_inputs, held, strict=False):
            column = _column(known, values)
            inputs[known.name] = np.asarray(column if shape is None else column.take(shape))
        for (key, target), names in zip(known_keys.items(), held[len(known_inputs) :], strict=True):
            place_of = places["channel" if target == "price" else target].get
            column = np.array([*(place_of(name, -1) for name in names), -1], dtype=np.intp)
            keys[table, key] = column if shape is None else column.take(shape)

    read("workshop", [resolved.workshop], np.array(0))
    for table, rows in outermost.items():
        ends = len(rows) + (table in KEYED)
        read(table, rows, np.arange(ends))
    spread: dict[str, tuple[list[Row], np.ndarray]] = {
        table: (rows, np.arange(len(rows) + (table in KEYED))) for table, rows in outermost.items()
    }
    for table, (parent, attribute) in CHILDREN.items():
        parents, shape = spread[parent]
        least = sizes["channel"] if table == "price" else 0  # where there is no variant, too
        rows, inner = _unique(list(map(attrgetter(attribute), parents)), least)
        inner = np.vstack([inner, np.full((1, inner.shape[1]), -1, dtype=np.intp)])  # the idle parent has none
        spread[table] = rows, inner.take(shape, axis=0)
        if table != "price":
            sizes[table] = inner.shape[1]
        read(table, rows, spread[table][1])
    return Columns(inputs, keys, sizes)


def _inputs_of(table: str) -> list[Input]:
    return [known for known in INPUTS.values() if known.table == table]


def _held(names: Sequence[str], rows: Sequence[Row]) -> list[tuple[Any, ...]]:
    """What all rows hold under each of some names."""
    if not rows or not names:
        return [()] * len(names)
    return list(zip(*map(all_of(tuple(names)), rows), strict=True))


def _column(known: Input, held: Sequence[Any]) -> np.ndarray:
    """One input as some rows hold it, and its idle value at the end."""
    kind = bool if known.is_switch else float
    if known.stated:
        held = [value is not None for value in held]
    elif known.optional and None in held:
        held = [known.idle if value is None else value for value in held]
    return np.array([*held, known.idle], dtype=kind)


def _unique(nested: Sequence[Sequence[Row]], least: int = 0) -> tuple[list[Row], np.ndarray]:
    """The rows of some lists, each object once, and a box of their places, -1 where a list is shorter.

    The box is as wide as the longest list, and at least so wide.
    """
    found = unlike(nested)
    lengths = np.array(list(map(len, found.lists)), dtype=np.intp)
    box = np.full((len(found.lists), max(least, int(lengths.max(initial=0)))), -1, dtype=np.intp)
    box[np.arange(box.shape[1]) < lengths[:, None]] = found.places
    return found.rows, box.take(found.of_each, axis=0) if nested else box
