"""The resolved workshop as plain tables and back: one list of columns and rows for each table.

A row that holds rows of another table (a variant its steps) names them by their places there.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from operator import attrgetter
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from pricing.formulas.tables import CHILDREN, OUTERMOST, ROW_OF
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


def frozen_rows(resolved: Resolved, alike: bool = False) -> dict[str, Any]:
    """A resolved workshop as plain tables; a row that is one and the same object stands once.

    `alike`: so do rows that say the same, which takes longer.
    """
    keeper = _Keeper(alike)
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
        (workshop,) = thawing.held("workshop", [[rows["workshop"]]])[0]
        as_of, currency = date.fromisoformat(frozen["as_of"]), frozen["currency"]
    except (ValidationError, ValueError, KeyError, TypeError, IndexError, AttributeError) as wrong:
        raise OtherForm(str(wrong)) from None
    if not isinstance(currency, str):
        raise OtherForm("the currency")
    return Resolved.model_construct(currency=currency, as_of=as_of, workshop=workshop, **heads)


class _Keeper:
    """Puts rows into tables, each once."""

    def __init__(self, alike: bool) -> None:
        self.tables: dict[str, dict[str, Any]] = {}
        self._alike = alike
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
        columns, rows = kept["columns"], kept["rows"]
        values = [
            self.places(value) if name in NESTED else _plain(value)
            for name, value in zip(columns, attrgetter(*columns)(row), strict=True)
        ]
        place = self._written.setdefault((row.table, json.dumps(values)), len(rows)) if self._alike else len(rows)
        if place == len(rows):
            rows.append(values)
        self._seen[id(row)] = place
        return place


def _plain(value: Any) -> Any:
    return value.isoformat() if type(value) is date else value


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
        kind, kept = ROW_OF[table], self._tables[table]
        columns = kept["columns"]
        if columns != list(kind.model_fields):
            raise OtherForm(f"the columns of {table}")
        by_column = dict(zip(columns, zip(*kept["rows"], strict=True), strict=True)) if kept["rows"] else {}
        for name, column in by_column.items():
            if name in NESTED:
                by_column[name] = tuple(self.held(NESTED[name], column))
            elif list in (sorts := set(map(type, column))):
                by_column[name] = tuple(map(tuple, column))
            elif str in sorts and kind.model_fields[name].annotation == date | None:
                by_column[name] = tuple(each and date.fromisoformat(each) for each in column)
        return [kind(**dict(zip(columns, values, strict=True))) for values in zip(*by_column.values(), strict=True)]
