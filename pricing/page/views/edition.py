"""One edition as it was published: what it stands on, its prices, and of one piece the costs and the work."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from pricing.editions.chain import Edition, sensible
from pricing.editions.figures import computed_again, formulas_version
from pricing.editions.inputs import channel_currencies
from pricing.editions.told import quotes, since
from pricing.errors import UsageFault
from pricing.formulas.work import Worker
from pricing.page.rendering import minus
from pricing.page.stamps import Stamp
from pricing.page.views.work import WorkInWords, work_in_words
from pricing.records import COST_LINES, COST_QUANTITIES, PRICE_QUANTITIES
from pricing.shown import Shown, percent

#: So many variants of an edition are listed; others are found by their name.
MOST_LISTED = 400
#: What a piece and its alloy are called and the alloy's stamp, by sku and the alloy's name in the books.
Called = Callable[[str, str], tuple[str, str, Stamp | None]]
FORMULAS_MOVED = "Formulas have changed since; these are the ones of that day."


@dataclass(frozen=True)
class PricedLine:
    """A variant in the list: its cost, and its price in each channel, "" where it was not sold."""

    name: str
    alloy: str
    stamp: Stamp | None
    cost: str
    prices: tuple[str, ...]
    address: str


@dataclass(frozen=True)
class PieceInWords:
    """One variant: what its cost was made of, its prices with their margins, and the work of all figures."""

    name: str
    alloy: str
    stamp: Stamp | None
    costs: tuple[tuple[str, str], ...]
    prices: tuple[tuple[str, ...], ...]
    work: tuple[WorkInWords, ...]
    note: str


@dataclass(frozen=True)
class EditionInWords:
    """An edition: sentences about it, metal prices that it stands on, its prices; `piece` is the one looked at."""

    number: int
    currency: str
    sentences: tuple[str, ...]
    quotes: tuple[str, ...]
    channels: tuple[str, ...]
    lines: tuple[PricedLine, ...]
    more: int
    piece: PieceInWords | None


def edition_in_words(edition: Edition, called: Called, sku: str = "", alloy: str = "") -> EditionInWords:
    """The edition as it is shown, with one variant looked at closely. Raises UsageFault where there is no such one.

    `called` gives what a piece and its alloy are called and its stamp, by sku and the alloy's name in the books.
    """
    shown = Shown(edition.currency, currencies=channel_currencies(edition))
    prices = {(price["sku"], price["alloy"], price["channel"]): price for price in edition.content["prices"]}
    variants = edition.content["variants"]
    channels = list(dict.fromkeys(price["channel"] for price in edition.content["prices"]))
    lines = []
    for record in variants[:MOST_LISTED]:
        key = (record["sku"], record["alloy"])
        own = [prices.get((*key, name)) for name in channels]
        told = tuple(shown.price(price["channel"], price["price"]) if price else "" for price in own)
        query = urlencode({"show": edition.number, "sku": record["sku"], "alloy": record["alloy"]})
        lines.append(PricedLine(*called(*key), shown.money(record["unit_cost"]), told, f"/editions?{query}#piece"))
    row = next((row for row, each in enumerate(variants) if (each["sku"], each["alloy"]) == (sku, alloy)), None)
    if row is None and (sku or alloy):
        raise UsageFault(f"edition {edition.number} has no {sku[:80]} in {alloy[:80]}.")
    return EditionInWords(
        number=edition.number,
        currency=edition.currency,
        sentences=tuple(since(edition)),
        quotes=tuple(quotes(edition)),
        channels=tuple(map(shown.channel, channels)),
        lines=tuple(lines),
        more=max(0, len(variants) - MOST_LISTED),
        piece=None if row is None else _piece(edition, row, called, channels, prices, shown),
    )


def _piece(
    edition: Edition,
    row: int,
    called: Called,
    channels: list[str],
    prices: dict[tuple[str, str, str], Any],
    shown: Shown,
) -> PieceInWords:
    record = edition.content["variants"][row]
    name, alloy, stamp = called(record["sku"], record["alloy"])
    costs = [(word, shown.money(record[name])) for name, word in COST_LINES.items() if record.get(name)]
    computed = computed_again(edition)
    places = computed.resolved.variants[row].sold_places
    with sensible(edition.number, "figures"):
        work = Worker(computed).once([*COST_QUANTITIES, *PRICE_QUANTITIES], False, row, places)
        told = tuple(work_in_words(each, edition.currency) for each in work)
    return PieceInWords(
        name=name,
        alloy=alloy,
        stamp=stamp,
        costs=(*costs, ("costs", shown.money(record["unit_cost"]))),
        prices=tuple(_prices(record, channels, prices, shown)),
        work=told,
        note="" if edition.content["formulas_version"] == formulas_version() else FORMULAS_MOVED,
    )


def _prices(
    record: dict[str, Any], channels: list[str], prices: dict[tuple[str, str, str], Any], shown: Shown
) -> Iterator[tuple[str, ...]]:
    for name in channels:
        if found := record["prices"].get(name):
            price = prices[record["sku"], record["alloy"], name]
            yield (
                shown.channel(name),
                shown.price(name, found["price"]),
                minus(percent(found["margin"])),
                shown.price(name, price["asked"]),
                price["set_on"],
                price["verdict"],
            )
