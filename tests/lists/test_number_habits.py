"""Figures in the habit of a locale, with the digits of ISO 4217."""

from __future__ import annotations

from datetime import date

import pytest
from babel.numbers import get_currency_precision

from pricing.errors import TroytagError, UsageFault
from pricing.lists.number_habits import habit
from pricing.model.workshop import Show

THIN, HARD = "\u202f", "\u00a0"  # blanks that do not break


@pytest.mark.parametrize(
    ("locale", "currency", "written"),
    [
        ("en_GB", "GBP", "£1,234.50"),
        ("en-GB", "GBP", "£1,234.50"),
        ("de_DE", "EUR", f"1.234,50{HARD}€"),
        ("fr_FR", "EUR", f"1{THIN}234,50{HARD}€"),
        ("de_CH", "CHF", f"CHF{HARD}1’234.50"),
        ("en_IN", "INR", "₹1,234.50"),
        ("ja_JP", "JPY", "￥1,234"),  # 1234.5 is a tie: to the even one, as the screen rounds
        ("en_US", "KWD", f"KWD{HARD}1,234.500"),
    ],
)
def test_money(locale, currency, written):
    """CLDR 46 and later write so; digits by ISO 4217: JPY none, KWD three, the others two."""
    assert habit(currency, Show(), locale).money(1234.5) == written


def test_iso_decides_where_cldr_differs():
    """The dinar of Serbia has 2 decimals in ISO 4217 and none in CLDR."""
    assert get_currency_precision("RSD") == 0
    assert habit("RSD", Show(), "en_GB").figure(12.5) == "12.50"


def test_a_figure_is_rounded_as_the_screen_rounds_and_never_minus_nought():
    written = habit("GBP", Show(), "en_GB")
    assert written.figure(2.675) == "2.67"  # the float is 2.67499…
    assert written.figure(-0.001) == "0.00"
    assert written.figure(None) == "–"


def test_masses_dates_and_shares():
    in_ounces = habit("GBP", Show(mass="ozt"), "de_DE")
    assert in_ounces.mass(31.1034768) == "1,000 ozt"  # one troy ounce in gram
    assert habit("GBP", Show(), "de_DE").mass(1234.567, unit=False) == "1.234,57"
    assert habit("GBP", Show(), "en_GB").date(date(2026, 11, 20)) == "20 Nov 2026"
    assert habit("GBP", Show(), "de_DE").date(date(2026, 11, 20)) == "20.11.2026"
    assert habit("GBP", Show(), "en_GB").percent(0.175) == "17.5%"
    assert habit("GBP", Show(), "de_DE").percent(0.2) == f"20{HARD}%"


@pytest.mark.parametrize(
    ("environment", "currency", "locale"),
    [
        ({"LANG": "de_DE.UTF-8"}, "EUR", "de_DE"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "fr_CH.UTF-8"}, "EUR", "fr_CH"),
        ({"LC_MONETARY": "it_IT.UTF-8", "LANG": "de_DE.UTF-8"}, "EUR", "it_IT"),
        ({"LANG": "C.UTF-8"}, "GBP", "en_GB"),
        ({"LC_ALL": "POSIX"}, "CHF", "en_CH"),
        ({}, "EUR", "en_IE"),
        ({}, "JPY", "en"),  # nobody has written down English as in Japan
        ({"LANG": "xx_YY@@"}, "GBP", "en_GB"),
    ],
)
def test_the_environment_then_the_currency(monkeypatch, environment, currency, locale):
    for name in ("LANGUAGE", "LC_ALL", "LC_CTYPE", "LC_MONETARY", "LANG"):
        monkeypatch.delenv(name, raising=False)
    for name, value in environment.items():
        monkeypatch.setenv(name, value)
    assert str(habit(currency, Show()).locale) == locale


def test_an_unknown_locale_is_refused_with_its_mend():
    with pytest.raises(UsageFault, match='"klingon" is no locale. Write one such as en_GB'):
        habit("GBP", Show(), "klingon")


def test_paper():
    assert habit("USD", Show(), "en_US").paper == "Letter"
    assert habit("GBP", Show(), "en_GB").paper == "A4"


def test_babel_missing_is_one_sentence(monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "babel", None)
    with pytest.raises(TroytagError, match=r'needs babel, .* Install it with: pip install "troytag\[lists\]"'):
        habit("GBP", Show(), "en_GB")
