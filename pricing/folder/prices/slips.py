"""Whether a price looks like a slip: one rule, whoever typed, pulled or imported it, or wrote it into the file.

A slip may be right. Whoever brings a price asks, or tells, and the maker's word decides.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from pricing.errors import nearest
from pricing.folder.prices.moves import change, last_before
from pricing.model.alloy import Alloy
from pricing.model.metals import ELEMENTS, metal_meant, symbol_meant
from pricing.model.quote import Quote
from pricing.shown import metal_named, quoted_in, quoted_price

#: Against the last quote, a price so many times as high or as low is doubted.
JUMP = 3.0
#: What a comparison may be off by.
HAIR = 1e-9
#: What is told of a part that no float can hold.
LEAST = 1e-300


@dataclass(frozen=True)
class Slip:
    """What may be wrong: in which column of the price history, the problem, and the name that was meant, if any."""

    column: Literal["metal", "currency", "price"]
    problem: str
    meant: str | None = None

    def mend(self, yes: str) -> str:
        """What to do; `yes` says how to keep to it, as in "add --yes"."""
        return f'Did you mean "{self.meant}"? If not, {yes}.' if self.meant else f"If it is right, {yes}."

    def asked(self, yes: str) -> str:
        """The problem with what to do."""
        return f"{self.problem}. {self.mend(yes)}"


def slips(
    quote: Quote, quotes: Sequence[Quote], needed: Collection[str], home: str, number: str | None = None
) -> Iterator[Slip]:
    """What looks like a slip in a quote, by the quotes that are there already.

    `needed` are the metals that some alloy is valued by, `home` the workshop's currency, `number` the price as it was
    written. Doubted are a metal that nobody needs and that was never quoted, where its name is like one that is or the
    word for one (the price of a metal that no alloy uses yet is kept); another currency than the last time, of
    which no exchange rate is known, so that nobody can say how far the price has moved; and a price that is more than
    JUMP times the last one, or less than that part of it.
    """
    if quote.per != "unit":
        known = {other.metal for other in quotes} | set(needed)
        meant = metal_meant(quote.metal, known) if quote.metal not in ELEMENTS else None
        if quote.metal not in known and meant is not None:
            problem = f'no alloy is valued by "{metal_named(quote.metal)}", and it was never quoted'
            yield Slip("metal", problem, meant)
    before = last_before(quotes, quote)
    if before is None:
        return
    moved = change(quote, before, quotes, home)
    if moved is None:
        yield from _strange_currency(quote, before, quotes, home)
        return
    times = 1 + moved
    last = f"the last quote, {quoted_price(before)} {quoted_in(before)} of {before.date}"
    said = f"{number or quoted_price(quote)} {quoted_in(quote)}"
    if times > JUMP * (1 + HAIR):
        yield Slip("price", f"{said} is {_rough(times)} times {last}")
    elif times * JUMP * (1 + HAIR) < 1:
        yield Slip("price", f"{said} is far below {last}: 1 / {_rough(1 / max(times, LEAST))} of it")


def _strange_currency(quote: Quote, before: Quote, quotes: Iterable[Quote], home: str) -> Iterator[Slip]:
    rates = {other.metal for other in quotes if other.per == "unit"}
    if quote.currency not in {home, *rates}:
        last = f"the last quote, of {before.date}, is in {before.currency}"
        problem = f"{metal_named(quote.metal)} is told in {quote.currency}, of which no exchange rate is known; {last}"
        yield Slip("currency", problem, nearest(quote.currency, {home, before.currency, *rates}))


def newest_slips(quotes: Sequence[Quote], needed: Collection[str], home: str) -> Iterator[tuple[Quote, Slip]]:
    """What looks like a slip among the newest quote of each metal and currency of a history; older ones count no more.

    A metal that nobody needs is told only where its name is like one that is needed, or the word for one, however
    often it stands there: a maker may keep any prices. An exchange rate is known wherever in the file its line stands.
    """
    ordered = sorted(quotes, key=lambda quote: quote.date)  # of one day in the order of their lines
    rates = [quote for quote in ordered if quote.per == "unit"]
    newest = {(quote.metal, quote.per == "unit"): place for place, quote in enumerate(ordered)}
    for place in sorted(newest.values()):
        quote = ordered[place]
        if quote.metal not in needed and (symbol := symbol_meant(quote.metal)) in needed and quote.per != "unit":
            yield quote, Slip("metal", f'no alloy is valued by "{quote.metal}"', symbol)
            continue
        earlier = ordered[:place] if quote.per == "unit" else [*ordered[:place], *rates]
        for slip in slips(quote, earlier, needed, home):
            if slip.column != "metal" or slip.meant in needed:
                yield quote, slip


def valued_by(alloys: Mapping[str, Alloy]) -> tuple[str, ...]:
    """The names of every metal and quote that some alloy is valued by."""
    names = (
        name
        for alloy in alloys.values()
        for name in ((alloy.quote,) if alloy.quote else (set(alloy.composition) - set(alloy.unpriced)))
    )
    return tuple(sorted(set(names)))


def _rough(figure: float) -> str:
    """To three figures, as a person writes them: 12.7, 25,000."""
    return f"{float(f'{figure:.3g}'):,.10g}"
