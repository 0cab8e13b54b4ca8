"""What prices would have asked and earned over a history of metal, and what a sale at a price brings."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from pricing.costing import Costing
from pricing.formulas.by_itself import by_itself
from pricing.formulas.engine import Computed, compute
from pricing.formulas.worlds import at_times
from pricing.studies.break_even.reach import lost_by_refunds
from pricing.studies.metal_history.moves import History
from pricing.what_if import only

#: So many days × variants are computed at once: about a hundred bytes each in all that is kept of them.
AT_ONCE = 1_000_000


@dataclass(frozen=True)
class Market:
    """What each price would have asked and earned: by event day and row (a variant in a channel)."""

    days: np.ndarray
    cost: np.ndarray
    asked: np.ndarray
    would_earn: np.ndarray
    channels: np.ndarray
    variants: np.ndarray


def markets(costing: Costing, history: History, channels: Sequence[str]) -> Iterator[tuple[float, Computed, Market]]:
    """The market of some variants at a time, and the share of all variants that is then done."""
    whole = costing.computed.resolved
    chosen = np.array([channel.name in channels for channel in whole.channels], dtype=bool)
    size = max(1, AT_ONCE // len(history.days))
    for start in range(0, len(whole.variants), size):
        part = only(whole, range(start, min(start + size, len(whole.variants))))
        computed = costing.computed if len(part.variants) == len(whole.variants) else compute(part)
        looked_at = computed.sold_places & ~computed["is_fixed"].astype(bool) & chosen
        variants, places = np.nonzero(looked_at)
        if not len(variants):
            continue
        found = at_times(computed, history.times, ["unit_cost", "price", "margin"])
        yield (
            min(1.0, (start + size) / len(whole.variants)),
            computed,
            Market(
                history.days,
                found["unit_cost"][:, variants] * (1 + sent_back(computed, places)),
                found["price"][:, variants, places],
                found["margin"][:, variants, places],
                places,
                variants,
            ),
        )


@dataclass(frozen=True)
class State:
    """Prices in force, what a sale brings at them after fees, and net sales."""

    price: np.ndarray
    receipts: np.ndarray
    sales: np.ndarray


def sent_back(computed: Computed, channels: np.ndarray) -> np.ndarray:
    """Share of its cost that a piece loses on the mean by being sent back, for rows that each have a channel.

    It moves with the cost and so with the metal: the market counts it among the cost and not among what an order takes.
    """
    return np.asarray(lost_by_refunds(computed)[channels])


class Selling:
    """What a price brings, by the cost model's own formulas, for rows that each have a variant and a channel."""

    def __init__(self, computed: Computed, variants: np.ndarray, channels: np.ndarray):
        names = ("ex_tax_price", "discounted_price", "net_sales", "selling_fees", "net_receipts")
        self.formulas = {name: by_itself(name, computed.graph) for name in names}
        self.channel = {name: computed[name][channels] for name in ("list_tax", "discount")}
        by_price = ("postage_income", "order_cost", "channel_rate", "flat_fees")
        self.own = {name: computed[name][variants, channels] for name in by_price}
        self.own["order_cost"] = (
            self.own["order_cost"] - sent_back(computed, channels) * computed["unit_cost"][variants]
        )
        self.fees = {"fee_slope": computed["fee_slope"][channels]} | {
            name: computed[name][variants, channels] for name in ("fee_start", "fee_low", "fee_high")
        }

    def at(self, price: np.ndarray) -> State:
        """What every row brings at prices by (row, band)."""
        rows = np.arange(len(price))[:, None] + np.zeros(price.shape, dtype=int)
        receipts, sales = self._brings(price, rows)
        return State(price, receipts, sales)

    def moved(self, state: State, rows: np.ndarray, places: np.ndarray, price: np.ndarray) -> State:
        """The state with some prices moved."""
        receipts, sales = self._brings(price, rows)
        made = State(state.price.copy(), state.receipts.copy(), state.sales.copy())
        for array, values in ((made.price, price), (made.receipts, receipts), (made.sales, sales)):
            array[rows, places] = values
        return made

    def _brings(self, price: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        channel = {name: values[rows] for name, values in self.channel.items()}
        own = {name: values[rows] for name, values in self.own.items()}
        fees = {name: values[rows] for name, values in self.fees.items()}
        without_tax = self.formulas["ex_tax_price"](price=price, list_tax=channel["list_tax"])
        discounted = self.formulas["discounted_price"](ex_tax_price=without_tax, discount=channel["discount"])
        sales = self.formulas["net_sales"](discounted_price=discounted, channel_rate=own["channel_rate"])
        taken = self.formulas["selling_fees"](
            price=price, **fees, flat_fees=own["flat_fees"], channel_rate=own["channel_rate"]
        )
        receipts = self.formulas["net_receipts"](
            net_sales=sales, postage_income=own["postage_income"], selling_fees=taken, order_cost=own["order_cost"]
        )
        return receipts, sales
