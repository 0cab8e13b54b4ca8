"""A folder through Parquet and back comes to the figures of the engine, to the last bit of the same path."""

from __future__ import annotations

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.columns import columns_of
from pricing.formulas.tables import INPUTS, ROW_OF
from pricing.many.schema import fields_of, variants_schema, workshop_schema
from pricing.many.stream import Job, ready, tables
from pricing.many.variants import batches, source_of
from pricing.many.workshop import read_workshop
from pricing.many.write import written
from pricing.model.rows import ROWS
from pricing.records import decimal_price, decimal_prices
from pricing.studies.repricing.reprice import reprice
from tests.exact.many import drawn
from tests.exact.workshop_writer import write

from .conftest import put

NAMES = {"in_force": "held", "margin_now": "earns", "margin_asked": "would_earn", "price": "to", "margin": "earns_then"}


def rows_of(folder):
    """What comes out, by sku, size, alloy and channel."""
    ready.cache_clear()
    made = ready(Job(str(folder / "variants.parquet"), None))
    found = [row for span in made.spans for table, _ in tables(made, span) for row in table.to_pylist()]
    return {(row["sku"], row["alloy"], row["channel"]): row for row in found}


def test_prices_and_verdicts_are_those_of_reprice(exported):
    found, repricing = rows_of(exported.folder), reprice(exported.costing, exported.edition)
    expected = {(row.sku, row.alloy, row.channel): row for row in repricing.rows}
    assert found.keys() == expected.keys()
    assert {row.verdict for row in repricing.rows} >= {"hold", "raise"}  # so that they are told apart at all
    for key, row in found.items():
        assert (row["verdict"], row["reason"]) == (expected[key].verdict, expected[key].reason), key
        assert row["asked"] == expected[key].asked
        for name, attribute in NAMES.items():
            assert row[name] == getattr(expected[key], attribute), (key, name)


def test_what_every_variant_costs_is_the_engines_figure(exported):
    found, computed = rows_of(exported.folder), exported.costing.computed
    for place, variant in enumerate(computed.resolved.variants):
        for channel in variant.sold_in:
            assert found[variant.sku, variant.alloy, channel]["unit_cost"] == computed["unit_cost"][place]


@pytest.mark.parametrize("number", [0, 3, 5, 6, 11, 17])
def test_generated_workshops_come_back(number, tmp_path):
    """Those with parts and sizes, runs and other currencies among them: each figure as it was."""
    workshop = drawn(29, number)
    costing = cost(write(workshop, tmp_path / "w"), asked_for(workshop.as_of, workshop.run, workshop.charge_design))
    found = rows_of(put(tmp_path / "files", written(costing, None)))
    computed = costing.computed
    assert len(found) == int(computed.sold_places.sum())
    for place, variant in enumerate(computed.resolved.variants):
        for channel in variant.sold_places:
            row = found[variant.sku, variant.alloy, variant.prices[channel].channel]
            assert row["unit_cost"] == computed["unit_cost"][place]
            assert row["asked"] == decimal_price(computed["price"][place, channel])
            margin = computed["margin"][place, channel]
            assert row["margin"] == (margin if np.isfinite(margin) else None)


def test_every_input_is_what_was_written(exported):
    """Column by column, where a variant stands: what the formulas see of a file is what they see of the folder."""
    workshop = read_workshop(exported.folder / "workshop.parquet")
    columns = columns_of(exported.costing.computed.resolved)
    for name, array in workshop.inputs.items():
        np.testing.assert_array_equal(array, columns.inputs[name], err_msg=name)
    for key, array in workshop.keys.items():
        np.testing.assert_array_equal(array, columns.keys[key], err_msg=str(key))
    (batch,) = batches(source_of(exported.folder / "variants.parquet").files[0], [0], workshop)
    shown = np.flatnonzero(batch.shown)
    for known in ROW_OF["variant"].inputs.values():
        if known.unit:
            array = columns.inputs[known.name][: len(shown)]
            np.testing.assert_array_equal(batch.rows.inputs[known.name][shown], array, err_msg=known.name)


def test_each_input_has_its_column_with_unit_and_meaning():
    """Made from the rows themselves: what stands in a row stands in a file, companions of open ones left out."""
    fields = {field.name: field for row in ROWS for field in fields_of(row)}
    for name, known in INPUTS.items():
        if not known.stated:
            assert fields[name].metadata[b"unit"].decode() == known.unit
            assert fields[name].metadata[b"meaning"].decode() == known.meaning
            assert fields[name].nullable == known.optional
    assert set(variants_schema().names) >= {"sku", "alloy", "castings", "steps", "price_in_force"}
    assert set(workshop_schema().names) >= {"workshop", "metals", "channels", "steps", "prices", "rules"}


def test_many_prices_are_the_decimals_that_each_is():
    chance = np.random.default_rng(3)
    prices = np.concatenate([
        np.round(chance.uniform(0, 9_000, 300), 2), 0.05 * chance.integers(1, 10**6, 300), 0.1 + 0.2 * np.arange(300),
        chance.uniform(0, 1e9, 50), [0.0, 5458.4400000000005, 1e15 + 0.5, np.nan],
    ])  # fmt: skip
    for made, price in zip(decimal_prices(prices), prices, strict=True):
        expected = decimal_price(float(price)) if np.isfinite(price) else price
        assert made == expected or np.isnan(made) and np.isnan(expected)
