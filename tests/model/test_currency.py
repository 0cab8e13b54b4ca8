"""Currencies and their decimals, against the package's own reading of the ISO 4217 table and known cases."""

from __future__ import annotations

import subprocess
import sys

import iso4217
import pytest

from pricing.model.currency import currencies, minor_unit_digits


@pytest.mark.parametrize(
    ("currency", "digits"),
    [
        ("GBP", 2), ("EUR", 2), ("USD", 2), ("JPY", 0), ("KWD", 3), ("CLF", 4),
        # CLDR shows these without decimals; ISO 4217 gives them two (HUF, COP) and three (IQD)
        ("HUF", 2), ("COP", 2), ("IQD", 3),
    ],
)  # fmt: skip
def test_known_currencies(currency, digits):
    """ISO 4217, list one (current currencies)."""
    assert minor_unit_digits(currency) == digits


def test_the_same_as_the_package_reads():
    read = {code: entry["CcyMnrUnts"] for code, entry in iso4217.raw_table.items() if code}
    assert dict(currencies()) == {code: int(digits) for code, digits in read.items() if digits.isdecimal()}


@pytest.mark.parametrize("code", ["XAU", "XTS", "GBp", "gbp", "", "EURO"])
def test_what_is_no_currency(code):
    with pytest.raises(KeyError):
        minor_unit_digits(code)


def test_the_package_itself_is_not_loaded():
    program = (
        "import sys; from pricing.model.workshop import minor_unit_digits; "
        "minor_unit_digits('GBP'); print('iso4217' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"
