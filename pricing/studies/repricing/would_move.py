"""What a price of metal that is not in the history yet would move: costs, and prices in force or asked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from pricing.costing import Costing
from pricing.editions.chain import Edition
from pricing.folder.prices.in_force import in_force
from pricing.formulas.engine import Computed, compute
from pricing.model.metals import symbol_meant
from pricing.model.quote import Quote
from pricing.model.rows import Resolved
from pricing.shown import metal_named, percent
from pricing.studies.repricing.deciding import PRICE_NOISE
from pricing.studies.repricing.reprice import reprice
from pricing.units import GRAMS_PER

#: A change of cost that is only noise of the arithmetic, as a share of the cost.
COST_NOISE = 1e-9


@dataclass(frozen=True)
class PriceMove:
    """A price that would move, in the workshop's currency; `by` is the change as a fraction, None from nothing."""

    sku: str
    alloy: str
    channel: str
    before: float
    after: float

    @property
    def by(self) -> float | None:
        return self.after / self.before - 1 if self.before else None

    @property
    def verdict(self) -> str:
        return "raise" if self.after > self.before else "lower"


@dataclass(frozen=True)
class WouldMove:
    """What would move; `why_not` says why nothing can, "" where it was looked at.

    `costs` are the changes of the unit costs that move, as fractions, of `variants` in all; `moves` the prices, those
    that move furthest first, of `prices` in all: those in force where an edition is published, else those asked.
    """

    why_not: str = ""
    costs: tuple[float, ...] = ()
    variants: int = 0
    moves: tuple[PriceMove, ...] = ()
    prices: int = 0
    is_published: bool = False

    @property
    def counted(self) -> str:
        """How many prices move, in a sentence; or why none can."""
        asked = "asked prices would move. No edition is published yet."
        what = "prices in force would move." if self.is_published else asked
        return self.why_not or f"{len(self.moves)} of {self.prices} {what}"

    @property
    def costs_in_words(self) -> str:
        """How many costs move, and between which changes; "" where none does."""
        if not self.costs:
            return ""
        low, high = (percent(end(self.costs), 1, signed=True) for end in (min, max))
        return f"The cost of {len(self.costs)} of {self.variants} variants moves, by {low} to {high}."


def would_move(costing: Costing, edition: Edition | None, quote: Quote) -> WouldMove:
    """The folder's prices once more, as if this quote stood in its history."""
    base, resolved = costing.computed, costing.computed.resolved
    if why_not := _why_not(costing, quote):
        return WouldMove(why_not)
    computed = compute(_with(resolved, quote))
    with np.errstate(all="ignore"):
        changes = computed["unit_cost"] / base["unit_cost"] - 1
    touched = changes[np.abs(changes) > COST_NOISE]
    if edition is None:
        moves, prices = list(_asked_moves(base, computed)), int(computed.sold_places.sum())
    else:
        rows = reprice(replace(costing, computed=computed, warnings=()), edition).rows
        moving = [row for row in rows if row.verdict in ("raise", "lower")]
        moves = [PriceMove(row.sku, row.alloy, row.channel, row.held or 0.0, row.to or 0.0) for row in moving]
        prices = len(rows)
    moves.sort(key=lambda move: -abs(move.by or 0.0))
    return WouldMove("", tuple(touched.tolist()), len(changes), tuple(moves), prices, edition is not None)


def _why_not(costing: Costing, quote: Quote) -> str:
    resolved, on = costing.computed.resolved, costing.asked.as_of
    if quote.date > on:
        return f"It counts from {quote.date} on; today nothing would move."
    held = in_force(costing.folder.stated.quotes, on)
    is_rate = quote.per == "unit"
    now = (held.exchange if is_rate else held.metals).get(quote.metal)
    if now is not None and now.date > quote.date:
        return "A newer quote is in force; nothing would move."
    known = {row.name for row in (resolved.currencies if is_rate else resolved.metals)}
    if quote.metal not in known:
        meant = symbol_meant(quote.metal)
        what = f'did you mean "{meant}"?' if meant in known else "nothing would move."
        return f"No variant is priced by {metal_named(quote.metal)}; {what}"
    if not is_rate and quote.currency not in {row.name for row in resolved.currencies}:
        return f"No exchange rate of {quote.currency} is in use yet; what would move shows once it is added."
    return ""


def _with(resolved: Resolved, quote: Quote) -> Resolved:
    """The resolved workshop with this quote in force."""
    update: dict[str, Any]
    if quote.per == "unit":
        table, update = "currencies", {"exchange_rate": quote.price}
    else:
        update = {"quote_price": quote.price, "grams_per_unit": GRAMS_PER[quote.per]}
        table, update = "metals", {**update, "currency": quote.currency, "quoted_per": quote.per}
    rows = getattr(resolved, table)
    new = tuple(row.model_copy(update=update) if row.name == quote.metal else row for row in rows)
    return resolved.model_copy(update={table: new})


def _asked_moves(base: Computed, computed: Computed) -> Iterator[PriceMove]:
    old, new = base["price"], computed["price"]
    for row, column in np.argwhere(computed.sold_places & (np.abs(new - old) > PRICE_NOISE)).tolist():
        variant, channel = computed.resolved.variants[row], computed.resolved.channels[column].name
        yield PriceMove(variant.sku, variant.alloy, channel, float(old[row, column]), float(new[row, column]))
