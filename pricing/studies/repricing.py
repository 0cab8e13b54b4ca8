"""The prices in force looked at again: what each earns now, what the policy asks, and whether to hold or to move it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal

import numpy as np

from pricing.costing import Costing
from pricing.editions.chain import Edition
from pricing.rerun import rerun
from pricing.studies.deciding import PRICE_NOISE, REASONS, Grid, decide, terms_of

Verdict = Literal["new", "hold", "raise", "lower", "gone"]
#: A variant, or a variant in one channel: (sku, alloy, channel or None).
Chosen = tuple[str, str, str | None]
Word = Literal["accept", "hold"]


@dataclass(frozen=True)
class PriceInForce:
    """A published price: since which day and which edition it is what it is."""

    price: float
    set_on: str
    set_in: int


@dataclass(frozen=True)
class Row:
    """One variant in one channel.

    `earns` is the margin that the price in force (`held`) earns now, `asked` the price that the policy asks now and
    `would_earn` its margin, `to` the price to publish and `earns_then` its margin; `owing` is what of the way to `asked` is
    left for later. Reasons are those of `pricing.studies.deciding` and `new`, `gone`, `accepted`, `kept`, `ladder`, which
    stand for what was decided otherwise. A margin is None where nothing is sold for money.
    """

    sku: str
    alloy: str
    channel: str
    in_force: PriceInForce | None
    earns: float | None
    asked: float | None
    would_earn: float | None
    to: float | None
    earns_then: float | None
    verdict: Verdict
    reason: str
    stepped: bool = False  # whether largest_step, and nothing else, keeps `to` from `asked`

    @property
    def held(self) -> float | None:
        return self.in_force.price if self.in_force else None

    @property
    def owing(self) -> float:
        """What is left of the way to the asked price: 0 for a price that is held because it is right."""
        return self.asked - self.to if self.stepped and self.asked is not None and self.to is not None else 0.0


@dataclass(frozen=True)
class Repricing:
    """All rows: in the order of the variants and channels, then what is sold no more."""

    costing: Costing
    edition: Edition | None
    rows: tuple[Row, ...]
    prices: np.ndarray = field(repr=False)  # to publish, by variant and channel; where not sold what the policy asks

    def moved(self) -> list[Row]:
        """The rows that change something."""
        return [row for row in self.rows if row.verdict != "hold"]


def prices_in_force(edition: Edition | None) -> dict[tuple[str, str, str], PriceInForce]:
    """The published prices by sku, alloy and channel."""
    rows = edition.content["prices"] if edition else []
    return {
        (row["sku"], row["alloy"], row["channel"]): PriceInForce(row["price"], row["set_on"], row["set_in"]) for row in rows
    }


def reprice(costing: Costing, edition: Edition | None, words: Mapping[Chosen, Word] | None = None) -> Repricing:
    """Look at every price again. `words` are the maker's own decisions: to accept what is asked, or to hold."""
    computed, words = costing.computed, words or {}
    resolved, stated = computed.resolved, costing.folder.stated
    in_force = prices_in_force(edition)
    names = [[(each.sku, each.alloy, price.channel) for price in each.prices] for each in resolved.variants]
    sold = computed["sold"].astype(bool)
    asked = computed["price"]
    known = np.array([[name in in_force for name in row] for row in names], dtype=bool).reshape(sold.shape) & sold
    held = np.array(
        [[in_force[name].price if name in in_force else math.nan for name in row] for row in names], dtype=float
    ).reshape(sold.shape)
    held = np.where(known, held, asked)
    earned = rerun(computed, {"price": held}, ["margin"])["margin"]
    days = np.array([[_days(costing, in_force.get(name)) for name in row] for row in names], dtype=float)
    fixed = computed["is_fixed"].astype(bool)
    terms = terms_of(stated.channels[channel.name] for channel in resolved.channels)
    found = decide(held, asked, earned, computed["margin"], days.reshape(sold.shape), fixed, terms, Grid.of(computed))
    own = [[words.get(name) or words.get((*name[:2], None)) for name in row] for row in names]
    accepted, kept = (np.array([[each == word for each in row] for row in own], dtype=bool) for word in ("accept", "hold"))
    accepted, kept = (mask.reshape(sold.shape) & known for mask in (accepted, kept))
    to = np.where(accepted, asked, np.where(kept, held, found.to))
    laddered = rerun(computed, {"rounded_price": to}, ["price"])["price"]
    lifted = known & ~accepted & ~kept & (laddered > to + PRICE_NOISE)
    to = np.where(lifted, laddered, to)
    earns_then = rerun(computed, {"price": to}, ["margin"])["margin"]
    rows = []
    for place, channel in zip(*np.nonzero(sold), strict=True):
        spot = (place, channel)
        name = names[place][channel]
        reason = REASONS[found.reason[spot]]
        for mask, other in ((lifted, "ladder"), (accepted, "accepted"), (kept, "kept"), (~known, "new")):
            reason = other if mask[spot] else reason
        now, then = held[spot], to[spot]
        verdict = "new" if not known[spot] else "hold" if abs(then - now) <= PRICE_NOISE else "raise" if then > now else "lower"
        stepped = reason in ("beyond", "below_least", "too_coarse") and abs(asked[spot] - then) > PRICE_NOISE
        rows.append(
            Row(
                *name,
                in_force=in_force.get(name),
                earns=_number(earned[spot]) if known[spot] else None,
                asked=float(asked[spot]),
                would_earn=_number(computed["margin"][spot]),
                to=float(then),
                earns_then=_number(earns_then[spot]),
                verdict=verdict,
                reason=reason,
                stepped=stepped,
            )
        )
    still = {(row.sku, row.alloy, row.channel) for row in rows}
    rows += [
        Row(*name, in_force=price, earns=None, asked=None, would_earn=None, to=None, earns_then=None, verdict="gone", reason="gone")
        for name, price in in_force.items()
        if name not in still
    ]
    return Repricing(costing, edition, tuple(rows), np.where(sold, to, asked))


def _days(costing: Costing, price: PriceInForce | None) -> float:
    if price is None:
        return math.inf
    from datetime import date

    return float((costing.asked.as_of - date.fromisoformat(price.set_on)).days)


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None
