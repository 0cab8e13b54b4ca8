"""The resolved workshop as an edition keeps it: one list of columns and rows for each table, each row once.

A row that holds rows of another table (a variant its steps) names them by their places there.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from datetime import date
from types import MappingProxyType
from typing import Any

from pricing.formulas.tables import CHILDREN, OUTERMOST, ROW_OF
from pricing.model.rows import Resolved, Row

#: Attributes that hold rows of another table, by the attribute's name.
NESTED = MappingProxyType({attribute: table for table, (_, attribute) in CHILDREN.items()})


def frozen_inputs(resolved: Resolved) -> dict[str, Any]:
    """A resolved workshop as plain tables."""
    keeper = _Keeper()
    heads = {attribute: [keeper.place(row) for row in getattr(resolved, attribute)] for attribute in OUTERMOST.values()}
    workshop = keeper.place(resolved.workshop)
    return {
        "as_of": resolved.as_of.isoformat(),
        "currency": resolved.currency,
        "rows": {**heads, "workshop": workshop},
        "tables": keeper.tables,
    }


def thawed_inputs(frozen: dict[str, Any]) -> Resolved:
    """The resolved workshop again; rows that were one are one. Raises pydantic's ValidationError for another form."""
    made: dict[tuple[str, int], Row] = {}

    def row(table: str, place: int) -> Row:
        if (table, place) not in made:
            kept = frozen["tables"][table]
            values = dict(zip(kept["columns"], kept["rows"][place], strict=True))
            for name in values.keys() & NESTED.keys():
                values[name] = tuple(row(NESTED[name], inner) for inner in values[name])
            plain = {name: value for name, value in values.items() if name not in NESTED}
            held = {name: values[name] for name in values if name in NESTED}
            made[table, place] = _checked(ROW_OF[table], {**_unstated(table, plain), **plain}, held)
        return made[table, place]

    rows = frozen["rows"]
    return Resolved.model_construct(
        currency=frozen["currency"],
        as_of=date.fromisoformat(frozen["as_of"]),
        workshop=row("workshop", rows["workshop"]),
        **{attribute: tuple(row(table, place) for place in rows[attribute]) for table, attribute in OUTERMOST.items()},
    )


class _Keeper:
    """Puts rows into tables, each once."""

    def __init__(self) -> None:
        self.tables: dict[str, dict[str, Any]] = {}
        self.places: dict[tuple[str, str], int] = {}
        self.seen: dict[int, int] = {}

    def place(self, row: Row) -> int:
        known = self.seen.get(id(row))
        if known is not None:
            return known
        columns = list(type(row).model_fields)
        values = [
            [self.place(inner) for inner in getattr(row, name)] if name in NESTED else _plain(getattr(row, name))
            for name in columns
        ]
        kept = self.tables.setdefault(row.table, {"columns": columns, "rows": []})
        written = json.dumps(values)
        place = self.places.setdefault((row.table, written), len(kept["rows"]))
        if place == len(kept["rows"]):
            kept["rows"].append(values)
        self.seen[id(row)] = place
        return place


def _unstated(table: str, held: Collection[str]) -> dict[str, Any]:
    """What a column that came later than the edition holds: what a folder comes to that does not state it."""
    return {
        known.name: known.unstated
        for known in ROW_OF[table].inputs.values()
        if known.name not in held and known.has_unstated
    }


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _checked(kind: type[Row], plain: dict[str, Any], held: dict[str, tuple[Row, ...]]) -> Row:
    """A row of plain values as JSON has them, around rows that are checked already."""
    empty = {name: [] for name in held}
    checked = kind.model_validate_json(json.dumps({**plain, **empty}))
    return checked.model_copy(update=held) if held else checked
