"""How far a price lies from another: in one unit, one currency, at the exchange rates of their days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pricing.folder.prices.in_force import in_force, price_per_gram
from pricing.model.quote import Quote


def last_before(quotes: Iterable[Quote], like: Quote) -> Quote | None:
    """The quote of the same metal or currency that was in force when `like` came, or on its day already."""
    held = in_force(quotes, like.date)
    return (held.exchange if like.per == "unit" else held.metals).get(like.metal)


def change(new: Quote, old: Quote, quotes: Sequence[Quote], home: str) -> float | None:
    """How much dearer `new` is than `old`, as a fraction; None where their currencies cannot be compared.

    In the currency of the quotes if it is the same; else in the workshop's, each at the exchange rate of its day.
    """
    if new.currency == old.currency:
        return price_per_gram(new) / price_per_gram(old) - 1
    new_rate, old_rate = _rate(new, quotes, home), _rate(old, quotes, home)
    if new_rate is None or old_rate is None:
        return None
    return price_per_gram(new, new_rate) / price_per_gram(old, old_rate) - 1


def _rate(quote: Quote, quotes: Sequence[Quote], home: str) -> float | None:
    return in_force(quotes, quote.date).rate_of(quote.currency, home)
