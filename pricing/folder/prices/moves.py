"""How far a price lies from another: in one unit, one currency, at the exchange rates of their days."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from pricing.folder.prices.in_force import in_force
from pricing.model.quote import Quote
from pricing.quantities.metal_price import spot_per_g
from pricing.units import GRAMS_PER


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


def price_per_gram(quote: Quote, rate: float = 1.0) -> float:
    """Price of one gram at an exchange rate, in the quote's own currency without one; of a currency the rate itself."""
    return float(spot_per_g(quote.price, GRAMS_PER.get(quote.per, 1.0), rate))


def _rate(quote: Quote, quotes: Sequence[Quote], home: str) -> float | None:
    if quote.currency == home:
        return 1.0
    rate = in_force(quotes, quote.date).exchange.get(quote.currency)
    return None if rate is None else rate.price
