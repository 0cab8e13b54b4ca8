"""How figures are written for readers of a list: the number habit of a locale, the digits of the currency."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import TYPE_CHECKING

from pricing.errors import UsageFault
from pricing.extras import missing
from pricing.model.currency import minor_unit_digits
from pricing.model.workshop import Show
from pricing.shown import NOTHING
from pricing.units import GRAMS_PER

if TYPE_CHECKING:
    from babel import Locale
    from babel.numbers import NumberPattern

#: Digits of a mass that a customer reads.
SIGNIFICANT = 3
#: What babel makes of an environment that states no locale.
NO_LOCALE = "en_US_POSIX"
#: Territories whose offices print on Letter (CLDR, supplemental/measurementData, paperSize US-Letter).
LETTER_TERRITORIES = frozenset("BZ CA CL CO CR GT MX NI PA PH PR SV US VE".split())


@dataclass(frozen=True)
class Habit:
    """Writes figures by one locale's habit. The currency's digits are ISO 4217's: CLDR's differ for a few."""

    locale: Locale
    currency: str
    show: Show = Show()

    @property
    def sign(self) -> str:
        """The currency's sign as this locale writes it: `£`, `CHF`."""
        from babel.numbers import get_currency_symbol

        return get_currency_symbol(self.currency, self.locale)

    def money(self, amount: float | None) -> str:
        """`£1,234.50`, `1.234,50 €`."""
        if amount is None:
            return NOTHING
        digits, pattern = minor_unit_digits(self.currency), self.locale.currency_formats["standard"].pattern
        if self.sign[-1].isalpha():  # CLDR, currencySpacing: letters do not touch figures
            pattern = pattern.replace("¤#", "¤\u00a0#")
        return self._written(pattern, amount, digits, digits)

    def figure(self, amount: float | None) -> str:
        """The same without the sign, for a column whose head bears it."""
        digits = minor_unit_digits(self.currency)
        return self.number(amount, digits, digits)

    def number(self, amount: float | None, least: int = 0, most: int = 0) -> str:
        """A number with at least and at most so many decimals."""
        if amount is None:
            return NOTHING
        return self._written(self.locale.decimal_formats[None].pattern, amount, least, most)

    def percent(self, fraction: float) -> str:
        """`20%`, `17,5 %`: up to two decimals."""
        return self._written(self.locale.percent_formats[None].pattern, fraction, 0, 2, digits_lost=2)

    def mass(self, grams: float, unit: bool = True) -> str:
        """A mass in the unit that the workshop shows: to 0.01, troy ounces to 0.001."""
        digits = 3 if self.show.mass == "ozt" else 2
        written = self.number(grams / GRAMS_PER[self.show.mass], digits, digits)
        return f"{written} {self.show.mass}" if unit else written

    def about(self, grams: float, unit: bool = True) -> str:
        """A mass to three significant digits, as customers weigh it."""
        amount = grams / GRAMS_PER[self.show.mass]
        digits = SIGNIFICANT - 1 - math.floor(math.log10(amount)) if amount > 0 else 0
        written = self.number(round(amount, digits), max(0, digits), max(0, digits))
        return f"{written} {self.show.mass}" if unit else written

    def date(self, day: date) -> str:
        """`20 Nov 2026`, `20.11.2026`."""
        from babel.dates import format_date

        return format_date(day, "medium", self.locale)

    @property
    def paper(self) -> str:
        """`Letter` where offices print on it, else `A4`."""
        return "Letter" if self.locale.territory in LETTER_TERRITORIES else "A4"

    def _written(self, pattern: str, amount: float, least: int, most: int, digits_lost: int = 0) -> str:
        from babel.numbers import parse_pattern

        parsed: NumberPattern = parse_pattern(pattern)
        parsed.frac_prec = (least, most)
        # Rounded as the screen rounds: through the shortest text of the float, never its binary tail.
        exact = Decimal(repr(round(float(amount), most + digits_lost) + 0.0))
        return str(parsed.apply(exact, self.locale, currency=self.currency, currency_digits=False))


def habit(currency: str, show: Show, stated: str | None = None) -> Habit:
    """The habit of the locale `stated`, else of the environment (LC_MONETARY, LC_ALL, LANG), else of the currency.

    The currency's own is English as written where it is money (en_GB for GBP, en_CH for CHF, en_IE for EUR), because
    what stands around the figures is English. Raises UsageFault for an unknown locale.
    """
    try:
        from babel import Locale, UnknownLocaleError
        from babel.core import default_locale
    except ImportError:
        raise missing("A price list", "babel", "lists") from None
    if stated is not None:
        try:
            return Habit(Locale.parse(stated.replace("-", "_")), currency, show)
        except (ValueError, TypeError, UnknownLocaleError):
            raise UsageFault(f'"{stated}" is no locale. Write one such as en_GB, de_DE or fr_CH.') from None
    around = default_locale("LC_MONETARY")
    # The first two letters of a currency's code are its country's (ISO 4217), of EUR nobody's.
    home = "en_IE" if currency == "EUR" else f"en_{currency[:2]}"
    for name in (around if around != NO_LOCALE else None, home):
        try:
            if name:
                return Habit(Locale.parse(name), currency, show)
        except (ValueError, UnknownLocaleError):
            continue
    return Habit(Locale.parse("en"), currency, show)
