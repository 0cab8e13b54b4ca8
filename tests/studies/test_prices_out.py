"""What was published is what goes out: in force, of one edition, or asked."""

from __future__ import annotations

import shutil
from datetime import date

import numpy as np
import pytest

from pricing.editions.chain import newest
from pricing.errors import UsageFault
from pricing.formulas.rerun import rerun
from pricing.studies.prices_out import prices_out
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import MOMENT, changed_file, costing_of, published, silver_at


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane")


def table(out, name: str = "price") -> dict[tuple[str, str, str], float]:
    computed = out.computed
    return {
        (variant.sku, variant.alloy, price.channel): float(computed[name][row, column])
        for row, variant in enumerate(computed.resolved.variants)
        for column, price in enumerate(variant.prices)
        if price.sold
    }


def test_before_anything_is_published_what_is_asked_goes_out_and_is_no_edition(folder):
    costing = costing_of(folder)
    out = prices_out(costing)
    assert out.edition is None and not out.is_wanted and out.unpublished == ()
    assert out.computed is costing.computed
    assert {quote.metal for quote in out.quotes} >= {"Ag"}


def test_after_silver_moved_the_held_prices_go_out_with_the_margin_that_they_earn_now(folder):
    published(folder)
    before = table(prices_out(costing_of(folder)))
    silver_at(folder, "80", "2026-11-21")
    costing = costing_of(folder, "2026-11-21")
    out = prices_out(costing)
    assert table(out) == before
    assert table(out) != table(prices_out(costing, "asked"))
    margins = rerun(costing.computed, {"price": out.computed["price"]}, ["margin"])["margin"]
    np.testing.assert_allclose(out.computed["margin"], margins, rtol=1e-12)
    assert [float(quote.price) for quote in out.quotes if quote.metal == "Ag"] != [80.0]
    assert [float(quote.price) for quote in prices_out(costing, "asked").quotes if quote.metal == "Ag"] == [80.0]
    assert out.since == date(2026, 11, 20)


def test_another_edition_and_another_day_are_asked_for_by_number_and_by_day(folder):
    published(folder)
    silver_at(folder, "80", "2026-11-21")
    costing = costing_of(folder, "2026-11-21")
    words = {(row.sku, row.alloy, row.channel): "accept" for row in reprice(costing, newest(folder)).rows}
    publish_prices(reprice(costing, newest(folder), words), MOMENT)
    first, second = (table(prices_out(costing, number)) for number in (1, 2))
    assert first != second == table(prices_out(costing, "asked"))
    assert table(prices_out(costing)) == second
    assert table(prices_out(costing_of(folder, "2026-11-20"))) == first
    with pytest.raises(UsageFault, match="no edition 7"):
        prices_out(costing, 7)


def test_what_is_new_since_the_edition_is_told_and_does_not_go_out(folder):
    changed_file(folder, "products/reed-pin.toml", 'sku = "reed-pin"', 'sku = "reed-pin"\nsold_in = ["stall"]')
    published(folder)
    changed_file(folder, "products/reed-pin.toml", 'sold_in = ["stall"]\n', "")
    costing = costing_of(folder)
    out = prices_out(costing)
    assert {channel for sku, _, channel in out.unpublished if sku == "reed-pin"} == {
        channel for sku, _, channel in table(prices_out(costing, "asked")) if sku == "reed-pin"
    } - {"stall"}
    assert set(table(out)) == set(table(prices_out(costing, "asked"))) - set(out.unpublished)
    assert int(out.computed["sold"].sum()) == len(table(out))
