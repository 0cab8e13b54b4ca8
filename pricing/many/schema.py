"""The form of the files, made from the inputs' own lines: a column for each input, its unit and meaning beside it.

`workshop.parquet` holds one row. Each of its columns is a table: currencies, metals, alloys, roles, machines and so
on, and the rows that variants share (steps with what they use, prices, findings, …). A file of variants holds a row
for each; where a variant has steps, it holds the places of these among the workshop's. A list of a variant may as
well hold its rows themselves, as castings do, which are seldom shared. Places count from 0. The parts of a
variant stand behind it, each a row that names its whole in `of`, in the same row group; a part leads to the row of
its piece by how many rows further down (or up) that is.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import fields
from types import MappingProxyType

import pyarrow as pa

from pricing.formulas.bounds import bounds_of
from pricing.formulas.tables import CHILDREN, OUTERMOST, ROW_OF
from pricing.model.given import Input, Row
from pricing.studies.repricing.deciding import Terms

#: Changes where a file of before can no longer be read as one of now.
FORM = "1"
#: Names under which the files say what they are.
FORM_KEY, CURRENCY_KEY, AS_OF_KEY = b"troytag.form", b"troytag.currency", b"troytag.as_of"
WIDTHS_KEY, WORKSHOP_KEY = b"troytag.widths", b"troytag.workshop"
#: The lists of a variant by name, with the table that their rows belong to.
LISTS: Mapping[str, str] = MappingProxyType(
    {attribute: table for table, (parent, attribute) in CHILDREN.items() if parent == "variant"}
)
#: Tables whose rows are written with the variant that has them; the others are written once for all.
OWN = frozenset({"casting", "part"})
#: What is in force, a list by the channels' places; either may be left out.
IN_FORCE, SET_ON = "price_in_force", "price_set_on"
#: What else is said of each channel: when a price is moved, and whether it posts what is heavier than all its tiers.
RULES, POSTS_ALL = "rules", "posts_all"


def figure(known: Input) -> pa.Field:
    """The field of an input or a key: a number, a switch, or a place in another table."""
    said = {"meaning": known.meaning or f"Place in the table {known.target}."}
    if known.target:
        said["leads_to"] = known.target
        return pa.field(known.name, pa.int32(), nullable=known.optional, metadata=said)
    said["unit"] = known.unit
    bounds = None if known.is_switch else bounds_of(known.name)
    if bounds is not None:
        said["bounds"] = f"{bounds.words()}; {known.idle:g} where there is none"
    kind = pa.bool_() if known.is_switch else pa.float64()
    return pa.field(known.name, kind, nullable=known.optional, metadata=said)


def fields_of(row: type[Row], words: bool = True) -> Iterator[pa.Field]:
    """The fields of a row: its figures and keys, and the rows that hang on it (but for a variant's).

    With `words` also those, for people and for what comes out; no formula reads them.
    """
    for known in row.inputs.values():
        if known.unit or known.target:
            yield figure(known)
        elif words and row.model_fields[known.name].annotation in (str, str | None):
            yield pa.field(known.name, pa.string(), nullable=True)
    if row.table != "variant":
        for attribute, inner in row.nested.items():
            yield pa.field(attribute, list_of(inner), nullable=False)


def list_of(row: type[Row], words: bool = True) -> pa.ListType:
    """A list of rows."""
    return pa.list_(pa.field("element", pa.struct(list(fields_of(row, words))), nullable=False))


def places() -> pa.ListType:
    """A list of places."""
    return pa.list_(pa.field("element", pa.int32(), nullable=False))


def rules() -> pa.ListType:
    """What is said of each channel besides."""
    kinds = {"bool": pa.bool_(), "float": pa.float64()}
    held = [pa.field(each.name, kinds["bool" if each.name == "stated" else "float"]) for each in fields(Terms)]
    held.append(pa.field(POSTS_ALL, pa.bool_()))
    return pa.list_(pa.field("element", pa.struct([each.with_nullable(False) for each in held]), nullable=False))


def workshop_schema() -> pa.Schema:
    """The schema of `workshop.parquet`."""
    held = [pa.field("workshop", pa.struct(list(fields_of(ROW_OF["workshop"]))), nullable=False)]
    for table, attribute in OUTERMOST.items():
        if table != "variant":
            held.append(pa.field(attribute, list_of(ROW_OF[table]), nullable=False))
    for attribute, table in LISTS.items():
        if table not in OWN:
            held.append(pa.field(attribute, list_of(ROW_OF[table]), nullable=False))
    held.append(pa.field(RULES, rules(), nullable=False))
    return pa.schema(held)


def variants_schema(in_force: bool = True) -> pa.Schema:
    """The schema of a file of variants; with the prices in force, if wanted."""
    held = list(fields_of(ROW_OF["variant"]))
    for attribute, table in LISTS.items():
        kind = list_of(ROW_OF[table], words=False) if table in OWN else places()
        held.append(pa.field(attribute, kind, nullable=False))
    if in_force:
        said = {"meaning": "The price in force, by channel; none where none is.", "unit": "quoted"}
        held.append(pa.field(IN_FORCE, pa.list_(pa.float64()), metadata=said))
        said = {"meaning": "The day on which it was set."}
        held.append(pa.field(SET_ON, pa.list_(pa.date32()), metadata=said))
    return pa.schema(held)
