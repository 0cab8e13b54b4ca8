"""Columns of a workshop of which another was read before: only the variants that were made anew are read.

Variants are told apart by identity: a row that is the very same object has the very same columns. What comes of it is
what `columns_of` gives, to the bit.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pricing.formulas.columns import Columns, columns_of
from pricing.formulas.graph import Graph
from pricing.formulas.tables import CHILDREN, INPUTS, OUTERMOST, TABLES, name_of, of_variants
from pricing.model.rows import Resolved, VariantRow

#: Where more of the variants than this are new, all are read: it takes less.
MOST_NEW = 0.5


@dataclass(frozen=True)
class Renewed:
    """The columns, and in which places other variants stand than before; None where they have moved, or all may."""

    columns: Columns
    places: np.ndarray | None


@dataclass(frozen=True)
class Known:
    """Columns and figures of the same variants where they stood, save those in some `places`; all else is as it was."""

    places: np.ndarray
    columns: Columns
    values: Mapping[str, np.ndarray]

    def held(self, name: str) -> np.ndarray:
        """A column as it was."""
        return self.columns.inputs[name] if name in self.columns.inputs else self.values[name]


def known_of(found: Renewed, graph: Graph, old: Columns, values: Mapping[str, np.ndarray]) -> Known | None:
    """What is known of the figures; None where more has changed than some variants, or not everything was kept."""
    new = found.columns
    if found.places is None or new.sizes != old.sizes or not values.keys() >= graph.quantities.keys():
        return None
    inputs = all(new.inputs[name] is old.inputs[name] for name in graph.inputs if not of_variants(graph.table_of(name)))
    keys = all(column is old.keys[key] for key, column in new.keys.items() if not of_variants(key[0]))
    return Known(found.places, old, values) if inputs and keys else None


def renewed(resolved: Resolved, known: Resolved, columns: Columns) -> Renewed:
    """The columns of a workshop, by those of one that shares variants with it."""
    rows, before = resolved.all_variants, known.all_variants
    stood = {id(row): place for place, row in enumerate(before)}
    came = np.array([stood.get(id(row), -1) for row in rows], dtype=np.intp)
    new = np.flatnonzero(came < 0)
    if (
        not (resolved.variants and known.variants)
        or not _same_names(resolved, known)
        or len(new) > MOST_NEW * len(rows)
    ):
        return Renewed(columns_of(resolved), None)
    fresh = columns_of(resolved.model_copy(update={"variants": tuple(rows[place] for place in new), "hidden": ()}))
    remain = set(came.tolist())
    gone = [row for place, row in enumerate(before) if place not in remain]
    sizes = {**fresh.sizes, "variant": len(rows), **_widest(rows, fresh.sizes, gone, columns.sizes)}
    still = len(rows) == len(before) and bool((came[came >= 0] == np.flatnonzero(came >= 0)).all())
    taken = None if still else np.append(np.where(came < 0, len(before), came), len(before))
    widths = {table: [sizes[axis] for axis in TABLES[table].axes[1:]] for table in TABLES}

    def put_together(table: str, own: np.ndarray, held: np.ndarray, idle: float) -> np.ndarray:
        """The column of all rows: those that stood before from `held`, the new ones from their `own`, padded alike."""
        if not of_variants(table):
            return held if held.dtype == own.dtype and _bits(held) == _bits(own) else own
        made = held if taken is None else held[taken]
        made = _fitted(made, widths[table], idle)
        here = _fitted(own[:-1], widths[table], idle)
        if made is held and _bits(held[new]) == _bits(here):
            return held  # the very same: whoever works on with it sees that nothing has changed
        made = made.copy() if made is held else made
        made[new] = here
        return made

    inputs = {
        name: put_together(INPUTS[name].table, own, columns.inputs[name], INPUTS[name].idle)
        for name, own in fresh.inputs.items()
    }
    keys = {key: put_together(key[0], own, columns.keys[key], -1) for key, own in fresh.keys.items()}
    names_stand = still and all(rows[place].called == before[place].called for place in new.tolist())
    for table, key in _to_variants():
        keys[table, key] = _led(rows, table, key, keys[table, key], new.tolist() if names_stand else None)
    return Renewed(Columns(inputs, keys, sizes), new if still else None)


def _same_names(resolved: Resolved, known: Resolved) -> bool:
    """Whether keys lead to the same places of every outermost table but the variants."""
    others = [attribute for table, attribute in OUTERMOST.items() if table != "variant"]
    return all(
        [name_of(row) for row in getattr(resolved, attribute)] == [name_of(row) for row in getattr(known, attribute)]
        for attribute in others
    )


def _widest(
    rows: Sequence[VariantRow], new: Mapping[str, int], gone: Sequence[VariantRow], before: Mapping[str, int]
) -> dict[str, int]:
    """The width of each table that is nested in variants; all rows are looked at only where the widest may be gone."""
    found = {table: max(new[table], before[table]) for table in _widths(())}
    left = _widths(gone)
    if any(new[table] < before[table] == left[table] for table in found):
        return _widths(rows)
    return found


def _widths(rows: Sequence[VariantRow]) -> dict[str, int]:
    """How many rows the longest list of each table has that is nested in variants."""
    lists: dict[str, Mapping[int, Sequence[object]]] = {"variant": {0: rows}}
    found = {}
    for table, (parent, attribute) in CHILDREN.items():
        if parent not in lists or table == "price":
            continue
        nested = [getattr(row, attribute) for above in lists[parent].values() for row in above]
        lists[table] = {id(each): each for each in nested}
        found[table] = max(map(len, lists[table].values()), default=0)
    return found


def _fitted(column: np.ndarray, widths: Sequence[int], idle: float) -> np.ndarray:
    """A column with inner axes of these widths; places that are not filled are idle."""
    if list(column.shape[1:]) == list(widths):
        return column
    made = np.full((len(column), *widths), idle, dtype=column.dtype)
    shared = tuple(slice(0, min(have, want)) for have, want in zip(column.shape[1:], widths, strict=True))
    made[(slice(None), *shared)] = column[(slice(None), *shared)]
    return made


def _bits(column: np.ndarray) -> tuple[tuple[int, ...], bytes]:
    return column.shape, column.tobytes()


def _to_variants() -> list[tuple[str, str]]:
    """The keys that lead to variants, whose places are those of the whole workshop."""
    return [(name, key) for name, table in TABLES.items() for key, target in table.keys.items() if target == "variant"]


def _led(
    rows: Sequence[VariantRow], table: str, key: str, column: np.ndarray, only: Sequence[int] | None
) -> np.ndarray:
    """A key to variants, looked up anew for the rows in the places `only`; None: for all."""
    attribute = CHILDREN[table][1]
    leading = [place for place in (range(len(rows)) if only is None else only) if getattr(rows[place], attribute)]
    if not leading:
        return column
    places = {row.called: place for place, row in enumerate(rows)}
    made = column.copy()
    for place in leading:
        for position, inner in enumerate(getattr(rows[place], attribute)):
            made[place, position] = places.get(getattr(inner, key), -1)
    return made
