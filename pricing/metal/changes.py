"""How far a price has moved: against the quote before it, and over a week, a month and a year."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType

from pricing.folder.prices.in_force import in_force, price_per_gram
from pricing.folder.prices.moves import change
from pricing.model.quote import Quote
from pricing.units import GRAMS_PER

#: Days over which a change is told, by the word for it.
SPANS = MappingProxyType({"week": 7, "month": 30, "year": 365})


@dataclass(frozen=True)
class Standing:
    """The quote of one metal or currency in force on a day.

    `changes` are fractions by the words of SPANS: the price now against the price in force so many days before;
    None where there was none, where the two cannot be compared, or where one of them was older by then than the span
    itself: what changed would have taken longer.
    """

    quote: Quote
    as_of: date
    changes: dict[str, float | None]

    @property
    def age_days(self) -> int:
        return (self.as_of - self.quote.date).days


def standings(quotes: Sequence[Quote], as_of: date, home: str) -> list[Standing]:
    """What is in force on a day: metals by name, then currencies. `home` is the workshop's currency."""
    now = in_force(quotes, as_of)
    before = {word: in_force(quotes, as_of - timedelta(days=days)) for word, days in SPANS.items()}
    found = []
    for kind in ("metals", "exchange"):
        for name, quote in sorted(getattr(now, kind).items()):
            changes = {}
            for word, then in before.items():
                old = getattr(then, kind).get(name)
                known = old is not None and _spans(quote, old, as_of, SPANS[word])
                changes[word] = change(quote, old, quotes, home) if known else None
            found.append(Standing(quote, as_of, changes))
    return found


def _spans(quote: Quote, old: Quote, as_of: date, days: int) -> bool:
    """Whether two quotes tell what happened in so many days: each was told within as many before its end of them."""
    return (as_of - quote.date).days < days and (as_of - old.date).days <= 2 * days


def prices_over(quotes: Sequence[Quote], like: Quote, first: date, last: date, count: int) -> list[float | None]:
    """The prices in force on `count` days spread evenly from `first` to `last`, in the unit and currency of `like`.

    None on days before the first quote; quotes in another currency are left out.
    """
    own = [quote for quote in quotes if quote.metal == like.metal and (quote.per == "unit") == (like.per == "unit")]
    own = sorted((quote for quote in own if quote.currency == like.currency), key=lambda quote: quote.date)
    factor = GRAMS_PER.get(like.per, 1.0)
    prices: list[float | None] = []
    place = 0
    for number in range(count):
        day = first + timedelta(days=round((last - first).days * number / max(count - 1, 1)))
        while place < len(own) and own[place].date <= day:
            place += 1
        prices.append(None if place == 0 else price_per_gram(own[place - 1]) * factor)
    return prices
