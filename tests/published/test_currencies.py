"""Decimals of currencies by ISO 4217, and the smallest price step that comes of them; rounding of halves."""

import pytest

from pricing.model.currency import minor_unit_digits

from .small_workshop import material, priced

# ISO 4217, List One, as package currency-codes 2.2.0 carries it (seen, package output).
DIGITS = {
    2: "USD EUR GBP HUF IDR",
    0: "JPY KRW ISK CLP VND XAF UGX",
    3: "KWD BHD OMR JOD TND LYD IQD",
    4: "CLF UYW",
}
# Where CLDR (package Babel 2.18) says 0 and ISO 4217 does not (seen, computed from both): ISO decides here.
CLDR_SAYS_NONE = {2: "AFN ALL IRR KPW LAK LBP MGA MMK RSD SOS SYP YER", 3: "IQD"}


@pytest.mark.parametrize(
    ("currency", "digits"),
    [
        (currency, digits)
        for table in (DIGITS, CLDR_SAYS_NONE)
        for digits, codes in table.items()
        for currency in codes.split()
    ],
)
def test_digits(currency, digits):
    assert minor_unit_digits(currency) == digits


@pytest.mark.parametrize("no_money", ["XAU", "XAG", "XTS", "XXX"])
def test_metals_and_test_codes_have_no_coin(no_money):
    """ISO 4217, List One (from memory): minor unit N.A. for gold, silver, the test code and "no currency"."""
    with pytest.raises(KeyError):
        minor_unit_digits(no_money)


@pytest.mark.parametrize(
    ("currency", "price"),
    [
        ("JPY", 1235.0),  # steps of 1
        ("GBP", 1234.57),  # 0.01
        ("RSD", 1234.57),  # 0.01, where CLDR would say 1
        ("KWD", 1234.568),  # 0.001
        ("IQD", 1234.568),  # 0.001, where CLDR would say 1
        ("CLF", 1234.5679),  # 0.0001
    ],
)
def test_default_step_is_the_minor_unit(tmp_path, currency, price):
    """A cost of 1,234.56781, asked back as it is and rounded up, by the decimals above."""
    tables = material(1234.56781)
    tables["workshop"]["currency"] = currency
    assert priced(tmp_path, **tables)["shop"]["price"] == pytest.approx(price, rel=1e-12)


@pytest.mark.parametrize(
    ("currency", "step", "price"),
    [("CHF", 0.05, 12.35), ("CAD", 0.05, 12.35), ("DKK", 0.50, 12.50)],
)
def test_cash_steps_are_the_makers_to_state(tmp_path, currency, step, price):
    """Smallest coins by CLDR, package Babel (seen, package output). They are not in ISO 4217: 12.314 comes to 12.35 or
    12.50 where the step is stated, and to 12.32 by the minor unit where it is not."""
    tables = material(12.314)
    tables["workshop"]["currency"] = currency
    coins = priced(tmp_path / "coins", **tables, channels={"shop": {"rounding": {"step": step}}})["shop"]
    minor = priced(tmp_path / "minor", **tables)["shop"]
    assert coins["price"] == pytest.approx(price, rel=1e-12)
    assert minor["price"] == pytest.approx(12.32, rel=1e-12)


@pytest.mark.parametrize(("cost", "price"), [(2.5, 3.0), (3.5, 4.0), (2.49, 2.0)])
def test_halves_go_up(tmp_path, cost, price):
    """LibreOffice 7.4.7, ROUND(2.5) = 3 (seen, program output). ASTM E29, 6.4 (from memory) takes halves to even, 2:
    a rule for fineness and weight limits, not for money."""
    rounding = {"rounding": {"step": 1.0, "direction": "nearest"}}
    assert priced(tmp_path, **material(cost), channels={"shop": rounding})["shop"]["price"] == price
