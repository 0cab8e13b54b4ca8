"""What several quantities of one piece are offered at as single orders, each a run of its own.

A quotation asks what the policy asks where so many are made and sent together; it offers that, but never more than the
price in force, and never more than a smaller quantity of the same quotation is offered.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.costing import Costing, postage_faults, price_faults
from pricing.errors import Faults, UsageFault
from pricing.formulas.engine import Computed, compute
from pricing.formulas.rerun import rerun
from pricing.formulas.worlds import at_times
from pricing.model.currency import minor_unit_digits
from pricing.model.rows import Resolved
from pricing.records import PRICE_QUANTITIES, number
from pricing.studies.prices_out import Spot
from pricing.studies.quantity.lots import Rung
from pricing.studies.repricing.reprice import PRICE_NOISE, PriceInForce
from pricing.what_if import in_a_run, in_one_order, only
from pricing.words import REASONS

#: What decides an offer besides what decides the price that is asked: two bounds, and a discount.
PRICE_IN_FORCE, SMALLER_QUANTITY, DISCOUNT = "price_in_force", "smaller_quantity", "discount"
#: Every price quantity that follows from the price that is offered.
AT_THE_OFFER = tuple(name for name in PRICE_QUANTITIES if name not in ("required_price", "binds", "price"))
NOTHING_PUBLISHED: Mapping[Spot, PriceInForce] = MappingProxyType({})
#: What comes off the price in force from so many sets on, rising: the rungs of `lots.Lots.ladder`.
Ladder = Sequence[Rung]
NO_LADDERS: Sequence[Ladder] = ()
#: What one coin may be exceeded by before another is asked for: noise of the arithmetic.
COIN_NOISE = 1e-6


@dataclass(frozen=True)
class Offer:
    """One quantity: what its policy asks, what is offered, what decided it, and every figure at the offer."""

    quantity: float
    required_price: float
    asked: float
    price: float
    binds: str
    below_minimum_order: bool
    unit_cost: float
    figures: dict[str, float | None]

    @property
    def sum(self) -> float:
        """What the order comes to, as the channel shows prices."""
        return self.quantity * self.price


@dataclass(frozen=True)
class Offers:
    """The offers of one piece in one channel, by rising quantity, and the price that bounds them."""

    sku: str
    alloy: str
    channel: str
    currency: str
    price_in_force: float
    offers: tuple[Offer, ...]


def offered(
    costing: Costing,
    rows: Sequence[int],
    channel: str,
    quantities: Iterable[float],
    charge_design: bool = False,
    published: Mapping[Spot, PriceInForce] = NOTHING_PUBLISHED,
    ladders: Sequence[Ladder] = NO_LADDERS,
) -> tuple[Offers, ...]:
    """What some quantities of each of the variants in `rows` are offered at in a channel in which they are sold.

    `published` are prices in force; where there is none the asked price of the costing, ladder and all, stands for it.
    With `charge_design` only a smaller quantity bounds. With `ladders`, one for each of the rows, a quantity on a rung
    is offered at the price in force less what comes off there, whatever the policy asks. Raises UsageFault for
    quantities below 1 and where one is not sold there, Faults where no price can be had at a quantity or the order is
    heavier than every tier.
    """
    column = _column(costing, rows, channel)
    in_force = prices_that_bound(costing, rows, channel, published)
    least_order = costing.folder.stated.channels[channel].minimum_order
    resolved = costing.computed.resolved
    currency, one = resolved.channels[column].currency, only(resolved, rows)
    made: list[list[Offer]] = [[] for _ in rows]
    for quantity in _rising(quantities):
        computed = _in_one_order(costing, one, channel, quantity, charge_design)
        off = _on_rungs(in_force, ladders, quantity, minor_unit_digits(currency))
        found: list[tuple[float, str | None]] = []
        for place, before in enumerate(made):
            asked, held = float(computed["price"][place, column]), None if charge_design else float(in_force[place])
            lowered = off[place]
            found.append(_bounded(asked, held, before) if lowered is None else (lowered, DISCOUNT))
        prices = computed["price"].copy()
        prices[:, column] = [price for price, _ in found]
        at_offer = rerun(computed, {"price": prices}, AT_THE_OFFER)
        for place, (price, bound) in enumerate(found):
            made[place].append(
                Offer(
                    quantity=float(quantity),
                    required_price=float(computed["required_price"][place, column]),
                    asked=float(computed["price"][place, column]),
                    price=price,
                    binds=bound or REASONS[int(computed["binds"][place, column])],
                    below_minimum_order=least_order is not None and quantity * price < least_order - PRICE_NOISE,
                    unit_cost=float(computed["unit_cost"][place]),
                    figures={name: number(at_offer[name][place, column]) for name in AT_THE_OFFER},
                )
            )
    return tuple(
        Offers(resolved.variants[row].sku, resolved.variants[row].alloy, channel, currency, bound, tuple(offers))
        for row, bound, offers in zip(rows, in_force, made, strict=True)
    )


def offered_if_metal_moves(
    costing: Costing,
    rows: Sequence[int],
    channel: str,
    quantities: Iterable[float],
    moves: Iterable[float],
    charge_design: bool = False,
    published: Mapping[Spot, PriceInForce] = NOTHING_PUBLISHED,
    ladders: Sequence[Ladder] = NO_LADDERS,
) -> tuple[tuple[tuple[float, ...], ...], ...]:
    """What would be offered with every quoted metal moved: `[move][quantity][row]`, quantities rising; 0.05 is 5 % up.

    The price in force is taken to move by as much as what is asked of a usual order in the channel moves then, since
    it would be published anew; with the metal where it stands it is what it is. Raises as `offered` does.
    """
    column, graph = _column(costing, rows, channel), costing.computed.graph
    in_force, wanted = prices_that_bound(costing, rows, channel, published), _rising(quantities)
    one, steady = only(costing.computed.resolved, rows), costing.computed["price"][list(rows), column]
    digits = minor_unit_digits(one.channels[column].currency)
    times = np.repeat([[1 + move] for move in moves], len(one.metals), axis=1)

    def asked(computed: Computed) -> np.ndarray:
        """What is asked, by move and row."""
        return at_times(computed, times, ["price"])["price"][:, :, column]

    shifted = in_force + (asked(compute(one, graph)) - steady)
    # Whether a price can be had, and what an order weighs, no metal moves: what is refused is refused at today's.
    at_quantities = [asked(_in_one_order(costing, one, channel, quantity, charge_design)) for quantity in wanted]
    found = []
    for place, bounding in enumerate(shifted):
        made: list[tuple[float, ...]] = []
        for quantity, prices in zip(wanted, at_quantities, strict=True):
            before = made[-1] if made else (math.inf,) * len(rows)
            bounds = (math.inf if charge_design else max(0.0, held) for held in bounding)
            usual = [min(each) for each in zip(prices[place].tolist(), bounds, before, strict=True)]
            on_rung = _on_rungs(np.maximum(0.0, bounding), ladders, quantity, digits)
            made.append(tuple(each if rung is None else rung for each, rung in zip(usual, on_rung, strict=True)))
        found.append(tuple(made))
    return tuple(found)


def prices_that_bound(
    costing: Costing, rows: Sequence[int], channel: str, published: Mapping[Spot, PriceInForce]
) -> np.ndarray:
    """The price in force of each variant in a channel; what is asked, ladder and all, where none is published."""
    column, variants = _column(costing, rows, channel), costing.computed.resolved.variants
    held = [published.get((variants[row].sku, variants[row].alloy, channel)) for row in rows]
    asked = costing.computed["price"][list(rows), column].tolist()
    return np.array([each.price if each else price for each, price in zip(held, asked, strict=True)])


def _rising(quantities: Iterable[float]) -> list[float]:
    wanted = sorted(set(quantities))
    if not wanted or wanted[0] < 1:
        raise UsageFault("a quotation needs quantities of 1 or more. State them.")
    return wanted


def _column(costing: Costing, rows: Sequence[int], channel: str) -> int:
    """Place of a channel in which all of these are sold."""
    resolved = costing.computed.resolved
    column = [each.name for each in resolved.channels].index(channel)
    for row in rows:
        if column not in resolved.variants[row].sold_places:
            variant = resolved.variants[row]
            raise UsageFault(f"{variant.sku} in {variant.alloy} is not sold in {channel}. Name another channel.")
    return column


def _in_one_order(costing: Costing, some: Resolved, channel: str, quantity: float, charge_design: bool) -> Computed:
    """Some variants, each made as a run of a quantity and sent as one order; the ladder has no say."""
    computed = compute(in_one_order(in_a_run(some, quantity, charge_design), quantity), costing.computed.graph)
    faults = [*price_faults(costing.folder, computed), *postage_faults(costing.folder, computed, channel)]
    if faults:
        raise Faults(faults)
    return computed


def _on_rungs(in_force: np.ndarray, ladders: Sequence[Ladder], quantity: float, digits: int) -> list[float | None]:
    """The price in force of each row less what comes off for a quantity, up to a whole coin; None below every rung."""
    if not ladders:
        return [None] * len(in_force)
    coins = 10.0**digits
    found: list[float | None] = []
    for held, ladder in zip(in_force.tolist(), ladders, strict=True):
        off = max((rung.discount for rung in ladder if rung.quantity <= quantity), default=None)
        found.append(None if off is None else math.ceil(held * (1 - off) * coins - COIN_NOISE) / coins)
    return found


def _bounded(asked: float, in_force: float | None, before: Sequence[Offer]) -> tuple[float, str | None]:
    """The price that is offered, and the name of what bounds it; a bound that only equals it does not."""
    price, bound = asked, None
    if in_force is not None and in_force < price - PRICE_NOISE:
        price, bound = float(in_force), PRICE_IN_FORCE
    if before and before[-1].price < price - PRICE_NOISE:
        price, bound = before[-1].price, SMALLER_QUANTITY
    return price, bound


def quotation_record(found: Offers) -> dict[str, Any]:
    """The offers as plain records by name: what `export quote --json` prints."""
    return {
        "sku": found.sku,
        "alloy": found.alloy,
        "channel": found.channel,
        "currency": found.currency,
        "price_in_force": found.price_in_force,
        "offers": [
            {
                "quantity": offer.quantity,
                "required_price": offer.required_price,
                "asked": offer.asked,
                "price": offer.price,
                "binds": offer.binds,
                "sum": offer.sum,
                "below_minimum_order": offer.below_minimum_order,
                "unit_cost": offer.unit_cost,
                **offer.figures,
            }
            for offer in found.offers
        ],
    }
