"""Which quote and which exchange rate are in force on a day."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from operator import attrgetter

from pricing.model.currency import currencies
from pricing.model.quote import Quote
from pricing.quantities.metal_price import spot_per_g
from pricing.shown import metal_named
from pricing.units import GRAMS_PER


@dataclass(frozen=True)
class InForce:
    """The quotes in force on `as_of`: metals by name, exchange rates by currency."""

    as_of: date
    metals: Mapping[str, Quote]
    exchange: Mapping[str, Quote]

    def price_per_g(self, metal: str, home: str) -> float | None:
        """Price of a gram of a metal in the currency `home`; None where it has none yet, or its currency no rate."""
        quote = self.metals.get(metal)
        rate = self.rate_of(quote.currency, home) if quote else None
        return None if quote is None or rate is None else price_per_gram(quote, rate)

    def rate_of(self, currency: str, home: str) -> float | None:
        """What one unit of a currency costs in `home`; None where no rate is told yet."""
        rate = self.exchange.get(currency)
        return 1.0 if currency == home else rate.price if rate else None


def price_per_gram(quote: Quote, rate: float = 1.0) -> float:
    """Price of one gram at an exchange rate, in the quote's own currency without one; of a currency the rate itself."""
    return float(spot_per_g(quote.price, GRAMS_PER.get(quote.per, 1.0), rate))


def in_force(quotes: Iterable[Quote], as_of: date) -> InForce:
    """The newest quote of each metal and currency dated on or before `as_of`, of equal dates the last line."""
    metals: dict[str, Quote] = {}
    exchange: dict[str, Quote] = {}
    for quote in quotes:
        if quote.date > as_of:
            continue
        held = exchange if quote.per == "unit" else metals
        before = held.get(quote.metal)
        if before is None or quote.date >= before.date:
            held[quote.metal] = quote
    return InForce(as_of, metals, exchange)


def in_force_by_day(quotes: Iterable[Quote]) -> Iterator[InForce]:
    """What is in force on every day on which something was quoted, from the first on; each day as `in_force` says it.

    What is given holds for its own day only: with the next the same tables go on.
    """
    metals: dict[str, Quote] = {}
    exchange: dict[str, Quote] = {}
    for day, told in groupby(sorted(quotes, key=attrgetter("date")), key=attrgetter("date")):
        for quote in told:  # those of one day in the order of their lines
            (exchange if quote.per == "unit" else metals)[quote.metal] = quote
        yield InForce(day, metals, exchange)


#: So many quotes are named in one note.
MOST_NAMED = 4


def exchange_problem(quote: Quote, home: str) -> tuple[str, str, str] | None:
    """What is wrong with an exchange line, as (column, problem, mend), or None."""
    if quote.per != "unit":
        return None
    if quote.metal not in currencies():
        return (
            "metal",
            f'"{quote.metal}" is no currency, and per = unit says an exchange rate',
            "Write per as ozt, g, kg …",
        )
    if quote.currency != home:
        mend = f"Say what one {quote.metal} costs in {home}."
        return "currency", f"an exchange rate is told in {quote.currency}, the workshop counts in {home}", mend
    return None


def age_warning(quotes: Sequence[Quote], as_of: date, stale_after_days: float) -> str | None:
    """One sentence for all quotes in force that are older than the workshop allows, None where none is."""
    old = sorted(
        (quote for quote in quotes if (as_of - quote.date).days > stale_after_days), key=lambda quote: quote.date
    )
    if not old:
        return None
    oldest = (as_of - old[0].date).days
    if len(old) == 1:
        return f"the quote in force for {metal_named(old[0].metal)} is {oldest} days old on {as_of} (of {old[0].date})"
    names = [metal_named(quote.metal) for quote in old]
    listed = ", ".join(names[:MOST_NAMED]) + (f" and {len(names) - MOST_NAMED} more" if names[MOST_NAMED:] else "")
    newest = (as_of - old[-1].date).days
    ages = f"{oldest} days" if newest == oldest else f"{newest} to {oldest} days"
    return f"{len(old)} quotes in force are {ages} old on {as_of}: {listed}"
