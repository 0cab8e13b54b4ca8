"""What is to be shown of a costing, and the words that its screens share."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

from pricing.costing import Costing
from pricing.made_of import Contents, contents_of
from pricing.model.metals import PRECIOUS
from pricing.model.product import sold_together
from pricing.records import variant_records, with_one_pour
from pricing.shown import COSTS, Shown, metal_of, shown_of
from pricing.studies.prices_out import PricesOut

if TYPE_CHECKING:
    from pricing.studies.doubt.in_doubt import InDoubt

DECIDED = MappingProxyType(
    {"policy": "policy", "least_price": "least price", "one_retail_price": "one retail price", "fixed": "fixed"}
)


@dataclass(frozen=True)
class View:
    """What is to be shown of a costing."""

    costing: Costing
    rows: list[int]
    channels: list[str]
    out: PricesOut
    doubt: InDoubt | None = None

    @cached_property
    def in_force(self) -> list[dict[str, Any]]:
        """The records at the prices in force; a channel in which none is published is not there."""
        return variant_records(self.out.computed, self.rows, in_short=True)

    def published(self, record: dict[str, Any]) -> dict[str, dict[str, Any]]:
        """What the prices in force bring, by channel; nothing where no edition is in force."""
        if self.out.edition is None:
            return {}
        prices = self.in_force[self._places[id(record)]]["prices"]
        return {name: prices[name] for name in self.channels if name in prices}

    def sure_cost(self, sku: str, alloy: str) -> list[str]:
        """How sure a cost is, as one cell of a table; none where nobody asked."""
        if self.doubt is None:
            return []
        low, _, high = self.doubt.by_variant[sku, alloy].cost
        return [f"{self.shown.money(low)}–{self.shown.money(high)}"]

    def sure_price(self, sku: str, alloy: str, channel: str) -> list[str]:
        """How sure the price is that its policy asks in a channel, as one cell; none where nobody asked."""
        if self.doubt is None:
            return []
        prices = self.doubt.by_variant[sku, alloy].prices
        asked = next((each.asked for each in prices if each.channel == channel), None)
        if asked is None:
            return [""]
        return [f"{self.shown.price(channel, asked.low)}–{self.shown.price(channel, asked.high)}"]

    @property
    def sure_heads(self) -> list[str]:
        """The head of such a column."""
        return [] if self.doubt is None else ["P10–P90"]

    def costs(self, record: dict[str, Any]) -> str:
        """`a pair costs`, as it is sold."""
        return COSTS[self.products[record["sku"]].sold_as or "each"]

    def decided(self, binds: str) -> str:
        """What decided an asked price, in a few words."""
        stated = self.costing.folder.stated
        if binds == "keystone" and stated.ladder and stated.ladder.keystone:
            shops = [name for name, channel in stated.channels.items() if channel.audience == "wholesale"]
            return f"{stated.ladder.keystone:g} × {shops[0] if len(shops) == 1 else 'wholesale'}"
        return DECIDED[binds]

    @cached_property
    def shown(self) -> Shown:
        return shown_of(self.costing.folder.stated)

    @cached_property
    def records(self) -> list[dict[str, Any]]:
        return with_one_pour(self.costing.computed, self.rows)

    @cached_property
    def products(self) -> dict[str, Any]:
        return self.costing.folder.goods

    def title(self, record: dict[str, Any]) -> str:
        product = self.products[record["sku"]]
        named = ", ".join(filter(None, (product.name, sold_together(product))))
        return f"{named} · {self.alloy_title(record['alloy'])}"

    def alloy_title(self, alloy: str) -> str:
        return self.costing.folder.stated.alloys[alloy].name

    def is_precious(self, record: dict[str, Any]) -> bool:
        """Whether there is a precious metal in it, or in what is joined to it."""
        alloys = self.costing.folder.stated.alloys
        in_it = {record["alloy"], *(metal.alloy for metal in self.contents(record).metals)}
        return any(element in PRECIOUS for alloy in in_it for element in alloys[alloy].composition)

    def takes(self, record: dict[str, Any]) -> str:
        """How its own metal comes in; nothing where it has none."""
        variant = self.costing.computed.resolved.variants[self.row(record)]
        return variant.takes if variant.castings else ""

    def contents(self, record: dict[str, Any]) -> Contents:
        """Every metal in one set with its grams."""
        return contents_of(self.costing.computed, self.row(record))

    @cached_property
    def hour_head(self) -> str:
        """What an hour brings is told of the maker's own, where there is hired help."""
        labour = self.costing.folder.stated.workshop.labour.values()
        return "an hour" if all(role.own for role in labour) else "an hour of yours"

    def row(self, record: dict[str, Any]) -> int:
        """The place of a record's variant in the resolved model."""
        return self.rows[self._places[id(record)]]

    @cached_property
    def _places(self) -> dict[int, int]:
        """The place of each record among them."""
        return {id(record): place for place, record in enumerate(self.records)}

    def sold_somewhere(self, record: dict[str, Any]) -> bool:
        """Whether it is sold in any channel, asked for or not."""
        return bool(record["prices"])

    def prices(self, record: dict[str, Any]) -> dict[str, dict[str, Any]]:
        return {name: prices for name, prices in record["prices"].items() if name in self.channels}

    def basis(self) -> str:
        asked, day = self.costing.asked, metal_of(self.costing.computed.resolved)
        run = (
            ""
            if asked.run is None
            else f", a run of {asked.run:g} sets" + (" that pays for the design" if asked.charge_design else "")
        )
        edition = self.out.edition
        prices = f"\nPrices in force: edition {edition.number} of {edition.as_of}" if edition else ""
        return f"{self.costing.folder.stated.workshop.name}, {self.shown.currency}, {day}{run}{prices}"
