"""Running on from changed columns gives what a whole new run gives."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.engine import Computed, compute
from pricing.formulas.rerun import following, part_of, rerun
from pricing.formulas.worlds import under_prices
from tests.folders import tin_lane

DAY = date(2026, 11, 20)
RESULTS = ("unit_cost", "metal_cost", "price", "margin", "earned_per_hour", "binds", "scrap_price_per_g")


@pytest.fixture(scope="module")
def computed() -> Computed:
    return cost(tin_lane(), asked_for(DAY)).computed


def at_quotes(computed: Computed, quotes: np.ndarray, rates: np.ndarray) -> Computed:
    """The whole workshop once more, with these quotes and exchange rates."""
    resolved = computed.resolved
    metals = [
        metal.model_copy(update={"quote_price": float(quote)})
        for metal, quote in zip(resolved.metals, quotes, strict=True)
    ]
    currencies = [
        each.model_copy(update={"exchange_rate": float(rate)})
        for each, rate in zip(resolved.currencies, rates, strict=True)
    ]
    return compute(resolved.model_copy(update={"metals": tuple(metals), "currencies": tuple(currencies)}))


def test_a_changed_quote_runs_on_to_every_figure(computed):
    quotes = computed["quote_price"] * np.linspace(0.8, 1.3, len(computed.resolved.metals))
    whole = at_quotes(computed, quotes, computed["exchange_rate"])
    for name, values in rerun(computed, {"quote_price": quotes}, list(computed.graph.quantities)).items():
        np.testing.assert_array_equal(values, whole[name], err_msg=name)


def test_many_worlds_at_once_are_one_at_a_time(computed):
    worlds = 7
    chance = np.random.default_rng(20261120)
    quotes = computed["quote_price"] * chance.uniform(0.3, 3.0, (worlds, len(computed.resolved.metals)))
    rates = computed["exchange_rate"] * chance.uniform(0.7, 1.4, (worlds, len(computed.resolved.currencies)))
    found = under_prices(computed, quotes, rates, RESULTS)
    for world in range(worlds):
        whole = at_quotes(computed, quotes[world], rates[world])
        for name in RESULTS:
            np.testing.assert_array_equal(found[name][world], whole[name], err_msg=name)


def test_what_no_price_of_metal_moves_is_the_same_in_all_worlds(computed):
    quotes = np.tile(computed["quote_price"], (3, 1))
    found = under_prices(computed, quotes, np.tile(computed["exchange_rate"], (3, 1)), ["labour_cost", "order_cost"])
    assert found["labour_cost"].shape == (3, len(computed.resolved.variants))
    np.testing.assert_array_equal(found["order_cost"][2], computed["order_cost"])


def test_a_held_price_brings_what_it_would_as_a_fixed_one(computed):
    prices = np.round(computed["price"] * 1.07, 2)
    fixed = [
        row.model_copy(
            update={
                "prices": tuple(
                    price.model_copy(
                        update={"is_fixed": True, "fixed_price": float(prices[place, channel]), "follows": False}
                    )
                    for channel, price in enumerate(row.prices)
                )
            }
        )
        for place, row in enumerate(computed.resolved.variants)
    ]
    whole = compute(computed.resolved.model_copy(update={"variants": tuple(fixed)}))
    for name, values in rerun(computed, {"price": prices}, following(computed.graph, ["price"])).items():
        np.testing.assert_array_equal(values, whole[name], err_msg=name)


def test_only_what_follows_is_run(computed):
    part = part_of(computed.graph, ["margin"], following(computed.graph, ["price"]))
    assert list(part.quantities) == [
        name
        for name in computed.graph.quantities
        if name in {"ex_tax_price", "discounted_price", "net_sales", "selling_fees", "net_receipts", "profit", "margin"}
    ]


def test_how_many_worlds_go_through_at_once_changes_no_bit(computed, monkeypatch):
    """Eleven worlds at once, three at a time with two left over, and one by one where a workshop is too large."""
    quotes = computed["quote_price"] * np.linspace(0.5, 2.0, 11)[:, None]
    rates = np.tile(computed["exchange_rate"], (11, 1))
    whole = under_prices(computed, quotes, rates, RESULTS)
    one = computed.columns.sizes["variant"] * computed.columns.sizes["step"]
    for at_once in (3 * one, 1):
        monkeypatch.setattr("pricing.formulas.worlds.AT_ONCE", at_once)
        found = under_prices(computed, quotes, rates, RESULTS)
        for name in RESULTS:
            np.testing.assert_array_equal(found[name], whole[name], err_msg=name)
