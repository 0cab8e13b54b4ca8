"""How far a price moved."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.folder.prices.moves import change, last_before
from pricing.metal.changes import prices_over, standings
from pricing.model.quote import Quote

DAY = date(2026, 11, 20)


def quote(on: str, price: float, metal="Ag", per="ozt", currency="USD") -> Quote:
    return Quote(date=date.fromisoformat(on), metal=metal, price=price, per=per, currency=currency)


QUOTES = (
    quote("2026-11-20", 38.40),
    quote("2025-11-01", 32.00),
    quote("2026-11-13", 40.00),
    quote("2026-10-01", 30.00),
    quote("2026-11-20", 0.79, "USD", "unit", "GBP"),
    quote("2026-11-25", 99.00),  # not yet
)


def test_changes_are_against_what_was_in_force_so_many_days_before():
    silver, dollar = standings(QUOTES, DAY, "GBP")
    assert (silver.quote.price, silver.age_days) == (38.4, 0)
    assert silver.changes == pytest.approx(
        {"week": 38.4 / 40 - 1, "month": 38.4 / 30 - 1, "year": 38.4 / 32 - 1}  # of 13 Nov, 1 Oct and 1 Nov last year
    )
    assert dollar.quote.metal == "USD"
    assert dollar.changes == {"week": None, "month": None, "year": None}


def test_another_mass_is_converted():
    # 1 kg is 1000 / 31.1034768 ozt
    dear = quote("2026-11-21", 38.40 * 1000 / 31.1034768, per="kg")
    assert change(dear, QUOTES[0], QUOTES, "GBP") == pytest.approx(0, abs=1e-12)


def test_another_currency_is_converted_by_the_rates_of_each_day():
    rates = (quote("2026-11-01", 0.80, "USD", "unit", "GBP"), quote("2026-11-20", 0.75, "USD", "unit", "GBP"))
    old, new = quote("2026-11-10", 40.00), quote("2026-11-20", 33.00, currency="GBP")
    assert change(new, old, rates, "GBP") == pytest.approx(33 / (40 * 0.80) - 1)
    assert change(old, new, rates, "GBP") == pytest.approx(40 * 0.80 / 33 - 1)
    assert change(new, old, (), "GBP") is None  # no rate for the dollar


def test_the_quote_before():
    assert last_before(QUOTES, quote("2026-11-19", 1)).price == 40
    assert last_before(QUOTES, quote("2026-11-20", 1)).price == 38.4
    assert last_before(QUOTES, quote("2020-01-01", 1)) is None
    assert last_before(QUOTES, quote("2026-11-30", 1, "USD", "unit", "GBP")).price == 0.79
    assert last_before(QUOTES, quote("2026-11-30", 1, "Au")) is None


def test_prices_over_some_days_in_the_unit_of_a_quote():
    kept = (
        quote("2026-11-02", 10.0),
        quote("2026-11-04", 31.1034768, per="kg", currency="USD"),
        quote("2026-11-05", 30),
    )
    days = prices_over(kept, kept[0], date(2026, 11, 1), date(2026, 11, 5), 5)
    assert days[:3] == [None, 10.0, 10.0]
    assert days[3] == pytest.approx(31.1034768 * 31.1034768 / 1000)  # so many ozt in a kg
    assert days[4] == 30
    assert prices_over(kept, kept[0], date(2026, 11, 2), date(2026, 11, 5), 1) == [10.0]
