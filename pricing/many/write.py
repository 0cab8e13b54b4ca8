"""Writes a costed folder to Parquet: `workshop.parquet` with its tables, `variants.parquet` with its variants."""

from __future__ import annotations

import hashlib
import io
import json
from collections.abc import Iterator, Mapping
from dataclasses import fields
from typing import Any

import pyarrow as pa
import pyarrow.parquet as pq

from pricing.costing import Costing
from pricing.editions.chain import Edition
from pricing.formulas.tables import CHILDREN, OUTERMOST, name_of
from pricing.many.schema import (
    AS_OF_KEY,
    CURRENCY_KEY,
    FORM,
    FORM_KEY,
    IN_FORCE,
    LISTS,
    OWN,
    POSTS_ALL,
    RULES,
    SET_ON,
    WIDTHS_KEY,
    WORKSHOP_KEY,
    variants_schema,
    workshop_schema,
)
from pricing.model.rows import Row, VariantRow
from pricing.studies.repricing.deciding import Terms, terms_of
from pricing.studies.repricing.reprice import PriceInForce, prices_in_force

WORKSHOP_FILE, VARIANTS_FILE = "workshop.parquet", "variants.parquet"
#: Variants in a row group: some ten megabytes, and a fraction of a second to price.
GROUP_ROWS = 65_536


def written(costing: Costing, edition: Edition | None) -> Mapping[str, bytes]:
    """The two files by name."""
    keeper = _Keeper(costing, edition)
    variants = list(keeper.variants())
    workshop = _file(pa.Table.from_pylist([keeper.workshop()], keeper.said(workshop_schema())))
    schema = keeper.said(variants_schema(in_force=edition is not None), hashlib.sha256(workshop).hexdigest())
    file = io.BytesIO()
    with pq.ParquetWriter(file, schema, compression="zstd", version="2.6", write_page_checksum=True) as writer:
        for rows in _groups(variants):
            writer.write_table(pa.Table.from_pylist(rows, schema), row_group_size=len(rows))
    return {WORKSHOP_FILE: workshop, VARIANTS_FILE: file.getvalue()}


def _file(table: pa.Table) -> bytes:
    file = io.BytesIO()
    pq.write_table(table, file, compression="zstd", version="2.6", write_page_checksum=True)
    return file.getvalue()


def _groups(variants: list[list[dict[str, Any]]]) -> Iterator[list[dict[str, Any]]]:
    """Rows in groups; a variant stands in one group with its parts."""
    group: list[dict[str, Any]] = []
    for rows in variants:
        if group and len(group) + len(rows) > GROUP_ROWS:
            yield group
            group = []
        group += rows
    if group:
        yield group


class _Keeper:
    """Puts the rows that variants share into tables, each once, and leads to all by their places."""

    def __init__(self, costing: Costing, edition: Edition | None):
        self.costing, self.resolved = costing, costing.computed.resolved
        self.places: dict[str, dict[str, int]] = {
            table: {name_of(row): place for place, row in enumerate(getattr(self.resolved, attribute))}
            for table, attribute in OUTERMOST.items()
            if table != "variant"
        }
        self.places["price"] = self.places["channel"]
        self.shared: dict[str, list[dict[str, Any]]] = {table: [] for table in LISTS.values() if table not in OWN}
        self.known: dict[tuple[str, str], int] = {}
        self.seen: dict[int, int] = {}
        counted = edition is not None and edition.currency == self.resolved.currency
        self.in_force = prices_in_force(edition) if counted else {}
        self.with_prices = edition is not None

    def said(self, schema: pa.Schema, workshop: str = "") -> pa.Schema:
        """The schema with what the file says of itself."""
        sizes = self.costing.computed.columns.sizes
        said = {FORM_KEY: FORM, CURRENCY_KEY: self.resolved.currency, AS_OF_KEY: self.resolved.as_of.isoformat()}
        if workshop:
            widths = {axis: sizes[axis] for axis in CHILDREN if axis in sizes}
            said |= {WORKSHOP_KEY: workshop, WIDTHS_KEY: json.dumps(widths)}
        return schema.with_metadata({key: value.encode() for key, value in said.items()})

    def workshop(self) -> dict[str, Any]:
        """The one row of the workshop's file; to be asked for when all variants have been."""
        tables = {
            attribute: [self.plain(row) for row in getattr(self.resolved, attribute)]
            for table, attribute in OUTERMOST.items()
            if table != "variant"
        }
        lists = {attribute: self.shared[table] for attribute, table in LISTS.items() if table not in OWN}
        return {"workshop": self.plain(self.resolved.workshop), **tables, **lists, RULES: self.rules()}

    def rules(self) -> list[dict[str, Any]]:
        channels = [self.costing.folder.stated.channels[row.name] for row in self.resolved.channels]
        terms = terms_of(channels)
        named = {each.name: getattr(terms, each.name) for each in fields(Terms)}
        return [
            {name: values[place].item() for name, values in named.items()}
            | {POSTS_ALL: channel.tiers[-1].up_to_g is None}
            for place, channel in enumerate(channels)
        ]

    def variants(self) -> Iterator[list[dict[str, Any]]]:
        """The rows of each variant: itself, and behind it its parts. What is told of sizes beside it needs no row."""
        parts: dict[str, list[VariantRow]] = {}
        for hidden in self.resolved.hidden:
            if hidden.links:
                parts.setdefault(hidden.of, []).append(hidden)
        for variant in self.resolved.variants:
            rows = [variant, *parts.get(variant.called, ())]
            places = {row.called: place for place, row in enumerate(rows)}
            yield [self.variant(row, place, places) for place, row in enumerate(rows)]

    def variant(self, row: VariantRow, place: int, places: Mapping[str, int]) -> dict[str, Any]:
        held = self.plain(row)
        for attribute, table in LISTS.items():
            rows = getattr(row, attribute)
            if table not in OWN:
                held[attribute] = [self.place(inner) for inner in rows]
            elif table == "part":
                own = [{**self.plain(inner), "piece": places[inner.piece] - place} for inner in rows]
                held[attribute] = own
            else:
                held[attribute] = [self.plain(inner) for inner in rows]
        if self.with_prices:
            in_force = None if row.of else [self.price(row, price.channel) for price in row.prices]
            held[IN_FORCE] = in_force and [each and each.price for each in in_force]
            held[SET_ON] = in_force and [each and each.set_on for each in in_force]
        return held

    def price(self, row: VariantRow, channel: str) -> PriceInForce | None:
        return self.in_force.get((row.sku, row.alloy, channel))

    def place(self, row: Row) -> int:
        """The place of a row among those that are shared."""
        known = self.seen.get(id(row))
        if known is None:
            held = self.plain(row)
            rows = self.shared[row.table]
            known = self.seen[id(row)] = self.known.setdefault((row.table, repr(held)), len(rows))
            if known == len(rows):
                rows.append(held)
        return known

    def plain(self, row: Row) -> dict[str, Any]:
        """A row as plain values, its keys as places."""
        held: dict[str, Any] = {}
        for known in row.inputs.values():
            value = getattr(row, known.name)
            leads = known.target and known.target != "variant"
            held[known.name] = self.places[known.target].get(value) if leads else value
        if row.table != "variant":
            for attribute in row.nested:
                held[attribute] = [self.plain(inner) for inner in getattr(row, attribute)]
        return held
