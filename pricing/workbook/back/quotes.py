"""Prices of metal and exchange rates that were typed: new lines of the price history."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from pricing.costing import Costing
from pricing.folder.prices.in_force import in_force
from pricing.model.quote import Quote
from pricing.workbook.back.cells import ReadCell
from pricing.workbook.back.changes import as_written
from pricing.workbook.back.matching import Typed

#: What the price history says of where such a price was read.
SOURCE = "typed into a workbook"


@dataclass(frozen=True)
class NewQuote:
    """A line to be added; `old` is the price in force before, `price` the number as it is written.

    `newer` is the day of a quote that stays in force since it is newer; None where the new line comes into force.
    """

    quote: Quote
    price: str
    old: Quote
    newer: date | None
    cell: ReadCell


def new_quotes(costing: Costing, typed: Iterable[Typed], on: date) -> list[NewQuote]:
    """A line of this day for every price that was typed, per and in the currency in which it was quoted before."""
    stated = costing.folder.stated
    before = in_force(stated.quotes, costing.computed.resolved.as_of)
    after = in_force(stated.quotes, on)
    latest: dict[tuple[str, bool], date] = {}
    for quote in stated.quotes:
        name = quote.metal, quote.per == "unit"
        latest[name] = max(quote.date, latest.get(name, quote.date))
    found = []
    for each in typed:
        if each.table not in ("metal", "currency") or each.value is None:
            continue
        is_rate, metal = each.table == "currency", each.row.row.name
        old = (before.exchange if is_rate else before.metals)[metal]
        in_force_then = (after.exchange if is_rate else after.metals).get(metal)
        if in_force_then is not None and _alike(in_force_then, old) and in_force_then.price == each.value:
            continue  # the history says so already
        quote = Quote(
            date=on, metal=metal, price=float(each.value), per=old.per, currency=old.currency, source=SOURCE
        )  # fmt: skip
        newest = latest[metal, is_rate]
        price = str(as_written(quote.price))
        found.append(NewQuote(quote, price, old, newest if newest > on else None, each.cell))
    return found


def _alike(one: Quote, other: Quote) -> bool:
    return (one.per, one.currency) == (other.per, other.currency)
