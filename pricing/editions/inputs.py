"""The resolved workshop as an edition keeps it: one list of columns and rows for each table, each row once."""

from __future__ import annotations

import json
from collections.abc import Collection, Mapping
from contextlib import suppress
from datetime import date
from types import MappingProxyType
from typing import Any

from pydantic import ValidationError

from pricing.editions.chain import EDITIONS, Edition
from pricing.editions.shape import FORGED
from pricing.errors import Fault, Faults, Place
from pricing.formulas.frozen import HEADS, NESTED, OtherForm, frozen_rows, thawed_rows
from pricing.formulas.tables import ROW_OF
from pricing.model.rows import Resolved, Row

#: Rows that an earlier release had in the workshop's currency only.
IN_A_CURRENCY = frozenset({"channel", "price"})


def frozen_inputs(resolved: Resolved) -> dict[str, Any]:
    """A resolved workshop as plain tables."""
    return frozen_rows(resolved)


def inputs_of(edition: Edition) -> Resolved:
    """The resolved workshop that an edition was made of. Raises Faults where this release cannot read it any more."""
    try:
        return thawed_inputs(edition.content["inputs"])
    except FORGED as wrong:
        key = ".".join(map(str, wrong.errors()[0]["loc"])) if isinstance(wrong, ValidationError) else str(wrong)
        problem = f"this edition keeps its inputs in another form: {key}"
        mend = "Its prices stand as they were published; an edition of this release shows its work again."
        raise Faults([Fault(Place(EDITIONS.file_of(edition.number)), key, problem, mend)]) from None


def channel_currencies(edition: Edition) -> Mapping[str, str]:
    """The currencies of its channels by name; none of an edition that knew only its workshop's."""
    try:
        kept = edition.content["inputs"]["tables"].get("channel", {"columns": [], "rows": []})
        rows = [dict(zip(kept["columns"], row, strict=False)) for row in kept["rows"]]
        return MappingProxyType({row["name"]: row["currency"] for row in rows if "currency" in row})
    except FORGED:  # told where its inputs are read
        return MappingProxyType({})


def thawed_inputs(frozen: dict[str, Any]) -> Resolved:
    """The resolved workshop again; rows that were one are one.

    What came later than the edition is what a folder comes to that does not state it. Raises pydantic's
    ValidationError where what is missing must be stated, and for another form.
    """
    with suppress(OtherForm):  # what this release has written is read at once
        return thawed_rows(frozen)
    made: dict[tuple[str, int], Row] = {}

    def row(table: str, place: int) -> Row:
        if (table, place) not in made:
            kept = frozen["tables"][table]
            values = dict(zip(kept["columns"], kept["rows"][place], strict=True))
            if table in IN_A_CURRENCY:
                values.setdefault("currency", frozen["currency"])
            for name in values.keys() & NESTED.keys():
                values[name] = tuple(row(NESTED[name], inner) for inner in values[name])
            plain = {name: value for name, value in values.items() if name not in NESTED}
            held = {name: values[name] for name in values if name in NESTED}
            made[table, place] = _checked(ROW_OF[table], {**_unstated(ROW_OF[table], values), **plain}, held)
        return made[table, place]

    rows = frozen["rows"]
    made_of: dict[str, Any] = {"workshop": row("workshop", rows["workshop"])}
    for attribute, table in HEADS.items():
        made_of[attribute] = tuple(row(table, place) for place in rows.get(attribute, ()))
    return Resolved.model_construct(currency=frozen["currency"], as_of=date.fromisoformat(frozen["as_of"]), **made_of)


def _unstated(kind: type[Row], held: Collection[str]) -> dict[str, Any]:
    """What columns that came later than the edition hold: what a folder comes to that does not state them.

    A figure that nobody states as it stands (it is computed) is idle, and there are no rows of a list that was not.
    """
    lacking = {name: known for name, known in kind.inputs.items() if name not in held and not known.required}
    return {
        **{name: known.unstated for name, known in lacking.items() if known.has_unstated},
        **{name: known.absent for name, known in lacking.items() if known.leaf is None and known.may_be_absent},
        **{name: () for name in kind.nested if name not in held},
    }


def _plain(value: Any) -> Any:
    return value.isoformat() if hasattr(value, "isoformat") else value


def _checked(kind: type[Row], plain: dict[str, Any], held: dict[str, tuple[Row, ...]]) -> Row:
    """A row of plain values as JSON has them, around rows that are checked already."""
    empty: dict[str, list[Any]] = {name: [] for name in held}
    checked = kind.model_validate_json(json.dumps({**plain, **empty}, default=_plain))
    return checked.model_copy(update=held) if held else checked
