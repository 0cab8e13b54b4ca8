"""How people see figures: money with the currency's digits, masses and lengths in the units that they chose."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from decimal import Decimal
from types import MappingProxyType
from typing import TYPE_CHECKING

from pricing.model.currency import minor_unit_digits
from pricing.model.metals import WORDS
from pricing.model.quote import Quote
from pricing.model.stated import Stated
from pricing.model.workshop import Show
from pricing.units import GRAMS_PER, MILLIMETRES_PER_INCH, fahrenheit

if TYPE_CHECKING:
    from pricing.model.rows import Resolved

NOTHING = "–"  # what cannot be computed
#: What is said to cost so much, by how it is sold.
COSTS: Mapping[str, str] = MappingProxyType({"each": "one costs", "pair": "a pair costs", "set": "a set costs"})


@dataclass(frozen=True)
class Shown:
    """Writes figures for one workshop. What is None is written as a dash.

    `currencies` are those of the channels, by name; a channel that is not there is in the workshop's.
    """

    currency: str
    show: Show = Show()
    currencies: Mapping[str, str] = field(default_factory=dict, compare=False)

    def currency_in(self, channel: str) -> str:
        """The currency that the buyers of a channel pay in."""
        return self.currencies.get(channel, self.currency)

    def price(self, channel: str, amount: float | None, signed: bool = False) -> str:
        """An amount that the buyers of a channel see."""
        return self.in_currency(amount, self.currency_in(channel), signed)

    def channel(self, name: str) -> str:
        """A channel with its currency, where that is not the workshop's: `shop`, `abroad, USD`."""
        currency = self.currency_in(name)
        return name if currency == self.currency else f"{name}, {currency}"

    def money(self, amount: float | None, signed: bool = False) -> str:
        """`1,234.50`, with the digits that ISO 4217 gives the currency."""
        return self.in_currency(amount, self.currency, signed)

    def in_currency(self, amount: float | None, currency: str, signed: bool = False) -> str:
        """The same in another currency, with the digits that it has."""
        if amount is None:
            return NOTHING
        digits = minor_unit_digits(currency)
        rounded = round(amount, digits) + 0.0  # no negative zero
        return f"{rounded:{'+' if signed else ''},.{digits}f}"

    def mass(self, grams: float | None, unit: bool = True, signed: bool = False) -> str:
        """Gram to 0.01; pennyweight to 0.01; troy ounce to 0.001."""
        if grams is None:
            return NOTHING
        digits = 3 if self.show.mass == "ozt" else 2
        amount = round(grams / GRAMS_PER[self.show.mass], digits) + 0.0
        return f"{amount:{'+' if signed else ''},.{digits}f}{f' {self.show.mass}' if unit else ''}"

    def length(self, millimetres: float | None) -> str:
        """Millimetres to 0.1, inches to 0.001."""
        if millimetres is None:
            return NOTHING
        if self.show.length == "in":
            return f"{millimetres / MILLIMETRES_PER_INCH:.3f} in"
        return f"{millimetres:.1f} mm"

    def lengths(self, millimetres: Iterable[float]) -> str:
        """Several with the unit once: `21.0 × 18.4 × 27.3 mm`."""
        told = [self.length(side).rsplit(" ", 1) for side in millimetres]
        return f"{' × '.join(number for number, _ in told)} {told[0][1]}"

    def temperature(self, celsius: float | None) -> str:
        """Whole degrees."""
        if celsius is None:
            return NOTHING
        return f"{fahrenheit(celsius):.0f} °F" if self.show.temperature == "F" else f"{celsius:.0f} °C"


def shown_of(stated: Stated, show: Show | None = None) -> Shown:
    """How the figures of a folder are written: as its maker sees them, or otherwise where `show` says so."""
    workshop = stated.workshop
    named = {name: each.currency for name, each in stated.channels.items() if each.currency}
    return Shown(workshop.currency, workshop.show if show is None else show, MappingProxyType(named))


def percent(fraction: float | None, digits: int = 0, signed: bool = False) -> str:
    """`23 %`; signed, a change: `+4.3 %`, `-4.3 %`, and `0.0 %` for one that is less than can be shown."""
    if fraction is None:
        return NOTHING
    rounded = round(100 * fraction, digits) + 0.0  # no negative zero
    return f"{rounded:{'+' if signed and rounded else ''}.{digits}f} %"


def apart(one: str, other: str) -> Decimal | None:
    """How far a written figure lies from another, in its unit: the difference of what is read, so that whoever takes
    it by hand finds the same. None where one of them is no figure.

    A difference of the figures before they are rounded may lie one in the last digit beside it.
    """
    if NOTHING in (one, other):
        return None
    first, second = (Decimal(text.split()[0].replace(",", "").replace("\N{MINUS SIGN}", "-")) for text in (one, other))
    return first - second


def apart_said(one: str, other: str) -> str:
    """The same in words, with its sign: `+0.23`; of two percentages `-1 point`, `+12 points`."""
    gap = apart(one, other)
    if gap is None:
        return NOTHING
    return f"{gap:+,}" + (f" {'point' if abs(gap) == 1 else 'points'}" if one.endswith("%") else "")


def metal_named(metal: str) -> str:
    """`Silver (Ag)`; a supplier's grain or a currency by its own name."""
    return f"{WORDS[metal][0].capitalize()} ({metal})" if metal in WORDS else metal


def metal_said(text: str) -> str:
    """The metal whose name was written as it is shown: `Ag` of `Silver (Ag)`; any other text as it stands."""
    return next((metal for metal in WORDS if metal_named(metal).casefold() == text.strip().casefold()), text)


def metal_of(resolved: Resolved) -> str:
    """Of which day the metal is: that of the newest quote used, and the day asked for where it is another."""
    on = resolved.as_of
    newest = max((metal.quoted_on for metal in resolved.metals if metal.quoted_on), default=on)
    return f"metal of {newest}" if newest == on else f"metal of {newest} (in force on {on})"


def quoted_price(quote: Quote) -> str:
    """A price with the digits that people give it: rates to 0.0001, prices to 0.01, small ones to four figures."""
    return _price_per(quote.price, quote.per)


def _price_per(price: float, per: str) -> str:
    digits = 4 if per == "unit" else 2
    if 0 < price < 1 and per != "unit":
        digits = 3 - math.floor(math.log10(price))
    return f"{price:,.{digits}f}"


def quoted_in(quote: Quote) -> str:
    """What a price is told in: `USD per ozt`, for an exchange rate `GBP`."""
    return _told_in(quote.currency, quote.per)


def _told_in(currency: str, per: str) -> str:
    return currency if per == "unit" else f"{currency} per {per}"


def metal_at(metal: str, price: float, currency: str, per: str) -> str:
    """A metal or a currency with its price: `Silver (Ag) 38.40 USD per ozt`, `USD 0.7900 GBP`."""
    return f"{metal_named(metal)} {_price_per(price, per)} {_told_in(currency, per)}"


def hours(amount: float | None) -> str:
    """`1 h 05 min`, or `12 min` under an hour."""
    if amount is None:
        return NOTHING
    minutes = round(amount * 60)
    return f"{minutes // 60} h {minutes % 60:02d} min" if minutes >= 60 else f"{minutes} min"
