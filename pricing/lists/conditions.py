"""The sentences under a list: what metal it stands on, whether tax is in, what a mark means."""

from __future__ import annotations

import re
from collections.abc import Iterable

from pricing.costing import Costing
from pricing.lists.catalogue import metals_named
from pricing.lists.number_habits import Habit
from pricing.made_of import contents_of, plated_on
from pricing.model.channel import Channel
from pricing.model.currency import minor_unit_digits
from pricing.model.metals import WORDS
from pricing.model.quote import Quote
from pricing.studies.prices_out import PricesOut

FINENESS = re.compile(r"\d{3}(\.\d+)?")
#: Decimals of a quote that are shown at most.
QUOTE_DIGITS = 6


def price_day(out: PricesOut, habit: Habit) -> str:
    """`20 Nov 2026, edition 3`: the day of the prices and where they were published, or that they are not."""
    if out.edition:
        return f"{habit.date(out.since)}, edition {out.edition.number}"
    return f"{habit.date(out.since)}, not published" + ("" if out.is_wanted else " yet")


def metal_basis(
    costing: Costing, quotes: Iterable[Quote], rows: Iterable[int], habit: Habit, channel: str | None = None
) -> list[str]:
    """`silver 38.40 USD/ozt of 20 Nov 2026` for every metal that these variants are priced by, then exchange rates.

    Of their own metal, their findings', what they are plated with, and their parts'; the rate of the `channel`'s
    currency, too. `quotes` are what the prices stand on: of the day of their edition, or of today.
    """
    resolved = costing.computed.resolved
    lines = {quote.metal: quote for quote in quotes}
    contents = {alloy.name: [content.metal for content in alloy.contents] for alloy in resolved.alloys}
    needed: set[str] = set()
    for row in rows:
        in_it = (*contents_of(costing.computed, row).metals, *plated_on(costing.computed, row))
        for alloy in (resolved.variants[row].alloy, *(each.alloy for each in in_it)):
            needed.update(metal for metal in contents[alloy] if metal in lines)
    currencies = {lines[name].currency for name in needed}
    if channel is not None:
        currencies.add(costing.folder.stated.channels[channel].currency or resolved.currency)
    said = []
    for line in (lines[name] for name in sorted(needed)):
        price = habit.number(line.price, minor_unit_digits(line.currency), QUOTE_DIGITS)
        called = WORDS[line.metal][0] if line.metal in WORDS else _alloys_of_quote(costing, line.metal)
        said.append(f"{called} {price} {line.currency}/{line.per} of {habit.date(line.date)}")
    for currency in sorted(currencies - {resolved.currency}):
        if currency in lines:
            rate = habit.number(lines[currency].price, minor_unit_digits(resolved.currency), QUOTE_DIGITS)
            said.append(f"1 {currency} = {rate} {resolved.currency} of {habit.date(lines[currency].date)}")
    return said


def _alloys_of_quote(costing: Costing, quote: str) -> str:
    """The names of the alloys that a quote prices: its own is the maker's."""
    named = [alloy.name for alloy in costing.folder.stated.alloys.values() if alloy.quote == quote]
    return ", ".join(named).lower() or quote


def tax_words(channel: Channel, habit: Habit, what: str) -> str:
    """Whether sales tax is in these prices; `what` they are, in the plural (`trade prices`)."""
    if not channel.tax.rate:
        return f"No sales tax is added to {what}."
    rate = habit.percent(channel.tax.rate)
    if channel.tax.included:
        return f"{what.capitalize()} include sales tax at {rate}."
    return f"{what.capitalize()} are without sales tax; {rate} is added."


def fineness_words(costing: Costing, rows: Iterable[int]) -> str | None:
    """What a mark of fineness on the list means, and which law comes first; None where no alloy has one."""
    marks = {named.mark for row in rows for named in metals_named(costing, row)}
    if not any(mark and FINENESS.fullmatch(mark) for mark in marks):
        return None
    return (
        "A mark of three figures is the least share of the precious metal in parts per thousand, on the maker's word; "
        "it is no hallmark. What must be hallmarked, and under what name it may be sold, is for the law of the place "
        "of sale, which comes before anything said here."
    )
