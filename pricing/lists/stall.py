"""The stall card: what to ask for a piece, what to come down to among friends, and where to walk away.

The walk-away price is the least list price that still earns the wanted hour: the engine's own answer when the channel
asks for that hour and nothing else. *One* is one set in an order; *three* are three sets in one order, which share
its minutes, its packing and its fixed fees. The friendly price is the asking price less the friendly share, rounded up
by the channel's own rule; it is never below the walk-away price and never above the asking price.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from pricing.costing import Costing
from pricing.errors import UsageFault
from pricing.lists.catalogue import Item, collections, habit_in, metal_words, metals_named, size_of, sold_rows
from pricing.lists.conditions import metal_basis, price_day
from pricing.lists.cut_sheets import Cutting
from pricing.lists.number_habits import Habit
from pricing.lists.rendering import Paper
from pricing.studies.prices_out import PricesOut
from pricing.studies.stall.bargaining import FRIENDLY_SHARE, bargained

#: Sets in an order, each a line of the card.
ORDERS = (1, 3)
#: Alloys on one card; more go on the next.
ALLOYS_ON_A_CARD = 4
#: Width and height of a card in mm where the maker states none: eight to a sheet of A4 or Letter.
SIZE = (92.0, 62.0)
LEAST = (80.0, 55.0)


@dataclass(frozen=True)
class Hour:
    """What an hour shall bring, in the workshop's currency, and who says so."""

    amount: float
    because: str


@dataclass(frozen=True)
class Bargain:
    """Prices for an order of so many sets, for all of them together; None where no price can earn the hour.

    `least` is the engine's unrounded list price of one set, `walk_away` that of all, rounded up to the least coin.
    """

    sets: int
    asking: float
    friendly: float
    walk_away: float | None
    least: float | None


@dataclass(frozen=True)
class CardsAsked:
    """Which cards: `hour` None takes what each variant's policy asks, or else the pay of the channel's role."""

    channel: str
    skus: tuple[str, ...]
    alloys: tuple[str, ...]
    hour: float | None = None
    friendly: float = FRIENDLY_SHARE


def wanted_hours(costing: Costing, rows: Sequence[int], channel: str, stated: float | None) -> list[Hour]:
    """The hour wanted of each variant: as stated, else what a policy asks, else the pay of a role.

    The policy is the variant's own in this channel, else the channel's, where either is `earn`; the role is the
    channel's where it is the maker's own, else the dearest own one, with its on-cost. Raises UsageFault where there
    is none of all these.
    """
    if stated is not None:
        if not stated >= 0:
            raise UsageFault(f"--hour {stated:g}: an hour cannot be wanted at less than 0.")
        return [Hour(stated, "as you asked")] * len(rows)
    resolved = costing.computed.resolved
    column = [row.name for row in resolved.channels].index(channel)
    paid = zip(resolved.roles, costing.computed["labour_rate"], strict=True)
    rates = {row.name: float(rate) for row, rate in paid if row.is_own}  # hired help earns the maker nothing
    packs = resolved.channels[column].role
    role = packs if packs in rates else max(rates, key=lambda name: rates[name], default=None)
    asked_there = costing.folder.stated.channels[channel].policy.earn
    hours = []
    for row in rows:
        price = resolved.variants[row].prices[column]
        asked = price.asked_earnings if price.asks_earnings else asked_there
        if asked is not None:
            hours.append(Hour(asked, f"what {channel} asks"))
        elif role is not None:
            hours.append(Hour(rates[role], f"the pay of {role}"))
        else:
            raise UsageFault("nobody's hour is stated in workshop.toml. State what an hour shall bring with --hour.")
    return hours


def bargains(
    costing: Costing, rows: Sequence[int], channel: str, hours: Sequence[Hour], friendly: float
) -> list[list[Bargain]]:
    """For each variant, a Bargain for each of ORDERS. Every figure is the engine's."""
    if not 0 <= friendly < 1:
        raise UsageFault(f"--friendly {friendly:g}: a fraction from 0 to below 1, as 0.05 for 5 %.")
    column = [row.name for row in costing.computed.resolved.channels].index(channel)
    found = []
    for sets in ORDERS:
        computed = bargained(costing.computed, rows, channel, [hour.amount for hour in hours], sets, friendly)
        names = ("order_price", "friendly_price", "walk_away_price", "required_price", "can_be_had")
        found.append(
            [_bargain(sets, *each) for each in zip(*(computed[name][:, column] for name in names), strict=True)]
        )
    return [list(each) for each in zip(*found, strict=True)]


def _bargain(sets: int, asked: float, friendly: float, walk_away: float, least: float, can_be_had: float) -> Bargain:
    lowest = (float(walk_away), float(least)) if can_be_had else (None, None)
    return Bargain(sets, float(asked), float(friendly), *lowest)


def stall_cards(out: PricesOut, asked: CardsAsked, cut: Cutting, habit: Habit) -> Paper:
    """Cards to cut out, one a product (more where it is made in many alloys), for PDF."""
    if cut.size[0] < LEAST[0] or cut.size[1] < LEAST[1]:
        raise UsageFault(f"a stall card is at least {LEAST[0]:g} × {LEAST[1]:g} mm, or it cannot be read.")
    costing = out.costing
    home, habit = habit, habit_in(habit, costing, asked.channel)
    rows = sold_rows(costing, asked.channel, asked.skus, asked.alloys)
    hours = wanted_hours(costing, rows, asked.channel, asked.hour)
    found = dict(zip(rows, bargains(costing, rows, asked.channel, hours, asked.friendly), strict=True))
    wanted = dict(zip(rows, hours, strict=True))
    cards = []
    for group in collections(costing, rows):
        for item in group.items:
            for start in range(0, len(item.rows), ALLOYS_ON_A_CARD):
                shown = item.rows[start : start + ALLOYS_ON_A_CARD]
                cards.append(
                    {
                        "name": item.product.name,
                        "sku": item.sku,
                        "sold_as": item.sold_as,
                        "alloys": [_alloy(costing, item, row, found[row], habit) for row in shown],
                        "hour": _hour_words([wanted[row] for row in shown], home),
                        "basis": [
                            price_day(out, habit),
                            *metal_basis(costing, out.quotes, shown, habit, asked.channel),
                        ],
                    }
                )
    document = {
        "title": "Stall cards",
        "workshop": costing.folder.stated.workshop.name,
        "channel": asked.channel,
        "date": costing.computed.resolved.as_of.isoformat(),
        "sign": habit.sign,
        "kind": "card",
        "cutting": cut.as_document(),
        "tags": cards,
    }
    return Paper("tags", document, {})


def _alloy(costing: Costing, item: Item, row: int, prices: Sequence[Bargain], habit: Habit) -> dict[str, Any]:
    marks = [each.mark for each in metals_named(costing, row)]
    return {
        "name": " · ".join(filter(None, (size_of(costing, item, row), metal_words(costing, row, habit)))),
        "mark": marks[0] if len(marks) == 1 else "",
        "orders": [
            {
                "sets": "one" if each.sets == 1 else "three",
                "asking": habit.figure(each.asking),
                "friendly": habit.figure(each.friendly),
                "walk_away": habit.figure(each.walk_away),
                "is_short": each.walk_away is not None and each.walk_away > each.asking,
            }
            for each in prices
        ],
    }


def _hour_words(hours: Sequence[Hour], habit: Habit) -> str:
    """`£38.00, what stall asks`; several where the alloys of a card differ."""
    return "; ".join(dict.fromkeys(f"{habit.money(hour.amount)}, {hour.because}" for hour in hours))
