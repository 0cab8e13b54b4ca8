"""What is said to the maker of a quotation, beside the paper: whose policy priced it, what bounds it, what it earns."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from types import MappingProxyType

from pricing.cli.screens import screen
from pricing.cli.screens.customer_metal import MELTING, show_metal
from pricing.lists.catalogue import alloy_of
from pricing.lists.quoted import QuoteAsked, Quoted
from pricing.model.rows import PriceRow
from pricing.shown import Shown, percent
from pricing.studies.prices_out import PricesOut
from pricing.studies.quantity.quoting import DISCOUNT, PRICE_IN_FORCE, SMALLER_QUANTITY
from pricing.words import price_tolerance

#: What decided an offer.
DECIDED: Mapping[str, str] = MappingProxyType(
    {
        "policy": "policy",
        "least_price": "least price",
        "fixed": "fixed",
        PRICE_IN_FORCE: "price in force",
        SMALLER_QUANTITY: "smaller quantity",
        DISCOUNT: "discount",
    }
)
#: Costs that are nearer to each other than this, as a share, are the same.
SAME_COST = 0.005


def show_to_the_maker(out: PricesOut, asked: QuoteAsked, found: Quoted) -> None:
    """To stderr: what no customer reads."""
    costing, console = out.asked, screen.err()
    resolved = costing.computed.resolved
    quoted, own = Shown(found.currency), Shown(resolved.currency)
    column = [channel.name for channel in resolved.channels].index(found.channel)
    number = f"Quotation {asked.number}, " if asked.number else ""
    console.print(f"{number}{asked.sku} as sold in {found.channel}. For you, not for the customer:")
    for row, offers in zip(found.rows, found.offers, strict=True):
        published = (offers.sku, offers.alloy, offers.channel) in out.published
        bound = "in force" if published else "asked of a usual order, not published"
        policy = policy_words(resolved.variants[row].prices[column], own)
        price = f"{quoted.money(offers.price_in_force)} {found.currency}"
        console.print(f"\n{alloy_of(costing, row).name}: {policy}; {price} {bound}.")
        lines = [
            (
                f"{offer.quantity:g}",
                DECIDED[offer.binds],
                quoted.money(offer.asked),
                quoted.money(offer.price),
                own.money(offer.unit_cost),
                percent(offer.figures["margin"]),
                own.money(offer.figures["earned_per_hour"]),
            )
            for offer in offers.offers
        ]
        heads = ("an order of", "decided by", "asked", "offered", "one costs", "margin", "an hour")
        console.print(screen.table(heads, lines, left=2))
    if found.metal is not None:
        show_metal(found.metal, own)
    notes = list(_notes(out, asked, found))
    screen.advise(notes, len(notes))


def policy_words(price: PriceRow, shown: Shown) -> str:
    """The policy by which a price is asked, as the maker stated it: `margin of 42 %`."""
    ways: dict[str, tuple[str, Callable[[float], str]]] = {
        "margin": ("margin of {}", percent),
        "markup": ("markup of {} on cost", percent),
        "earn": ("{} an hour", shown.money),
        "multiple": ("{} × cost", _number),
        "keystone_of": ("{} × {followed}", _number),
        "metal_and_work": ("{} × metal and {} × work", _number),
        "fixed": ("fixed at {}", _number),
    }
    words, written = ways[price.policy_kind]
    figures = (written(getattr(price, known.name)) for known in price.asked_by)
    return words.format(*figures, followed=price.followed)


def _number(value: float) -> str:
    return f"{value:g}"


def _notes(out: PricesOut, asked: QuoteAsked, found: Quoted) -> Iterator[str]:
    costing = out.asked
    sold_as = costing.folder.goods[asked.sku].sold_as or "each"
    word = "each" if sold_as == "each" else f"a {sold_as}"
    usual, shown = costing.computed["unit_cost"], Shown(costing.computed.resolved.currency)
    quoted, column = Shown(found.currency), costing.column(found.channel)
    on_ladder, keystone = costing.computed["is_on_ladder"], costing.computed["keystone_price"]
    for row, offers in zip(found.rows, found.offers, strict=True):
        first = offers.offers[0]
        if first.unit_cost > float(usual[row]) * (1 + SAME_COST):
            design = ", the design in it" if asked.charge_design else ""
            yield (
                f"{first.quantity:g} in {offers.alloy} is made as a run of its own, flasks and loads whole{design}: "
                f"one costs {shown.money(first.unit_cost)}, and {shown.money(float(usual[row]))} in the long run"
            )
        for offer in offers.offers:
            profit = offer.figures["profit"]
            if profit is not None and profit < 0:
                yield f"an order of {offer.quantity:g} in {offers.alloy} loses {shown.money(-profit)} {word}"
            if on_ladder[row, column] and offer.price < keystone[row, column] - price_tolerance:
                times, least = float(costing.computed["keystone"]), quoted.money(float(keystone[row, column]))
                yield (
                    f"an order of {offer.quantity:g} in {offers.alloy} goes below {times:g} × wholesale, {least}, "
                    "where the ladder keeps the price of a list"
                )
            if offer.below_minimum_order:
                yield f"{offer.quantity:g} in {offers.alloy} is less than the minimum order of {found.channel}"
    if asked.extras:
        yield "extras are in the sums of the paper, and not in what an hour earns here"
    if found.metal is not None:
        yield MELTING
    if found.left_out:
        yield f"left out, since no more alloys fit: {', '.join(found.left_out)}. Name those wanted by --alloy"
