"""The quotation for a commission: one design, alloys side by side, runs of several sizes, and a metal clause."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import timedelta
from itertools import groupby
from typing import Any

from pricing.costing import Costing
from pricing.errors import UsageFault
from pricing.lists.catalogue import Item, alloy_of, code_of, collections, habit_in, metals_named
from pricing.lists.conditions import fineness_words, metal_basis, tax_words
from pricing.lists.letterhead import letterhead
from pricing.lists.number_habits import Habit
from pricing.lists.pictures import Pictures
from pricing.lists.quoted import METAL_MOVES, QuoteAsked, Quoted, line_of
from pricing.lists.rendering import Paper
from pricing.made_of import plated_on
from pricing.model.channel import Channel
from pricing.studies.prices_out import PricesOut, quotes_in_force

#: Days for which a quotation holds that states no day.
VALID_DAYS = 14


def quotation(out: PricesOut, asked: QuoteAsked, found: Quoted, habit: Habit, pictures: Pictures | None) -> Paper:
    """The quotation as a sheet, in the channel's currency. Raises UsageFault for a day or a text that makes no sense.

    `found` is what `quoted` gives for the same question.
    """
    costing = out.asked
    habit = habit_in(habit, costing, found.channel)
    channel = costing.folder.stated.channels[found.channel]
    ((item,),) = (group.items for group in collections(costing, found.rows))
    as_of = costing.computed.resolved.as_of
    valid_until = asked.valid_until or as_of + timedelta(days=VALID_DAYS)
    if valid_until < as_of:
        raise UsageFault(f"the quotation would end on {valid_until}, before its prices begin on {as_of}.")
    picture = pictures.of(item.product, alloy_of(costing, found.rows[0])) if pictures else None
    head, shown = letterhead(costing)
    sold_as = item.product.sold_as or "each"
    facts = [
        ("Number", line_of(asked.number, "the number")),
        ("For", line_of(asked.customer, "for whom")),
        ("Reference", line_of(asked.reference, "the reference")),
        ("Date", habit.date(as_of)),
        ("Valid until", habit.date(valid_until)),
        ("Delivery", line_of(asked.delivery, "the delivery time")),
        ("Terms", channel.terms),
        ("Deposit", f"{habit.percent(channel.deposit)} of the sum, with the order" if channel.deposit else None),
    ]
    document = {
        "title": "Quotation",
        **head,
        "date": as_of.isoformat(),
        "paper": asked.paper or habit.paper,
        "facts": [(name, text) for name, text in facts if text],
        "name": item.product.name,
        "sku": item.product.sku,
        "picture": "piece.jpg" if picture else None,
        "parts": ", ".join(filter(None, (_parts(item), item.sizes))),
        "each": "each" if sold_as == "each" else f"a {sold_as}",
        "sign": habit.sign,
        "alloys": [_alloy(costing, row, habit) for row in found.rows],
        "extras": [(extra.label, habit.figure(extra.amount)) for extra in found.extras],
        "runs": list(_runs(found, channel, sold_as, habit)),
        "moves": [_move_words(move, habit) for move in METAL_MOVES],
        "today": METAL_MOVES.index(0.0),
        "clause": _clause(costing, found, habit),
        "basis": metal_basis(costing, quotes_in_force(costing), found.rows, habit, found.channel),
        "notes": [
            note
            for note in (
                "Making the design is charged to this order, whatever its size."
                if asked.charge_design
                else "The making of the design is in the price.",
                tax_words(channel, habit, "prices and extras" if found.extras else "prices"),
                fineness_words(costing, found.rows),
                "Your metal is credited at what it brings as scrap on the day of this quotation, as it is assayed."
                if found.metal
                else "",
            )
            if note
        ],
    }
    return Paper("quotation", document, {**shown, **({"piece.jpg": picture} if picture else {})})


def _runs(found: Quoted, channel: Channel, sold_as: str, habit: Habit) -> Iterator[dict[str, Any]]:
    """For each quantity, of every alloy: one, all with the extras, what is due with the order, what it is short of."""
    for offers in zip(*(each.offers for each in found.offers), strict=True):
        sums = [offer.sum + found.extra for offer in offers]
        least = habit.figure(channel.minimum_order)
        short = (
            f"pieces for less than the minimum order of {least}"
            if found.extras
            else f"below the minimum order of {least}"
        )
        yield {
            "quantity": _counted(int(offers[0].quantity), sold_as, habit),
            "prices": [
                (habit.figure(offer.price), habit.figure(whole)) for offer, whole in zip(offers, sums, strict=True)
            ],
            "deposits": [habit.figure(max(whole, 0.0) * channel.deposit) for whole in sums] if channel.deposit else [],
            "short": [short if offer.below_minimum_order else "" for offer in offers]
            if any(offer.below_minimum_order for offer in offers)
            else [],
        }


def _parts(item: Item) -> str:
    """`2 × half, 1 × hook`, where it is more than one piece."""
    castings = item.product.castings or ()
    if len(castings) == 1 and castings[0].count == 1:
        return ""
    return ", ".join(f"{casting.count} × {casting.name}" for casting in castings)


def _alloy(costing: Costing, row: int, habit: Habit) -> dict[str, Any]:
    alloy = alloy_of(costing, row)
    named, alloys = metals_named(costing, row), costing.folder.stated.alloys
    own = next((each for each in named if each.name == alloy.name), None)
    others = [f"with {each.name}, {habit.about(each.grams)}" for each in named if each is not own]
    others += [f"plated with {alloys[each.alloy].name}" for each in plated_on(costing.computed, row)]
    return {
        "name": alloy.name,
        "mark": alloy.mark or "",
        "code": code_of(costing, row),
        "mass": habit.about(own.grams) if own and own.grams else "",
        "others": "; ".join(others),
    }


def _counted(quantity: int, sold_as: str, habit: Habit) -> str:
    word = "piece" if sold_as == "each" else sold_as
    return f"{habit.number(quantity)} {word}{'' if quantity == 1 else 's'}"


def _clause(costing: Costing, found: Quoted, habit: Habit) -> list[dict[str, Any]]:
    """For each alloy the prices at every move of the metal; quantities that are priced alike share a line."""
    return [
        {
            "alloy": alloy_of(costing, row).name,
            "lines": [
                {"quantity": ", ".join(quantity for quantity, _ in alike), "prices": _once(prices)}
                for prices, alike in groupby(_moved(found, place, habit), key=lambda line: line[1])
            ],
        }
        for place, row in enumerate(found.rows)
    ]


def _moved(found: Quoted, place: int, habit: Habit) -> Iterator[tuple[str, list[str]]]:
    """Each quantity of an alloy with its price at every move of the metal."""
    for run, offer in enumerate(found.offers[place].offers):
        yield habit.number(offer.quantity), [habit.figure(prices[run][place]) for prices in found.moved]


def _once(prices: list[str]) -> list[str]:
    """The prices at each move of the metal; one alone where it is the same at all of them."""
    return prices[:1] if len(set(prices)) == 1 else prices


def _move_words(move: float, habit: Habit) -> str:
    return f"{habit.percent(abs(move))} {'lower' if move < 0 else 'higher'}" if move else "as today"
