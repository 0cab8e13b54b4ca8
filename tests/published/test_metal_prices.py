"""Metal prices of a known past: quotes per troy ounce and tonne, exchange rates, and a refiner's tariff."""

from datetime import date

import pytest

from pricing.quantities.metal_price import scrap_less_fee_per_g, scrap_price_per_g, spot_per_g
from pricing.units import GRAMS_PER

from .small_workshop import WORTHLESS, costed

JANUARY_1960 = date(1960, 1, 31)
#: Fine gold in a US dollar, in gram: par value at the International Monetary Fund from 1946 on (from memory).
GOLD_IN_A_DOLLAR_G = 0.888671
#: And in a pound sterling from 1949 on, at 2.80 dollars (from memory).
GOLD_IN_A_POUND_G = 2.48828


def fine(element):
    return {**WORTHLESS, "composition": {element: 1.0}, "unpriced": []}


def test_gold_at_35_dollars():
    """World Bank, Pink Sheet, monthly, 1960M01 (seen): gold 35 US dollars an ounce; a dollar bought the par value."""
    assert 1 / spot_per_g(35, GRAMS_PER["ozt"], 1) == pytest.approx(GOLD_IN_A_DOLLAR_G, abs=5e-7)


def test_gold_in_pounds(tmp_path):
    """The same quote in dollars, for a workshop that counts in pounds: a pound bought its own par value of gold."""
    (record,) = costed(
        tmp_path,
        alloys={"gold": fine("Au")},
        quotes=[("Au", 35.0, "ozt", "USD"), ("USD", 1 / 2.80, "unit", "GBP")],
        as_of=JANUARY_1960,
    )
    assert 1 / record["melt_value_per_g"] == pytest.approx(GOLD_IN_A_POUND_G, abs=5e-6)


def test_brass_by_its_contents(tmp_path):
    """World Bank, Pink Sheet, 1960M01 (seen): copper 715, zinc 261 US dollars a tonne. C27000 is 65 Cu, 35 Zn:
    0.65 × 715 + 0.35 × 261 = 556.10 a tonne."""
    (record,) = costed(
        tmp_path,
        workshop={"currency": "USD"},
        alloys={"brass": {**WORTHLESS, "composition": {"Cu": 0.65, "Zn": 0.35}, "unpriced": []}},
        quotes=[("Cu", 715.0, "t", "USD"), ("Zn", 261.0, "t", "USD")],
        as_of=JANUARY_1960,
    )
    assert record["melt_value_per_g"] * 1_000_000 == pytest.approx(556.10, rel=1e-12)


def test_copper_by_the_pound(tmp_path):
    """The same copper by the pound: 715 / 2,204.623 (NIST Handbook 44, Appendix C, from memory) is 0.324318 a pound, so
    that both ways of quoting come to one price."""
    pound, tonne = (
        costed(
            tmp_path / per,
            workshop={"currency": "USD"},
            alloys={"copper": fine("Cu")},
            quotes=[("Cu", price, per, "USD")],
            as_of=JANUARY_1960,
        )[0]
        for price, per in ((715 / 2204.623, "lb"), (715.0, "t"))
    )
    assert pound["melt_value_per_g"] == pytest.approx(tonne["melt_value_per_g"], rel=1e-6)


@pytest.mark.parametrize(
    ("metal", "quote", "payout", "charge", "per_ounce"),
    [
        # Tariff: jrginc.com, meltables (seen): gold 98 % less 1.25 an ounce received, silver 95 % less 0.30.
        # Quotes: World Bank, Pink Sheet, 1960M01 (seen).
        ("gold", 35.0, 0.98, 1.25, 35 * 0.98 - 1.25),  # 33.05
        ("silver", 0.9, 0.95, 0.30, 0.9 * 0.95 - 0.30),  # 0.555
        ("silver", 0.3, 0.95, 0.30, 0.0),  # 0.285 less 0.30: not worth its charge, so kept
    ],
)
def test_refiners_tariff(metal, quote, payout, charge, per_ounce):
    """A share of the value less a charge by weight, both per troy ounce; the source prints no worked figure."""
    value = spot_per_g(quote, GRAMS_PER["ozt"], 1)
    paid = scrap_price_per_g(scrap_less_fee_per_g(value, payout, charge / GRAMS_PER["ozt"]))
    assert paid * GRAMS_PER["ozt"] == pytest.approx(per_ounce, rel=1e-12, abs=1e-12), metal
