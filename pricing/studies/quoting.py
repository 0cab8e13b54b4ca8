"""What several quantities of one piece are offered at as single orders, each a run of its own.

A quotation asks what the policy asks where so many are made and sent together; it offers that, but never more than the
price in force, and never more than a smaller quantity of the same quotation is offered.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from pricing.costing import Costing, postage_faults, price_faults
from pricing.errors import Faults, UsageFault
from pricing.formulas.engine import Computed, compute
from pricing.formulas.rerun import rerun
from pricing.model.rows import Resolved
from pricing.records import PRICE_QUANTITIES, number
from pricing.studies.repricing import PriceInForce
from pricing.what_if import in_a_run, in_one_order, only
from pricing.words import REASONS

#: What bounds an offer besides what decides the price that is asked.
PRICE_IN_FORCE, SMALLER_QUANTITY = "price_in_force", "smaller_quantity"
#: A sum that is short of the least order by less than this is none.
SUM_NOISE = 1e-9


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
    row: int,
    channel: str,
    quantities: Iterable[float],
    charge_design: bool = False,
    published: PriceInForce | None = None,
) -> Offers:
    """What some quantities of the variant in `row` are offered at in a channel in which it is sold.

    `published` is its price in force; without one the asked price of the costing, ladder and all, stands for it. With
    `charge_design` only a smaller quantity bounds. Raises UsageFault for quantities below 1 and where it is not sold
    there, Faults where no price can be had at a quantity or the order is heavier than every tier.
    """
    wanted = sorted(set(quantities))
    if not wanted or wanted[0] < 1:
        raise UsageFault("a quotation needs quantities of 1 or more. State --quantity.")
    whole = costing.computed
    variant = whole.resolved.variants[row]
    column = [each.name for each in whole.resolved.channels].index(channel)
    if not variant.prices[column].sold:
        raise UsageFault(f"{variant.sku} in {variant.alloy} is not sold in {channel}. Name another --channel.")
    in_force = published.price if published is not None else float(whole["price"][row, column])
    least_order = costing.folder.stated.channels[channel].minimum_order
    one = only(whole.resolved, [row])
    made: list[Offer] = []
    for quantity in wanted:
        computed = _in_one_order(costing, one, channel, quantity, charge_design)
        bounds = [] if charge_design else [(in_force, PRICE_IN_FORCE)]
        bounds += [(made[-1].price, SMALLER_QUANTITY)] if made else []
        made.append(_offer(computed, column, quantity, bounds, least_order))
    currency = whole.resolved.channels[column].currency
    return Offers(variant.sku, variant.alloy, channel, currency, in_force, tuple(made))


def _in_one_order(costing: Costing, one: Resolved, channel: str, quantity: float, charge_design: bool) -> Computed:
    """The piece made as a run of a quantity and sent as one order; the ladder has no say."""
    computed = compute(in_one_order(in_a_run(one, quantity, charge_design), quantity), costing.computed.graph)
    faults = [*price_faults(costing.folder, computed), *postage_faults(costing.folder, computed, channel)]
    if faults:
        raise Faults(faults)
    return computed


def _offer(
    computed: Computed, column: int, quantity: float, bounds: Sequence[tuple[float, str]], least_order: float | None
) -> Offer:
    asked = float(computed["price"][0, column])
    price, binds = asked, REASONS[int(computed["binds"][0, column])]
    for bound, name in bounds:
        if bound < price:
            price, binds = bound, name
    prices = computed["price"].copy()
    prices[0, column] = price
    names = [name for name in PRICE_QUANTITIES if name not in ("required_price", "binds", "price")]
    at_offer = rerun(computed, {"price": prices}, names)
    return Offer(
        quantity=float(quantity),
        required_price=float(computed["required_price"][0, column]),
        asked=asked,
        price=price,
        binds=binds,
        below_minimum_order=least_order is not None and quantity * price < least_order - SUM_NOISE,
        unit_cost=float(computed["unit_cost"][0]),
        figures={name: number(at_offer[name][0, column]) for name in names},
    )


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
