"""What is for sale, in the order in which people read it: collections, in them products, in them alloys."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from pricing.costing import Costing
from pricing.errors import UsageFault, did_you_mean
from pricing.lists.number_habits import Habit
from pricing.made_of import contents_of
from pricing.model.alloy import Alloy
from pricing.model.product import Product, sold_together

SOLD_AS = "sold as a "


@dataclass(frozen=True)
class Item:
    """A product and the rows of its variants in the resolved model; of one size of it alone, that size."""

    product: Product
    rows: tuple[int, ...]
    skus: tuple[str, ...]

    @property
    def sku(self) -> str:
        """What it is ordered by: of sizes that are each priced `wave-band-50 to wave-band-60`."""
        return self.skus[0] if len(self.skus) == 1 else f"{self.skus[0]} to {self.skus[-1]}"

    @property
    def sizes(self) -> str:
        """`sizes J, L½, M`, where one price holds for all of them."""
        sizes = self.product.sizes
        return "" if sizes is None or sizes.each_priced else f"sizes {', '.join(sizes.made)}"

    @property
    def sold_as(self) -> str:
        """`sold as a pair`, where the name does not say so; empty for what is sold each."""
        word = sold_together(self.product)
        return f"{SOLD_AS}{word}" if word else ""


@dataclass(frozen=True)
class Collection:
    """Some products under one heading; the last may have none."""

    name: str | None
    items: tuple[Item, ...]


def sold_rows(costing: Costing, channel: str, skus: Iterable[str], alloys: Iterable[str]) -> list[int]:
    """Rows of the variants sold in a channel. Raises UsageFault where there is none."""
    resolved, skus, alloys = costing.computed.resolved, set(skus), set(alloys)
    rows = [
        row
        for row, variant in enumerate(resolved.variants)
        if (variant.sku in skus or variant.product in skus) and variant.alloy in alloys and channel in variant.sold_in
    ]
    if not rows:
        raise UsageFault(f"none of these products is sold in {channel}. Name another channel with --channel.")
    return rows


def collections(costing: Costing, rows: Iterable[int]) -> list[Collection]:
    """The variants in `rows` by collection and product name; what is in no collection comes last."""
    products = costing.folder.goods
    by_sku: dict[str, list[int]] = {}
    for row in rows:
        by_sku.setdefault(costing.computed.resolved.variants[row].product, []).append(row)
    items = []
    for sku, found in by_sku.items():
        skus = tuple(dict.fromkeys(costing.computed.resolved.variants[row].sku for row in found))
        items.append(Item(products[skus[0] if len(skus) == 1 else sku], tuple(found), skus))
    items.sort(key=lambda item: (item.product.name.casefold(), item.product.sku))
    names = sorted({item.product.collection for item in items if item.product.collection}, key=str.casefold)
    return [
        Collection(name, tuple(item for item in items if item.product.collection == name))
        for name in (*names, None)
        if any(item.product.collection == name for item in items)
    ]


def alloy_of(costing: Costing, row: int) -> Alloy:
    """The alloy of a variant as stated."""
    return costing.folder.stated.alloys[costing.computed.resolved.variants[row].alloy]


def size_of(costing: Costing, item: Item, row: int) -> str:
    """The size of a variant, where several of its product stand in one item."""
    return (costing.computed.resolved.variants[row].size or "") if len(item.skus) > 1 else ""


@dataclass(frozen=True)
class MetalNamed:
    """A metal in a set as customers read it."""

    name: str
    mark: str
    grams: float


def metals_named(costing: Costing, row: int) -> list[MetalNamed]:
    """Every metal in a set with its grams, its own first; a piece without any is called by its variant's alloy."""
    alloys = costing.folder.stated.alloys
    found = contents_of(costing.computed, row).metals
    named = [MetalNamed(alloys[each.alloy].name, alloys[each.alloy].mark or "", each.grams) for each in found]
    return named or [MetalNamed(alloy_of(costing, row).name, alloy_of(costing, row).mark or "", 0.0)]


def metal_words(costing: Costing, row: int, habit: Habit) -> str:
    """`Sterling silver`; of several `Bronze 8.92 g, Sterling silver 925 2.84 g`."""
    named = metals_named(costing, row)
    if len(named) == 1:
        return named[0].name
    return ", ".join(f"{' '.join(filter(None, (each.name, each.mark)))} {habit.about(each.grams)}" for each in named)


def habit_in(habit: Habit, costing: Costing, channel: str) -> Habit:
    """The habit with the currency that the buyers of a channel pay in."""
    currency = costing.folder.stated.channels[channel].currency
    return habit if currency in (None, habit.currency) else replace(habit, currency=currency)


def code_of(costing: Costing, row: int) -> str:
    """`acorn-knob:sterling`: what a shop orders by, and what a tag's code says."""
    variant = costing.computed.resolved.variants[row]
    return f"{variant.sku}:{variant.alloy}"


def channel_for(costing: Costing, audience: str | None, stated: str | None) -> str:
    """The channel named, else the first in channels.toml of this audience (None: of any). Raises UsageFault."""
    channels = costing.folder.stated.channels
    if stated is not None:
        if stated not in channels:
            raise UsageFault(f'no channel "{stated}". {did_you_mean(stated, channels)}')
        if audience and channels[stated].audience != audience:
            raise UsageFault(f"{stated} is a {channels[stated].audience} channel; a {audience} one belongs here.")
        return stated
    found = next((name for name, channel in channels.items() if audience in (None, channel.audience)), None)
    if found is None:
        raise UsageFault(f"there is no {audience or ''} channel in channels.toml. Add one.".replace("  ", " "))
    return found
