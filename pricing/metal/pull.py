"""Pulling prices from the sources that the maker chose, and refusing those that cannot be right."""

from __future__ import annotations

import asyncio
import ssl
from collections.abc import Iterable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date
from decimal import Context, Decimal, InvalidOperation
from pathlib import Path

from pricing.errors import Faults
from pricing.folder.prices.append import typed_quote
from pricing.folder.prices.moves import change, last_before
from pricing.folder.prices.read import MetalPrices
from pricing.folder.prices.slips import HAIR, slips
from pricing.metal.faults import PullFault
from pricing.metal.fetch import FetchLimits, Resolve, fetch, read_source_file
from pricing.metal.pick import Picked, pick
from pricing.model.quote import Quote
from pricing.model.source import Source
from pricing.shown import percent

#: A source whose price is older than this, in days, is no longer kept.
MOST_DAYS_OLD = 366
#: Significant digits of a rate that is turned round.
TURNED_DIGITS = 8


@dataclass(frozen=True)
class Pulled:
    """What came of one source: a quote with its number as it shall be written, or why there is none.

    `known`: the price history holds that very quote already. `before` is the quote that was in force, `moved` the
    change against it as a fraction (None where there is none to compare with).
    """

    name: str
    quote: Quote | None = None
    number: str = ""
    fault: PullFault | None = None
    known: bool = False
    before: Quote | None = None
    moved: float | None = None


def pull(
    prices: MetalPrices,
    names: Iterable[str],
    today: date,
    limits: FetchLimits = FetchLimits(),  # noqa: B008 (frozen)
    resolve: Resolve | None = None,
    trusted: ssl.SSLContext | None = None,
) -> list[Pulled]:
    """Ask these sources of the workshop, all at once; nothing is written. `resolve`, `trusted`: see `fetch`."""
    sources = {name: prices.workshop.sources[name] for name in names}
    asking = _contents(prices.root, sources.values(), limits, resolve, trusted)
    with ThreadPoolExecutor(1) as apart:  # whoever calls may have an event loop running
        contents = apart.submit(asyncio.run, asking).result()
    return [_pulled(prices, name, source, contents[_where(source)], today) for name, source in sources.items()]


def _where(source: Source) -> tuple[str, bool]:
    """What is read for a source; two sources may share it."""
    return (source.address or source.file or "", source.loopback)


async def _contents(
    root: Path,
    sources: Iterable[Source],
    limits: FetchLimits,
    resolve: Resolve | None,
    trusted: ssl.SSLContext | None,
) -> dict[tuple[str, bool], bytes | PullFault]:
    """What each place gives, each asked once."""

    async def content(source: Source) -> bytes | PullFault:
        try:
            if source.address is not None:
                return await fetch(source.address, source.loopback, limits, resolve, trusted)
            return read_source_file(root / (source.file or ""), limits)
        except PullFault as fault:
            return fault

    places = {_where(source): source for source in sources}
    found = await asyncio.gather(*(content(source) for source in places.values()))
    return dict(zip(places, found, strict=True))


def _pulled(prices: MetalPrices, name: str, source: Source, content: bytes | PullFault, today: date) -> Pulled:
    if isinstance(content, PullFault):
        return Pulled(name, fault=content)
    try:
        quote, number = _quote(name, source, pick(content, source), today)
    except PullFault as fault:
        return Pulled(name, fault=fault)
    quotes = prices.quotes
    before = last_before(quotes, quote)
    moved = None if before is None else change(quote, before, quotes, prices.workshop.currency)
    if before is not None and moved is not None and abs(moved) > source.band + HAIR:
        return Pulled(name, fault=_jump(quote, number, before, moved, source.band), before=before, moved=moved)
    for slip in slips(quote, quotes, prices.needed, prices.workshop.currency, number):
        if slip.column != "price":  # how far a price may move, the source's own band says
            doubted = PullFault(
                slip.problem, slip.mend(f"type it with: {_typed(quote, number)} --yes").removesuffix(".")
            )
            return Pulled(name, fault=doubted, before=before, moved=moved)
    return Pulled(name, quote, number, known=_is_known(quotes, quote), before=before, moved=moved)


def _quote(name: str, source: Source, picked: Picked, today: date) -> tuple[Quote, str]:
    """The quote that the texts say, by the rules of the price history; and its number as it shall be written."""
    number = _turned(picked.number) if source.inverted else picked.number.strip()
    fields = {
        "date": today.isoformat() if picked.day is None else picked.day,
        "metal": source.metal,
        "price": number,
        "per": source.per,
        "currency": source.currency,
        "source": name,
    }
    try:
        quote = typed_quote(fields)
    except Faults as wrong:
        raise PullFault(wrong.faults[0].problem, "Nothing was taken from it; see what the source says.") from None
    if quote.date > today:
        raise PullFault(f"its price, {number}, is of {quote.date}, which has not come yet", "See what the source says.")
    if (today - quote.date).days > MOST_DAYS_OLD:
        problem = f"its price, {number}, is of {quote.date}, more than a year ago"
        raise PullFault(problem, "Nothing was taken from it; see whether the source is still kept.")
    return quote, number


def _turned(number: str) -> str:
    """One divided by the number; the number itself where it is none, so that it is refused under its own name."""
    try:
        value = Decimal(number.strip()) if number.isascii() and "_" not in number else Decimal("NaN")
        if not value.is_finite() or value <= 0:
            return number
        return format(Context(prec=TURNED_DIGITS).divide(Decimal(1), value), "f")
    except InvalidOperation:
        return number


def _jump(quote: Quote, number: str, before: Quote, moved: float, band: float) -> PullFault:
    side = "above" if moved > 0 else "below"
    problem = (
        f"{number} {quote.currency} per {quote.per} is {percent(abs(moved), 1)} {side} the last quote "
        f"({before.price:g} {before.currency} per {before.per}, of {before.date}), and its band is {percent(band)}"
    )
    return PullFault(problem, f"If it is right, type it with: {_typed(quote, number)}")


def _typed(quote: Quote, number: str) -> str:
    return f"add {quote.metal} {number} --per {quote.per} --currency {quote.currency}"


def _is_known(quotes: Sequence[Quote], quote: Quote) -> bool:
    """Whether the last line of that day says the same already."""
    same_day = [each for each in quotes if (each.metal, each.date) == (quote.metal, quote.date)]
    return bool(same_day) and all(
        getattr(same_day[-1], key) == getattr(quote, key) for key in ("price", "per", "currency")
    )
