"""The price list: for shops (trade price, suggested retail, terms) or for buyers (retail price)."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any, Literal

from pricing.costing import Costing
from pricing.errors import UsageFault
from pricing.lists.catalogue import (
    Item,
    alloy_of,
    channel_for,
    code_of,
    collections,
    habit_in,
    metals_named,
    size_of,
    sold_rows,
)
from pricing.lists.conditions import fineness_words, metal_basis, price_day, tax_words
from pricing.lists.letterhead import letterhead
from pricing.lists.number_habits import Habit
from pricing.lists.pictures import Pictures
from pricing.lists.rendering import Paper
from pricing.shown import NOTHING
from pricing.studies.prices_out import PricesOut

#: Days for which a list holds that states no day.
VALID_DAYS = 30
#: What the names of pieces' pictures begin with.
PICTURE = "picture-"

#: Passes items through and shows how far it is.
Watched = Callable[[Iterable[Item]], Iterable[Item]]


@dataclass(frozen=True)
class ListAsked:
    """What a price list is to hold.

    `channel` and `retail` None: the first of their audience in channels.toml; `valid_until` None: 30 days from the day
    of the prices; `skus`, `alloys` what may stand on it.
    """

    audience: Literal["shops", "buyers"]
    skus: tuple[str, ...]
    alloys: tuple[str, ...]
    channel: str | None = None
    retail: str | None = None
    valid_until: date | None = None
    paper: str | None = None


def price_list(
    out: PricesOut, asked: ListAsked, habit: Habit, pictures: Pictures | None, watched: Watched = iter
) -> Paper:
    """The list of the prices that go out. Raises UsageFault where no such channel is, or nothing is sold there.

    `pictures` None: without any. A suggested retail price is the retail channel's list price.
    """
    costing, for_shops = out.costing, asked.audience == "shops"
    channel = channel_for(costing, "wholesale" if for_shops else "retail", asked.channel)
    retail = channel_for(costing, "retail", asked.retail) if for_shops else None
    rows = sold_rows(costing, channel, asked.skus, asked.alloys)
    as_of = costing.computed.resolved.as_of
    valid_until = asked.valid_until or as_of + timedelta(days=VALID_DAYS)
    if valid_until < as_of:
        raise UsageFault(f"the list would end on {valid_until}, before its day, {as_of}.")
    habit, home = habit_in(habit, costing, channel), habit
    suggested = habit_in(home, costing, retail) if retail else habit
    head, found = letterhead(costing)
    groups = collections(costing, rows)
    seen = iter(watched([item for group in groups for item in group.items]))
    document = {
        "title": "Price list for shops" if for_shops else "Price list",
        **head,
        "date": as_of.isoformat(),
        "paper": asked.paper or habit.paper,
        "mass_unit": habit.show.mass,
        "price_head": f"{'Trade price' if for_shops else 'Price'},\u00a0{habit.sign}",
        "retail_head": f"Suggested retail,\u00a0{suggested.sign}" if for_shops else None,
        "facts": _facts(out, channel, habit, valid_until),
        "collections": [
            {
                "name": group.name,
                "items": [
                    _item(costing, next(seen), (channel, habit), (retail, suggested), pictures, found)
                    for _ in group.items
                ],
            }
            for group in groups
        ],
        "with_pictures": any(name.startswith(PICTURE) for name in found),
        "basis": metal_basis(costing, out.quotes, rows, habit, channel),
        "notes": [note for note in _notes(costing, channel, retail, rows, habit) if note],
    }
    return Paper("price_list", document, found)


def _facts(out: PricesOut, channel: str, habit: Habit, valid_until: date) -> list[tuple[str, str]]:
    stated = out.costing.folder.stated.channels[channel]
    facts = [("Prices of", price_day(out, habit)), ("Valid until", habit.date(valid_until))]
    if stated.minimum_order:
        facts.append(("Minimum order", habit.money(stated.minimum_order)))
    if stated.terms:
        facts.append(("Terms", stated.terms))
    return facts


def _notes(costing: Costing, channel: str, retail: str | None, rows: list[int], habit: Habit) -> list[str | None]:
    channels = costing.folder.stated.channels
    notes: list[str | None] = [tax_words(channels[channel], habit, "trade prices" if retail else "prices")]
    if retail and channels[retail].tax.rate:
        notes.append(tax_words(channels[retail], habit, "suggested retail prices"))
    return [*notes, fineness_words(costing, rows)]


def _item(
    costing: Costing,
    item: Item,
    shown: tuple[str, Habit],
    suggested: tuple[str | None, Habit],
    pictures: Pictures | None,
    found: dict[str, bytes],
) -> dict[str, Any]:
    (channel, habit), (retail, retail_habit) = shown, suggested
    picture = pictures.of(item.product, alloy_of(costing, item.rows[0])) if pictures else None
    name = None
    if picture is not None:
        name = next((known for known, data in found.items() if data is picture), f"{PICTURE}{len(found) + 1}.jpg")
        found[name] = picture
    return {
        "name": item.product.name,
        "sku": item.sku,
        "sold_as": ", ".join(filter(None, (item.sold_as, item.sizes))),
        "picture": name,
        "variants": [
            {
                "code": code_of(costing, row),
                **_metals(costing, item, row, habit),
                "price": habit.figure(list_price(costing, row, channel)),
                "retail": retail_habit.figure(list_price(costing, row, retail)) if retail else NOTHING,
            }
            for row in item.rows
        ],
    }


def _metals(costing: Costing, item: Item, row: int, habit: Habit) -> dict[str, Any]:
    """The first metal with its mark and mass, and the others as `with Sterling silver 925, 2.84 g`."""
    first, *others = metals_named(costing, row)
    size = size_of(costing, item, row)
    return {
        "alloy": f"{size} · {first.name}" if size else first.name,
        "mark": first.mark,
        "mass": habit.about(first.grams, unit=False),
        "others": [
            f"with {' '.join(filter(None, (each.name, each.mark)))}, {habit.about(each.grams)}" for each in others
        ],
    }


def list_price(costing: Costing, row: int, channel: str) -> float | None:
    """The list price of a variant in a channel, None where it is not sold there."""
    variant = costing.computed.resolved.variants[row]
    column = next(place for place, price in enumerate(variant.prices) if price.channel == channel)
    return float(costing.computed["price"][row, column]) if column in variant.sold_places else None
