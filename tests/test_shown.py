"""Figures as people see them, in the units that they chose."""

from __future__ import annotations

import pytest

from pricing.model.workshop import Show
from pricing.shown import NOTHING, Shown, apart, apart_said, metal_at


def shown(currency: str = "GBP", **units: str) -> Shown:
    return Shown(currency, Show(**units))


@pytest.mark.parametrize(
    ("unit", "told"),
    [
        ("g", "100.00 g"),
        ("dwt", "64.30 dwt"),  # 100 / 1.55517384 = 64.3015 (a pennyweight is 24 grains of 64.79891 mg)
        ("ozt", "3.215 ozt"),  # 100 / 31.1034768 = 3.21507
    ],
)
def test_masses(unit, told):
    assert shown(mass=unit).mass(100) == told
    assert shown(mass=unit).mass(-100, unit=False, signed=True) == "-" + told.split()[0]
    assert shown(mass=unit).mass(0, unit=False, signed=True).strip("+0.") == ""
    assert shown(mass=unit).mass(None) == NOTHING


def test_a_price_of_metal_is_told_in_one_way():
    assert metal_at("Ag", 38.4, "USD", "ozt") == "Silver (Ag) 38.40 USD per ozt"
    assert metal_at("brass-grain", 0.0098, "GBP", "g") == "brass-grain 0.009800 GBP per g"  # four figures below 1
    assert metal_at("USD", 0.79, "GBP", "unit") == "USD 0.7900 GBP"


def test_a_thousand_is_told_with_a_comma():
    assert shown().mass(1234.5) == "1,234.50 g"
    assert shown("JPY").money(1234.5) == "1,234"
    assert shown("KWD").money(-0.0001) == "0.000"


@pytest.mark.parametrize(
    ("unit", "one", "three"),
    [
        ("mm", "25.4 mm", "25.4 × 12.7 × 0.0 mm"),
        ("in", "1.000 in", "1.000 × 0.500 × 0.000 in"),  # an inch is 25.4 mm
    ],
)
def test_lengths(unit, one, three):
    assert shown(length=unit).length(25.4) == one
    assert shown(length=unit).lengths((25.4, 12.7, 0)) == three
    assert shown(length=unit).length(None) == NOTHING


@pytest.mark.parametrize(
    ("celsius", "in_c", "in_f"),
    [(0, "0 °C", "32 °F"), (100, "100 °C", "212 °F"), (960, "960 °C", "1760 °F"), (-40, "-40 °C", "-40 °F")],
)
def test_temperatures(celsius, in_c, in_f):
    assert shown(temperature="C").temperature(celsius) == in_c
    assert shown(temperature="F").temperature(celsius) == in_f
    assert shown().temperature(None) == NOTHING


def test_a_difference_is_that_of_what_is_read():
    """9.504 less 9.226 is 0.278, written 0.28; what is read is 9.50 and 9.23, and a reader finds 0.27."""
    assert apart_said(shown().money(9.504), shown().money(9.226)) == "+0.27"
    assert apart_said(shown().money(1234.5), shown().money(2234.75)) == "-1,000.25"
    assert apart_said("\N{MINUS SIGN}1.50", shown().money(2)) == "-3.50"
    assert apart_said("0.34", "0.34") == "+0.00" and not apart("0.34", "0.34")
    assert apart_said("19 %", "42 %") == "-23 points" and apart_said("43 %", "42 %") == "+1 point"
    assert apart_said(shown().money(1), NOTHING) == NOTHING and apart(NOTHING, "1.00") is None
