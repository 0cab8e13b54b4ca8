"""The answer of a design that never leaves: each alloy's grams, cost, prices, and what an hour brings."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isnan
from typing import Any

import numpy as np

from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun
from pricing.made_of import own_grams
from pricing.page.rendering import minus
from pricing.page.stamps import Stamp, stamp_of
from pricing.page.workspace import Look
from pricing.records import variant_records
from pricing.shown import Shown, apart
from pricing.studies.repricing.reprice import PriceInForce


@dataclass(frozen=True)
class Moving:
    """A figure as it is now; where it moved, what it `was`, `by` how much, and whether it is more."""

    now: str
    was: str = ""
    by: str = ""
    is_more: bool = True


@dataclass(frozen=True)
class StripPrice:
    """A price: where nothing moved and one is in force, that one with `asks` where another is asked; else what is
    asked with what it was, and what is `in_force`. `hour` is what an hour brings at the price that is shown."""

    price: Moving
    hour: str
    asks: str = ""
    asks_more: bool = True
    in_force: str = ""


@dataclass(frozen=True)
class StripLine:
    """One variant; None in `prices` where it is not sold."""

    title: str
    stamp: Stamp
    grams: Moving
    cost: Moving
    prices: tuple[StripPrice | None, ...]

    @property
    def moved(self) -> bool:
        """Whether its cost or one of its prices moved."""
        return bool(self.cost.was or any(each and each.price.was for each in self.prices))


@dataclass(frozen=True)
class Strip:
    """`heads` of the channels with their places among all; a line a variant; `since` which edition the prices in force
    are of, "" for none."""

    heads: tuple[tuple[int, str], ...]
    lines: tuple[StripLine, ...]
    since: str


def strip(look: Look, computed: Computed, before: Computed, product: str) -> Strip:
    """The figures as they are, beside what they were `before` a lever was moved or a field was typed.

    `product` is the sku of what is saved, "" of a new design: it has no price in force.
    """
    shown, alloys = look.shown, look.costing.folder.stated.alloys
    records, channels = _records(computed, range(len(computed.resolved.variants))), computed.resolved.channels
    known = _by_variant(before, [row for row, each in enumerate(before.resolved.variants)
                                 if not product or each.product == product])  # fmt: skip
    columns = [place for place, each in enumerate(channels) if any(each.name in record["prices"] for record in records)]
    held = [[look.in_force.get((record["sku"], record["alloy"], each.name)) if product else None for each in channels]
            for record in records]  # fmt: skip
    hours = _hours(computed, held)
    lines = []
    for row, record in enumerate(records):
        was = known.get((record["alloy"], record.get("size")), {})
        title = alloys[record["alloy"]].name
        lines.append(
            StripLine(
                title=f"{title}, {record['size']}" if "size" in record else title,
                stamp=stamp_of(alloys[record["alloy"]]),
                grams=_moving(record, was, "own_g", shown.mass),
                cost=_moving(record, was, "unit_cost", shown.money),
                prices=tuple(
                    _price(look.shown, record, was, channels[place], held[row][place], hours[row][place])
                    for place in columns
                ),
            )
        )
    since = f"edition {look.edition.number} of {look.edition.as_of}" if look.edition and product else ""
    return Strip(tuple((place, shown.channel(channels[place].name)) for place in columns), tuple(lines), since)


def _by_variant(computed: Computed, rows: list[int]) -> dict[tuple[str, str | None], dict[str, Any]]:
    return {(each["alloy"], each.get("size")): each for each in _records(computed, rows)}


def _records(computed: Computed, rows: Sequence[int]) -> list[dict[str, Any]]:
    """A record a variant, with the grams that the catalogue tells of it."""
    records = variant_records(computed, rows)
    return [{**record, "own_g": own_grams(computed, row)} for row, record in zip(rows, records, strict=True)]


def _moving(record: dict[str, Any], was: dict[str, Any], name: str, write: Callable[..., str]) -> Moving:
    now, before = record[name], was.get(name)
    if before is None or now is None or write(now) == write(before):
        return Moving(write(now))
    gap = apart(write(now), write(before))
    assert gap is not None  # both are figures
    return Moving(write(now), write(before), " ".join([f"{abs(gap):,}", *write(now).split()[1:]]), gap > 0)


def _price(
    shown: Shown, record: dict[str, Any], was: dict[str, Any], channel: Any, held: PriceInForce | None, hour: float
) -> StripPrice | None:
    asked, before = record["prices"].get(channel.name), was.get("prices", {}).get(channel.name, {})
    if asked is None:
        return None
    abroad = Shown(channel.currency, shown.show)
    price = _moving(asked, before, "price", abroad.money)
    at_asked = minus(shown.money(asked["earned_per_hour"]))
    if held is None:
        return StripPrice(price, at_asked)
    in_force = abroad.money(held.price)
    if price.was:
        return StripPrice(price, at_asked, in_force="" if in_force == price.now else in_force)
    return StripPrice(
        Moving(in_force),
        minus(shown.money(None if isnan(hour) else hour)),
        asks="" if in_force == price.now else price.now,
        asks_more=asked["price"] > held.price,
    )


def _hours(computed: Computed, held: list[list[PriceInForce | None]]) -> np.ndarray:
    """What an hour brings in each variant and channel at the price in force where there is one, levers and all."""
    prices = computed["price"].copy()
    for row, in_channels in enumerate(held):
        for place, each in enumerate(in_channels):
            prices[row, place] = prices[row, place] if each is None else each.price
    return rerun(computed, {"price": prices}, ["earned_per_hour"])["earned_per_hour"]
