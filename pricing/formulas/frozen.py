"""The resolved workshop as plain tables and back: one list of columns and rows for each table.

A row that holds rows of another table (a variant its steps) names them by their places there.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cache
from operator import attrgetter
from types import MappingProxyType, UnionType
from typing import Any, Literal, Union, get_args, get_origin

from pydantic import ValidationError

from pricing.formulas.tables import CHILDREN, OUTERMOST, ROW_OF
from pricing.model.given import of_checked
from pricing.model.rows import Resolved, Row

#: Attributes that hold rows of another table, by the attribute's name.
NESTED = MappingProxyType({attribute: table for table, (_, attribute) in CHILDREN.items()})
#: Attributes of the resolved workshop that hold rows, and their tables.
HEADS = MappingProxyType(
    {attribute: table for table, attribute in OUTERMOST.items() if table != "variant"}
    | {"variants": "variant", "hidden": "variant"}
)


class OtherForm(ValueError):
    """Tables that are not those of today's rows."""


def frozen_rows(resolved: Resolved) -> dict[str, Any]:
    """A resolved workshop as plain tables; rows that say the same stand once."""
    keeper = _Keeper()
    heads = {attribute: keeper.places(getattr(resolved, attribute)) for attribute in HEADS}
    workshop = keeper.place(resolved.workshop)
    return {
        "as_of": resolved.as_of.isoformat(),
        "currency": resolved.currency,
        "rows": {**heads, "workshop": workshop},
        "tables": keeper.tables,
    }


def thawed_rows(frozen: Mapping[str, Any]) -> Resolved:
    """The resolved workshop again, every row checked; rows that were one are one. Raises OtherForm for all else."""
    try:
        thawing = _Thawing(frozen["tables"])
        rows = frozen["rows"]
        heads: dict[str, Any] = {
            attribute: thawing.held(table, [rows[attribute]])[0] for attribute, table in HEADS.items()
        }
        (heads["workshop"],) = thawing.held("workshop", [[rows["workshop"]]])[0]
        as_of, currency = date.fromisoformat(frozen["as_of"]), frozen["currency"]
    except (ValidationError, ValueError, KeyError, TypeError, IndexError, AttributeError) as wrong:
        raise OtherForm(str(wrong)) from None
    if not isinstance(currency, str):
        raise OtherForm("the currency")
    return Resolved.model_construct(currency=currency, as_of=as_of, **heads)


class _Keeper:
    """Puts rows into tables, each once."""

    def __init__(self) -> None:
        self.tables: dict[str, dict[str, Any]] = {}
        self._written: dict[tuple[str, str], int] = {}
        self._seen: dict[int, int] = {}
        self._lists: dict[int, list[int]] = {}

    def places(self, rows: Sequence[Row]) -> list[int]:
        known = self._lists.get(id(rows))
        if known is None:
            known = self._lists[id(rows)] = [self.place(row) for row in rows]
        return known

    def place(self, row: Row) -> int:
        known = self._seen.get(id(row))
        if known is not None:
            return known
        kept = self.tables.get(row.table)
        if kept is None:
            kept = self.tables[row.table] = {"columns": list(type(row).model_fields), "rows": []}
        form, rows = form_of(type(row)), kept["rows"]
        values = list(form.read(row))
        for at in form.nested:
            values[at] = self.places(values[at])
        for at in form.days:
            values[at] = values[at] and values[at].isoformat()
        place = self._written.setdefault((row.table, json.dumps(values)), len(rows))
        if place == len(rows):
            rows.append(values)
        self._seen[id(row)] = place
        return place


@dataclass(frozen=True)
class Form:
    """How a row is taken apart: all of its fields at once, at which places rows of other tables and days stand.

    `kinds` says of each of the other fields what it may hold.
    """

    read: Callable[[Row], tuple[Any, ...]]
    nested: tuple[int, ...]
    days: tuple[int, ...]
    kinds: Mapping[str, frozenset[Any]]


@cache
def form_of(kind: type[Row]) -> Form:
    """The form of a table's rows."""
    names = list(kind.model_fields)
    kinds = {
        name: frozenset(_kinds(field.annotation)) for name, field in kind.model_fields.items() if name not in NESTED
    }
    read = attrgetter(*names) if len(names) > 1 else lambda row: (getattr(row, names[0]),)
    return Form(
        read,
        tuple(at for at, name in enumerate(names) if name in NESTED),
        tuple(at for at, name in enumerate(names) if date in kinds.get(name, ())),
        MappingProxyType(kinds),
    )


def _kinds(annotation: Any) -> Iterator[Any]:
    """The types of which something may be, and of words that are listed the words themselves."""
    origin = get_origin(annotation)
    if origin in (UnionType, Union):
        for each in get_args(annotation):
            yield from _kinds(each)
    elif origin is Literal:
        yield from get_args(annotation)
    else:
        yield origin or annotation


class _Thawing:
    """Makes the rows of all tables."""

    def __init__(self, tables: Mapping[str, Any]):
        self._tables = tables
        self._made: dict[str, list[Row]] = {}

    def held(self, table: str, lists: Iterable[Sequence[int]]) -> list[tuple[Row, ...]]:
        """Rows of a table by lists of their places; lists of the same places are one."""
        rows, known = self._rows(table), dict[tuple[int, ...], tuple[Row, ...]]()
        found = []
        for places in map(tuple, lists):
            held = known.get(places)
            if held is None:
                if not all(type(place) is int and place >= 0 for place in places):
                    raise OtherForm(f"a place in {table}")
                held = known[places] = tuple(rows[place] for place in places)
            found.append(held)
        return found

    def _rows(self, table: str) -> list[Row]:
        if table not in self._made:
            self._made[table] = self._of(table) if table in self._tables else []
        return self._made[table]

    def _of(self, table: str) -> list[Row]:
        """All rows of a table."""
        kind, kept = ROW_OF[table], self._tables[table]
        columns = kept["columns"]
        if columns != list(kind.model_fields):
            raise OtherForm(f"the columns of {table}")
        if not kept["rows"]:
            return []
        by_column = dict(zip(columns, zip(*kept["rows"], strict=True), strict=True))
        kinds = form_of(kind).kinds
        for name, column in by_column.items():
            made = self.held(NESTED[name], column) if name in NESTED else plain_column(name, column, kinds[name])
            by_column[name] = tuple(made)
        fields = set(columns)
        return [
            of_checked(kind, fields, dict(zip(columns, values, strict=True)))
            for values in zip(*by_column.values(), strict=True)
        ]


def plain_column(name: str, column: Sequence[Any], allowed: frozenset[Any]) -> Sequence[Any]:
    """A column of plain values as rows hold it. Raises OtherForm where it holds anything else."""
    if date in allowed:
        return [each if each is None else date.fromisoformat(each) for each in column]
    if tuple in allowed:
        column = list(map(tuple, column))
        if not all(type(each) is str for held in column for each in held):
            raise OtherForm(f"something in {name}")
        return column
    found: set[Any] = set(map(type, column))
    if str in found and str not in allowed:  # some words alone
        found = found - {str} | {each for each in column if type(each) is str}
    if int in found and int not in allowed and float in allowed:
        column, found = [float(each) if type(each) is int else each for each in column], found - {int} | {float}
    if not found <= allowed:
        raise OtherForm(f"something in {name}")
    return column
