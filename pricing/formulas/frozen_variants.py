"""Rows of variants as plain columns and back: a list for each field of each table, by which both are quickest.

What many rows share (the steps of a process, what all channels ask) stands once: a row names a list of rows by its
number, and a list its rows by their places.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import islice
from operator import attrgetter
from typing import Any

from pricing.formulas.frozen import OtherForm, form_of, plain_column
from pricing.formulas.tables import CHILDREN, ROW_OF
from pricing.formulas.unlike import unlike
from pricing.model.given import all_of, of_checked
from pricing.model.rows import Row, VariantRow

#: The tables that hang on a variant, directly or not; each behind the one that it hangs on.
BELOW = tuple(
    (table, parent, attribute) for table, (parent, attribute) in CHILDREN.items() if parent in ("variant", "step")
)


def frozen_variants(variants: Sequence[VariantRow]) -> dict[str, Any]:
    """Rows of variants, with all that hangs on them, as plain tables."""
    rows: dict[str, Sequence[Row]] = {"variant": variants}
    of_parents: dict[str, list[int]] = {}
    lists: dict[str, list[list[int]]] = {}
    for table, parent, attribute in BELOW:
        found = unlike(list(map(attrgetter(attribute), rows[parent])))
        places = iter(found.places)
        lists[table] = [list(islice(places, len(each))) for each in found.lists]
        of_parents[table], rows[table] = found.of_each, found.rows
    return {
        "columns": {table: _columns(ROW_OF[table], each) for table, each in rows.items()},
        "of_parents": of_parents,
        "lists": lists,
    }


def _columns(kind: type[Row], rows: Sequence[Row]) -> dict[str, Sequence[Any]]:
    """What rows hold under each of their fields but those that hold rows."""
    names = tuple(form_of(kind).kinds)
    held = zip(*map(all_of(names), rows), strict=True) if rows else [()] * len(names)
    return dict(zip(names, held, strict=True))


def thawed_variants(frozen: Mapping[str, Any]) -> tuple[VariantRow, ...]:
    """The rows of variants again; rows and lists that were one are one. Raises OtherForm for all else."""
    try:
        nested: dict[str, dict[str, list[Any]]] = {}
        for table, parent, attribute in reversed(BELOW):
            rows = _rows(ROW_OF[table], frozen["columns"][table], nested.get(table, {}))
            lists = [tuple(rows[_place(each)] for each in places) for places in frozen["lists"][table]]
            held = [lists[_place(number)] for number in frozen["of_parents"][table]]
            nested.setdefault(parent, {})[attribute] = held
        return tuple(_rows(VariantRow, frozen["columns"]["variant"], nested["variant"]))
    except (ValueError, KeyError, TypeError, IndexError, AttributeError) as wrong:
        raise OtherForm(str(wrong)) from None


def _rows(kind: type[Row], columns: Mapping[str, Any], nested: Mapping[str, list[Any]]) -> list[Any]:
    """The rows of a table, each value of a kind that it may be of."""
    kinds, names = form_of(kind).kinds, list(kind.model_fields)
    if {*kinds} != {*columns} or {*names} != {*kinds, *nested}:
        raise OtherForm(f"the columns of {kind.table}")
    held = {**nested, **{name: plain_column(name, columns[name], allowed) for name, allowed in kinds.items()}}
    fields = set(names)
    ordered = zip(*(held[name] for name in names), strict=True)
    return [of_checked(kind, fields, dict(zip(names, values, strict=True))) for values in ordered]


def _place(number: Any) -> int:
    if type(number) is not int or number < 0:
        raise OtherForm("a place")
    return number
