"""How far metal may move until a price earns its least margin only, and until it earns nothing.

A unit cost is a line in the price of a metal that bends where scrap or filings stop being worth their fees. Costs at
all bends of all alloys, from the engine, make it a line between any two of them, so the price sought is exact. What
comes back as returns does not depend on a price: its limits move the line and do not bend it.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from pricing.costing import Costing
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun
from pricing.formulas.worlds import at_times

#: A change of cost that is only noise of the arithmetic, as a share of the cost.
COST_NOISE = 1e-12


@dataclass(frozen=True)
class Reach:
    """Where a margin is reached: `times` is the price of metal there in times today's, `price` as it is quoted.

    Both are None where no price of metal, not even 0, brings the margin down, or up, to it. For all metals
    together there is no price.
    """

    times: float | None
    price: float | None

    @property
    def rise(self) -> float | None:
        """The change from today as a fraction."""
        return None if self.times is None else self.times - 1


@dataclass(frozen=True)
class Line:
    """One metal (None: all of them together, in step), its quote today, and where the two margins are reached."""

    metal: str | None
    now: float | None
    currency: str
    per: str
    at_least: Reach | None
    at_nothing: Reach


@dataclass(frozen=True)
class BreakEven:
    """One variant in one channel at a price: its margin now, the least margin stated, a line for each metal in it."""

    sku: str
    alloy: str
    channel: str
    price: float
    margin: float | None
    least_margin: float | None
    lines: tuple[Line, ...]

    @property
    def all_metals(self) -> Line | None:
        """All metals in step; the one metal where there is only one; None where no metal has a price."""
        return self.lines[-1] if self.lines else None


def lost_by_refunds(computed: Computed) -> np.ndarray:
    """Share of its cost that a piece loses on the mean by being sent back, by channel."""
    return np.asarray(computed["refund_share"] * computed["refund_loss"])


def least_margins(costing: Costing) -> list[float | None]:
    """The least margins of the channels, in their order, None where none is stated."""
    channels = costing.folder.stated.channels.values()
    return [channel.reprice.least_margin if channel.reprice else None for channel in channels]


def break_even(computed: Computed, prices: np.ndarray, least_margins: Sequence[float | None]) -> list[BreakEven]:
    """Every variant in every channel where it is sold, at `prices` (by variant and channel).

    `least_margins` are those of the channels, None where none is stated.
    """
    brought = rerun(computed, {"price": prices}, ["net_receipts", "net_sales", "margin"])
    receipts, sales = brought["net_receipts"], brought["net_sales"]
    least = np.array([np.nan if margin is None else margin for margin in least_margins])
    # The unit costs at which the margins are reached; a part of it is lost once more where a piece is sent back.
    lost = lost_by_refunds(computed)
    kept = receipts + lost * computed["unit_cost"][:, None]
    targets = np.stack([kept - least * sales, kept]) / (1 + lost)
    metals = computed.resolved.metals
    moves = [np.arange(len(metals)) == place for place in range(len(metals))] + [np.ones(len(metals), dtype=bool)]
    reached = [_times(computed, moved, targets) for moved in moves]
    found = []
    for place, variant in enumerate(computed.resolved.variants):
        for channel in variant.sold_places:
            spot = (place, channel)
            margin = brought["margin"][spot]
            found.append(
                BreakEven(
                    sku=variant.sku,
                    alloy=variant.alloy,
                    channel=variant.prices[channel].channel,
                    price=float(prices[spot]),
                    margin=float(margin) if np.isfinite(margin) else None,
                    least_margin=least_margins[channel],
                    lines=tuple(_lines(computed, spot, reached, least_margins[channel] is not None)),
                )
            )
    return found


def _lines(computed: Computed, spot: tuple[int, int], reached: Sequence[Any], floored: bool) -> Iterator[Line]:
    metals = computed.resolved.metals
    inside = [place for place in range(len(metals)) if reached[place][1][spot[0]]]
    for place in inside:
        metal = metals[place]
        at_least, at_nothing = (_reach(times[spot], metal.quote_price) for times in reached[place][0])
        yield Line(
            metal.name, metal.quote_price, metal.currency, metal.quoted_per, at_least if floored else None, at_nothing
        )
    if len(inside) > 1:
        at_least, at_nothing = (_reach(times[spot], None) for times in reached[-1][0])
        yield Line(None, None, "", "", at_least if floored else None, at_nothing)


def _reach(times: float, quote: float | None) -> Reach:
    if not np.isfinite(times):
        return Reach(None, None)
    return Reach(float(times), None if quote is None else float(times) * quote)


def _times(computed: Computed, moved: np.ndarray, targets: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """The price of the moved metals, in times today's, at which each unit cost is reached, NaN where none is.

    `targets` have any shape before (variant, channel), and the answer has theirs; beside it, whether a variant holds
    any of the moved metals.
    """
    knots = bends(computed, moved)
    costs = at_times(computed, times_of(moved, knots), ["unit_cost"])["unit_cost"]
    holds = costs[-1] - costs[0] > COST_NOISE * np.maximum(np.abs(costs[-1]), 1)
    below = (costs[:, None, :, None] <= targets[None]).sum(axis=0)
    upper = np.clip(below, 1, len(knots) - 1)  # beyond the last bend the line goes on as it ends
    variants = np.arange(costs.shape[1])[None, :, None]
    low, high = costs[upper - 1, variants], costs[upper, variants]
    with np.errstate(all="ignore"):
        times = knots[upper - 1] + (targets - low) / (high - low) * (knots[upper] - knots[upper - 1])
    return np.where((below > 0) & holds[None, :, None], times, np.nan), holds


def times_of(moved: np.ndarray, times: np.ndarray) -> np.ndarray:
    """By world and metal: the moved metals at so many times their price, the others as they are."""
    return np.where(moved, times[:, None], 1.0)


def bends(computed: Computed, moved: np.ndarray) -> np.ndarray:
    """Every place where the cost of some variant bends, from 0, and two places beyond the last."""
    settled = ("scrap_less_fee_per_g", "lemel_less_fee_per_g")
    ends = at_times(computed, times_of(moved, np.array([0.0, 1.0])), settled)
    with np.errstate(all="ignore"):  # each is a line in the price and bends the cost where it crosses nothing
        bends = [without / (without - today) for without, today in (ends[name] for name in settled)]
    found = np.concatenate(bends)
    found = np.unique(found[np.isfinite(found) & (found > 0)])
    last = max(1.0, found[-1] if len(found) else 0.0)
    return np.concatenate([[0.0], found, [2 * last, 4 * last]])


def line_records(found: Iterable[BreakEven]) -> Iterator[dict[str, Any]]:
    """A record for each metal in each price: what is quoted now, and where the two margins are reached."""
    for each in found:
        for line in each.lines:
            yield {
                "sku": each.sku,
                "alloy": each.alloy,
                "channel": each.channel,
                "price": each.price,
                "margin": each.margin,
                "least_margin": each.least_margin,
                "metal": line.metal or "all together",
                "now": line.now,
                "currency": line.currency,
                "per": line.per,
                **_reached("least_margin_at", line.at_least),
                **_reached("nothing_left_at", line.at_nothing),
            }


def _reached(name: str, reach: Reach | None) -> dict[str, float | None]:
    return {name: reach.price if reach else None, f"{name}_times": reach.times if reach else None}
