"""A price event: what is left of every piece with its price lowered by a share, and how many more must sell.

The engine runs on from the lowered price, so tax, fees that are held between a least and a most, postage and the cost
of an order are the channel's own. The mean discount of the channel comes off besides, as it does all year.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from pricing.costing import Costing
from pricing.errors import UsageFault
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun
from pricing.records import decimal_price, number
from pricing.studies.break_even.reach import least_margins
from pricing.studies.prices_out import at_prices
from pricing.studies.repricing.reprice import PRICE_NOISE

#: A margin that differs from the least by no more than this is the least: noise of the arithmetic.
MARGIN_NOISE = 1e-12
#: Why a piece is better left out of a sale.
LOSS, LEAST_PRICE, LEAST_MARGIN = "loss", "least price", "least margin"


@dataclass(frozen=True)
class Left:
    """A price, in the channel's currency, and what it leaves of one set, in the workshop's; None where undefined."""

    price: float
    profit: float
    margin: float | None
    earned_per_hour: float | None


@dataclass(frozen=True)
class OnSale:
    """One variant in one channel before a sale and in it, and why to leave it out (None: nothing speaks against it)."""

    sku: str
    alloy: str
    channel: str
    before: Left
    then: Left
    least_margin: float | None
    leave_out: str | None

    @property
    def times_as_many(self) -> float | None:
        """How many must sell for one that would have sold without the sale, to leave as much in all.

        None where no number does: nothing was left before, or nothing is left in the sale.
        """
        return self.before.profit / self.then.profit if self.before.profit > 0 and self.then.profit > 0 else None


def sale_prices(computed: Computed, off: float, rounded: bool = False) -> np.ndarray:
    """Prices by variant and channel, lowered by the share `off`: as they come out, or rounded as the channel rounds.

    Rounded prices never go below a least price, nor above the price before. Raises UsageFault unless 0 < off < 1.
    """
    if not 0 < off < 1:
        raise UsageFault(f"--off {off:g}: write a share between 0 and 1, as in 0.20 for 20 % off.")
    prices = computed["price"]
    lowered = prices * (1 - off)
    if not rounded:
        return lowered
    changed = {"required_price": lowered, "is_fixed": np.zeros_like(computed["is_fixed"])}
    held: np.ndarray = np.minimum(rerun(computed, changed, ["rounded_price"])["rounded_price"], prices)
    return held


def on_sale(costing: Costing, off: float, rounded: bool = False) -> list[OnSale]:
    """Every variant in every channel where it is sold, at the prices of `costing` and with them lowered.

    Raises UsageFault unless 0 < off < 1.
    """
    before = costing.computed
    then = at_prices(before, sale_prices(before, off, rounded))
    least_price, floors = before["least_price"], least_margins(costing)
    found = []
    for row, variant in enumerate(before.resolved.variants):
        for column in variant.sold_places:
            left = _left(then, row, column)
            found.append(
                OnSale(
                    sku=variant.sku,
                    alloy=variant.alloy,
                    channel=variant.prices[column].channel,
                    before=_left(before, row, column),
                    then=left,
                    least_margin=floors[column],
                    leave_out=_against(left, float(least_price[row, column]), floors[column]),
                )
            )
    return found


def _left(computed: Computed, row: int, column: int) -> Left:
    price, profit, margin, an_hour = (
        computed[name][row, column] for name in ("price", "profit", "margin", "earned_per_hour")
    )
    return Left(float(price), float(profit), number(margin), number(an_hour))


def _against(left: Left, least_price: float, least_margin: float | None) -> str | None:
    if left.profit < 0:
        return LOSS
    if left.price < least_price - PRICE_NOISE:
        return LEAST_PRICE
    if least_margin is not None and left.margin is not None and left.margin < least_margin - MARGIN_NOISE:
        return LEAST_MARGIN
    return None


def sale_records(found: Iterable[OnSale]) -> Iterator[dict[str, Any]]:
    """A flat record for each price: both sides of the sale, how many times as many must sell, why to leave it out."""
    for each in found:
        yield {
            "sku": each.sku,
            "alloy": each.alloy,
            "channel": each.channel,
            **asdict(each.before),
            **{f"{name}_on_sale": value for name, value in asdict(each.then).items()},
            "price_on_sale": decimal_price(each.then.price),
            "least_margin": each.least_margin,
            "times_as_many": each.times_as_many,
            "leave_out": each.leave_out,
        }
