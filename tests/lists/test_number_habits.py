"""Figures in the habit of a locale, with the digits of ISO 4217."""

from __future__ import annotations

import re
from datetime import date
from decimal import Decimal

import babel.numbers
import pytest
from babel import Locale
from babel.dates import format_date

from pricing.errors import TroytagError, UsageFault
from pricing.lists.number_habits import habit
from pricing.model.workshop import Show

HARD = "\u00a0"  # a blank that does not break


@pytest.mark.parametrize(
    ("locale", "currency", "rounded"),
    [
        ("en_GB", "GBP", "1234.50"),
        ("en-GB", "GBP", "1234.50"),
        ("de_DE", "EUR", "1234.50"),
        ("fr_FR", "EUR", "1234.50"),
        ("de_CH", "CHF", "1234.50"),
        ("en_IN", "INR", "1234.50"),
        ("ja_JP", "JPY", "1234"),  # 1234.5 is a tie: to the even one, as the screen rounds
        ("en_US", "KWD", "1234.500"),
    ],
)
def test_money(monkeypatch, locale, currency, rounded):
    """Signs, their side and the marks between digits are CLDR's, whichever edition of it Babel carries; the digits
    are those of ISO 4217, list one: JPY none, KWD three, the others two."""
    digits = len(rounded.partition(".")[2])
    monkeypatch.setattr(babel.numbers, "get_currency_precision", lambda currency: digits)
    theirs = babel.numbers.format_currency(Decimal(rounded), currency, locale=locale.replace("-", "_"))
    written = habit(currency, Show(), locale).money(1234.5)
    assert blanks_out(written) == blanks_out(theirs)
    assert digits_of(written) == digits_of(rounded)


def blanks_out(text):
    return re.sub(r"\s", "", text)


def digits_of(text):
    return re.sub(r"\D", "", text)


def test_letters_before_a_figure_do_not_touch_it():
    """CLDR, currencySpacing: a sign that ends in a letter is kept apart, by a blank that does not break."""
    assert habit("KWD", Show(), "en_US").money(1).startswith(f"KWD{HARD}1")
    assert habit("GBP", Show(), "en_GB").money(1234.5) == "£1,234.50"


@pytest.mark.parametrize("cldr", [0, 2, 4])
@pytest.mark.parametrize(("currency", "written"), [("RSD", "12.50"), ("JPY", "12"), ("KWD", "12.500")])
def test_iso_decides_whatever_cldr_says(monkeypatch, currency, written, cldr):
    """ISO 4217, list one: the dinar of Serbia has two decimals, the yen none, the dinar of Kuwait three."""
    monkeypatch.setattr(babel.numbers, "get_currency_precision", lambda currency: cldr)
    theirs = babel.numbers.format_currency(Decimal("12.5"), currency, locale="en_GB")
    assert len(theirs.partition(".")[2]) == cldr  # so would be written what CLDR says
    assert habit(currency, Show(), "en_GB").figure(12.5) == written
    assert habit(currency, Show(), "en_GB").money(12.5).endswith(written)


def test_a_figure_is_rounded_as_the_screen_rounds_and_never_minus_nought():
    written = habit("GBP", Show(), "en_GB")
    assert written.figure(2.675) == "2.67"  # the float is 2.67499…
    assert written.figure(-0.001) == "0.00"
    assert written.figure(None) == "–"


def test_masses_and_shares_have_the_marks_of_the_locale():
    point, group = (read("de_DE") for read in (babel.numbers.get_decimal_symbol, babel.numbers.get_group_symbol))
    in_ounces = habit("GBP", Show(mass="ozt"), "de_DE")
    assert in_ounces.mass(31.1034768) == f"1{point}000 ozt"  # one troy ounce in gram
    assert habit("GBP", Show(), "de_DE").mass(1234.567, unit=False) == f"1{group}234{point}57"
    assert habit("GBP", Show(), "en_GB").percent(0.175) == "17.5%"
    assert digits_of(habit("GBP", Show(), "de_DE").percent(0.2)) == "20"


@pytest.mark.parametrize("locale", ["en_GB", "de_DE", "ja_JP"])
def test_a_date_is_written_as_the_locale_writes_a_middling_one(locale):
    day = date(2026, 11, 20)
    assert habit("GBP", Show(), locale).date(day) == format_date(day, "medium", Locale.parse(locale))


@pytest.mark.parametrize(
    ("environment", "currency", "locale"),
    [
        ({"LANG": "de_DE.UTF-8"}, "EUR", "de_DE"),
        ({"LANG": "de_DE.UTF-8", "LC_ALL": "fr_CH.UTF-8"}, "EUR", "fr_CH"),
        ({"LC_MONETARY": "it_IT.UTF-8", "LANG": "de_DE.UTF-8"}, "EUR", "it_IT"),
        ({"LANG": "C.UTF-8"}, "GBP", "en_GB"),
        ({"LC_ALL": "POSIX"}, "CHF", "en_CH"),
        ({}, "EUR", "en_IE"),
        ({}, "XOF", "en"),  # by ISO 3166 no country's code is XO, so nobody writes English as in it
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


@pytest.mark.parametrize(
    ("grams", "written"),
    [(26.294, "26.3 g"), (2.1, "2.10 g"), (128.4, "128 g"), (1174.2, "1,170 g"), (0.4567, "0.457 g"), (0.0, "0 g")],
)
def test_a_customer_reads_a_mass_to_three_significant_digits(grams, written):
    assert habit("GBP", Show(), "en_GB").about(grams) == written
