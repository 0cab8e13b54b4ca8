"""The words beside the figures: names, and what switches and keys stand for. They are shown and locked."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pricing.costing import Costing
from pricing.folder.inherit import goods
from pricing.folder.prices.in_force import in_force
from pricing.formulas.sheet_layout import LongRow
from pricing.model.given import word_of
from pricing.model.product import VOLUME_KEYS, sold_together
from pricing.model.rows import CastingRow, MetalRow, PartRow, PriceRow, StepRow, UseRow, VariantRow
from pricing.shown import metal_named
from pricing.workbook.sheets.twins import Twins, sku_within

if TYPE_CHECKING:
    from pricing.studies.doubt.in_doubt import InDoubt

POLICY_WORDS: Mapping[str, str] = MappingProxyType(
    {"metal_and_work": "metal and work", "keystone_of": "keystone of", "earn": "earnings"}
)
#: Heads of the two columns that say how sure a price is.
SURE = ("price P10", "price P90")


@dataclass(frozen=True)
class Label:
    """A column of words: its header, how wide it is, the words of a row, and these as codes where they are others."""

    head: str
    width: int
    words: Callable[[LongRow], str]
    plain: Callable[[LongRow], str] | None = None


class Words:
    """The words of one costing's rows."""

    def __init__(self, costing: Costing, doubt: InDoubt | None = None):
        self.doubt = doubt
        self.stated = costing.folder.stated
        self.resolved = costing.computed.resolved
        self.twins = Twins(self.resolved)
        self.quotes = in_force(self.stated.quotes, self.resolved.as_of)

    @cached_property
    def products(self) -> Mapping[str, Any]:
        """Products by sku, `like` applied."""
        return goods(self.stated.products)

    def variant(self, row: LongRow) -> VariantRow:
        """The variant that a row is, or belongs to."""
        return self.twins.variants[row.index[0]]

    def called(self, row: LongRow) -> str:
        """The sku of the variant that a row is or belongs to, and what that is in."""
        return self.skus[row.index[0]]

    @cached_property
    def skus(self) -> list[str]:
        """The sku of every variant, and what that is in."""
        return [sku_within(self.twins.variants, place) for place in range(len(self.twins.variants))]

    def alloy_title(self, name: str | None) -> str:
        return self.stated.alloys[name].name if name else ""

    def product_name(self, sku: str) -> str:
        """Name as customers read it, with how it is sold where the name does not say."""
        product = self.products[sku]
        return ", ".join(filter(None, (product.name, sold_together(product))))

    def how_sure(self, row: LongRow) -> Mapping[str, float]:
        """The ends of what is asked in eight of ten worlds, by the heads of their columns, of a row of prices.

        Empty where nobody asked, and where a row is no price of its own.
        """
        variant = self.variant(row)
        found = None if self.doubt is None or variant.of else self.doubt.by_variant.get((variant.sku, variant.alloy))
        asked = next((each.asked for each in found.prices if each.channel == row.row.channel), None) if found else None
        return dict(zip(SURE, (asked.low, asked.high), strict=True)) if asked else {}

    def labels(self, sheet: str, table: str) -> tuple[Label, ...]:
        """The columns of words before a table's figures."""
        sku = Label("sku", 17, self.called)
        alloy = Label("alloy", 15, lambda row: self.variant(row).alloy)
        name = Label("name", 20, lambda row: row.row.name)
        channel = Label("channel", 15, lambda row: self.resolved.channels[row.index[0]].name)
        currencies = {each.currency for each in self.resolved.channels} - {self.resolved.currency}
        abroad = (Label("in", 9, lambda row: self.resolved.channels[row.index[-1]].currency),) if currencies else ()
        by_table: dict[str, tuple[Label, ...]] = {
            "currency": (name, Label("is told in", 15, lambda _: self.resolved.currency)),
            "metal": (
                Label("name", 20, lambda row: metal_named(row.row.name), plain=lambda row: row.row.name),
                Label("quoted in", 15, lambda row: f"{row.row.currency}/{row.row.quoted_per}"),
            ),
            "alloy": (name, Label("title", 15, lambda row: row.row.title)),
            "content": (
                Label("alloy", 20, lambda row: self.resolved.alloys[row.index[0]].name),
                Label("element or quote", 15, lambda row: metal_named(self._content(row)), plain=self._content),
            ),
            "role": (name, Label("", 15, lambda _: "")),
            "machine": (name, Label("", 15, lambda _: "")),
            "material": (name, Label("pack unit", 15, lambda row: row.row.pack_unit)),
            "flask": (name, Label("powder", 15, lambda row: self.stated.workshop.flasks[row.row.name].material)),
            "casting": (sku, alloy, name, Label("volume by", 20, self._volume)),
            "finding": (sku, alloy, name, Label("metal paid by weight", 20, lambda row: row.row.finding_alloy or "")),
            "use": (sku, alloy, Label("step", 20, self._step_of_use), Label("material", 20, self._material)),
            "step": (
                sku, alloy,
                Label("step", 18, lambda row: row.row.name),
                Label("per", 7, lambda row: word_of(row.row, "per")),
                Label("takes metal", 8, self._takes_metal),
                Label("rejects", 9, lambda row: rejects(row.row)),
                Label("role", 12, lambda row: row.row.role or ""),
                Label("machine", 15, lambda row: row.row.machine or ""),
            ),
            "channel": (name, Label("audience", 12, lambda row: word_of(row.row, "audience")), *abroad),
            "fee": (channel, Label("fee", 12, lambda row: row.row.name)),
            "price_step": (channel, Label("step", 12, self._price_step)),
            "link": (sku, alloy, name),
            "part": (sku, alloy, Label("piece", 20, name.words), Label("in alloy", 15, self._alloy_of_part)),
            "size": (sku, alloy, Label("size", 12, lambda row: row.row.name)),
            "postage_tier": (channel, Label("tier", 12, lambda row: f"tier {row.index[1] + 1}")),
            "price_fee": (
                sku, alloy,
                Label("channel", 14, lambda row: self.resolved.channels[row.index[1]].name),
                Label("fee", 14, lambda row: row.row.name),
            ),
            "price": (
                sku, alloy,
                Label("channel", 14, lambda row: row.row.channel),
                *abroad,
                Label("policy", 16, lambda row: policy(row.row)),
            ),
            "variant": (sku, alloy, Label("product", 26, lambda row: self.product_name(row.row.sku))),
        }  # fmt: skip
        if (sheet, table) == ("Parts", "variant"):
            return (*by_table["variant"], Label("flask", 20, lambda row: row.row.flask or ""))
        return by_table.get(table, ())

    def after(self, table: str) -> tuple[Label, ...]:
        """Columns of words that follow a table's figures: where they come from."""
        if table == "metal":
            return (Label("quoted on", 12, self._quoted_on), Label("source", 24, self._metal_source))
        if table == "currency":
            return (Label("quoted on", 12, self._exchanged_on), Label("source", 24, self._exchange_source))
        if table == "alloy":
            return (Label("source", 56, lambda row: self.stated.alloys[row.row.name].source or ""),)
        return ()

    def _quoted_on(self, row: LongRow) -> str:
        return str(row.row.quoted_on or "")

    def _metal_source(self, row: LongRow) -> str:
        quote = self.quotes.metals.get(row.row.name)
        return quote.source if quote else ""

    def _exchanged_on(self, row: LongRow) -> str:
        quote = self.quotes.exchange.get(row.row.name)
        return str(quote.date) if quote else "always 1"

    def _exchange_source(self, row: LongRow) -> str:
        quote = self.quotes.exchange.get(row.row.name)
        return quote.source if quote else ""

    def _content(self, row: LongRow) -> str:
        alloy = self.resolved.alloys[row.index[0]]
        stated = self.stated.alloys[alloy.name]
        if stated.priced_by == "quote" and stated.quote is not None:
            return stated.quote
        return list(stated.composition)[row.index[1]]

    def _volume(self, row: LongRow) -> str:
        casting = row.row
        if casting.metal_g is not None:
            return f"weighed {'finished' if casting.weighed_finished else 'as cast'}, {casting.in_alloy}"
        stated = self.products[self.variant(row).sku].castings[row.index[1]]
        return "model weighed" if casting.model_g is not None else (stated.mesh or "volume stated")

    def _alloy_of_part(self, row: LongRow) -> str:
        part: PartRow = row.row
        return part.piece.split("\n")[1]

    def _step_of_use(self, row: LongRow) -> str:
        return self.variant(row).steps[row.index[1]].name

    def _material(self, row: LongRow) -> str:
        if row.row.material is None:
            return f"{row.row.plating_alloy} plating"
        return f"{row.row.material}, the flask's fill" if row.row.takes_flask_powder else row.row.material

    def _takes_metal(self, row: LongRow) -> str:
        return ("cut" if self.variant(row).takes == "cut" else "pour") if row.row.is_metal_step else ""

    def _price_step(self, row: LongRow) -> str:
        return "for all others" if row.row.applies_below is None else f"step {row.index[1] + 1}"


def rejects(step: StepRow) -> str:
    """Where a piece goes that the step spoils; nothing before the metal is in."""
    return word_of(step, "rejects") if step.is_from_metal else ""


def policy(price: PriceRow) -> str:
    """The way of asking, in words."""
    words = POLICY_WORDS.get(price.policy_kind, price.policy_kind)
    return f"{words} {price.followed}" if price.followed else words


def metal_unit(metal: MetalRow) -> str:
    """What a metal is quoted in: `USD/ozt`."""
    return f"{metal.currency}/{metal.quoted_per}"


def stated_way(casting: CastingRow) -> str:
    """The input that says how large a casting is."""
    return next(keys[0] for keys in VOLUME_KEYS if getattr(casting, keys[0], None) is not None)


def used_way(use: UseRow) -> str:
    """The input that says how much of a material is used."""
    ways = [each.name for each in UseRow.inputs.values() if each.unit and not each.is_switch]
    return next((name for name in ways if getattr(use, name)), ways[0])
