"""The card of an order: for whom, what, in which size, with which stone, what was paid, until when."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.lists.number_habits import Habit
from pricing.lists.rendering import Paper
from pricing.model.product import Product
from pricing.pouring.designs import row_of
from pricing.pouring.wants import Order

#: What is ticked on the way; the stone where there is one.
STONE_SET = "stone set"
STAGES = ("made", STONE_SET, "checked", "paid", "handed over")
#: So many lines have room on a card; an order of more has several.
MOST_LINES = 5


def order_cards(costing: Costing, orders: Sequence[Order], habit: Habit, paper: str | None = None) -> Paper:
    """A card for each order, lines of the same number on one that has room. Raises UsageFault for what is not made."""
    stated = costing.folder.stated
    by_number: dict[str, list[Order]] = {}
    for order in orders:
        by_number.setdefault(order.number, []).append(order)
    document = {
        "title": "Order cards",
        "workshop": stated.workshop.name,
        "date": costing.computed.resolved.as_of.isoformat(),
        "paper": paper or habit.paper,
        "orders": [card for number, lines in by_number.items() for card in _cards(costing, number, lines, habit)],
    }
    return Paper("order_card", document, {})


def _cards(costing: Costing, number: str, lines: Sequence[Order], habit: Habit) -> Iterator[dict[str, Any]]:
    """The cards of one order: each names the whole order, and which of its cards it is where there are several."""
    whole = _card(costing, number, lines, habit)
    parts = [whole["lines"][at : at + MOST_LINES] for at in range(0, len(lines), MOST_LINES)]
    for place, part in enumerate(parts, 1):
        yield {
            **whole,
            "lines": part,
            "number": f"{number}, {place} of {len(parts)}" if len(parts) > 1 else number,
            "stages": [each for each in STAGES if each != STONE_SET or any(line["stone"] for line in part)],
        }


def _card(costing: Costing, number: str, lines: Sequence[Order], habit: Habit) -> dict[str, Any]:
    due = min((line.due for line in lines if line.due), default=None)
    return {
        "number": number,
        "customer": next((line.customer for line in lines if line.customer), ""),
        "due": habit.date(due) if due else "",
        "deposit": ", ".join(dict.fromkeys(line.deposit for line in lines if line.deposit)),
        "lines": [
            {
                "count": f"{line.want.quantity:,}",
                "name": _product(costing, line).name,
                "alloy": _alloy(costing, line),
                "size": line.want.size,
                "stone": line.stone,
                "note": line.note,
            }
            for line in lines
        ],
    }


def _product(costing: Costing, order: Order) -> Product:
    products = costing.folder.stated.products
    variants = costing.computed.resolved.variants
    sku = next((each.product for each in variants if order.want.sku in (each.sku, each.product)), None)
    if sku is None:
        raise UsageFault(
            f'order {order.number}: no product "{order.want.sku}". {did_you_mean(order.want.sku, products)}'
        )
    return products[sku]


def _alloy(costing: Costing, order: Order) -> str:
    alloys = costing.folder.stated.alloys
    if order.want.alloy and order.want.alloy not in alloys:
        raise UsageFault(
            f'order {order.number}: no alloy "{order.want.alloy}". {did_you_mean(order.want.alloy, alloys)}'
        )
    if order.want.alloy and order.want.size:
        row_of(costing, order.want)  # is it made in that size?
    return alloys[order.want.alloy].name if order.want.alloy else ""
