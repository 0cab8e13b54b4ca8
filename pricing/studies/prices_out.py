"""Which prices go out: those in force, those of one edition, or those that the policies ask today.

Whoever shows a price to somebody (list, tags, cards, upload sheet, catalogue, page) takes it from here, so that what
was decided and published is what everybody reads.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from types import MappingProxyType
from typing import Literal

import numpy as np

from pricing.costing import Costing
from pricing.editions.chain import Edition, in_force_on, read
from pricing.folder.prices.in_force import in_force
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import again, with_idle_row
from pricing.model.quote import Quote
from pricing.records import where_sold
from pricing.studies.repricing.reprice import PRICE_NOISE, PriceInForce, prices_in_force

#: The prices that are wanted: None those in force, a number those of that edition, "asked" what is asked now.
Wanted = int | Literal["asked"] | None
#: So many prices that are not published are named.
MOST_NAMED = 5
#: A variant in a channel: sku, alloy, channel.
Spot = tuple[str, str, str]


@dataclass(frozen=True)
class PricesOut:
    """Prices as they go out, and all figures at these prices.

    `costing` holds the figures at the prices that go out; a variant that has no such price in a channel counts there as
    not sold. `asked` holds them at what the policies ask. `edition` is where the prices come from, None where they are
    asked and not published; `is_wanted` says whether the asked ones were wanted, and not only the best that there is.
    `published` are the published prices, none where nothing is published; `unpublished` the variants and channels that
    are sold and have none.
    """

    costing: Costing
    asked: Costing
    edition: Edition | None
    is_wanted: bool
    unpublished: tuple[Spot, ...]
    published: Mapping[Spot, PriceInForce]

    @property
    def computed(self) -> Computed:
        return self.costing.computed

    @property
    def since(self) -> date:
        """The day of the prices: of the edition, or the one whose quotes counted."""
        return self.edition.as_of if self.edition else self.asked.computed.resolved.as_of

    @cached_property
    def quotes(self) -> tuple[Quote, ...]:
        """The prices of metal and the exchange rates that these prices stand on."""
        if self.edition:
            return tuple(Quote.model_validate_json(json.dumps(line)) for line in self.edition.content["quotes"])
        return quotes_in_force(self.asked)

    def in_force(self, spots: Sequence[Spot]) -> dict[str, list[float | int | None]]:
        """The published price and its edition at each spot, as records name them; none where no edition is in force."""
        if self.edition is None:
            return {}
        found = [self.published.get(spot) for spot in spots]
        return {
            "price_in_force": [each.price if each else None for each in found],
            "set_in_edition": [each.set_in if each else None for each in found],
        }

    def differs(self, row: int, channel: int) -> bool:
        """Whether the policy asks another price today than the one that goes out."""
        apart = self.computed["price"][row, channel] - self.asked.computed["price"][row, channel]
        return bool(self.computed.sold_places[row, channel] and abs(apart) > PRICE_NOISE)


def quotes_in_force(costing: Costing) -> tuple[Quote, ...]:
    """The prices of metal and the exchange rates that a costing stands on."""
    resolved = costing.computed.resolved
    found = in_force(costing.folder.stated.quotes, resolved.as_of)
    lines = [found.metals[metal.name] for metal in resolved.metals]
    return (*lines, *(found.exchange[each.name] for each in resolved.currencies if each.name in found.exchange))


def prices_out(costing: Costing, wanted: Wanted = None) -> PricesOut:
    """The prices that go out of a costed folder.

    Raises UsageFault where there is no such edition, Faults where one is not as it was published. An edition in
    another currency than the workshop's does not count.
    """
    root, resolved = costing.folder.root, costing.computed.resolved
    edition = None
    if wanted is None:
        edition = in_force_on(root, resolved.as_of)
    elif wanted != "asked":
        edition = read(root, wanted)
    if edition is None or edition.currency != resolved.currency:
        return PricesOut(costing, costing, None, wanted == "asked", (), MappingProxyType({}))
    published = MappingProxyType(prices_in_force(edition))
    sold, spots = costing.computed.sold_places, where_sold(costing.computed)
    prices = [published[spot].price if spot in published else math.nan for spot in spots.spots]
    held = np.full(sold.shape, math.nan)
    held[spots.places, spots.columns] = prices
    known = sold & ~np.isnan(held)
    missing = tuple(spot for spot, price in zip(spots.spots, prices, strict=True) if math.isnan(price))
    out = at_prices(costing.computed, np.where(known, held, costing.computed["price"]))
    return PricesOut(replace(costing, computed=_sold_where(out, known)), costing, edition, False, missing, published)


def at_prices(computed: Computed, prices: np.ndarray) -> Computed:
    """The figures with these prices (by variant and channel) instead of those that the policy asks."""
    return again(computed, {"price": prices})


def _sold_where(computed: Computed, known: np.ndarray) -> Computed:
    """The same figures, sold only in these places."""
    if (computed.sold_places == known).all():
        return computed
    variants = tuple(
        variant.model_copy(
            update={
                "prices": tuple(
                    price if price.sold == is_known else price.model_copy(update={"sold": bool(is_known)})
                    for price, is_known in zip(variant.prices, row, strict=True)
                )
            }
        )
        for variant, row in zip(computed.resolved.variants, known, strict=True)
    )
    resolved = computed.resolved.model_copy(update={"variants": variants})
    values = MappingProxyType({**computed.values, "sold": with_idle_row(computed, "sold", known)})
    return replace(computed, resolved=resolved, values=values)


def standing(out: PricesOut) -> list[str]:
    """Whether these prices are published, and what is left out because it is not."""
    if out.edition is None:
        return [] if out.is_wanted else ["these prices are asked and not published yet; reprice --publish does that."]
    if not out.unpublished:
        return []
    named = ", ".join(f"{sku} in {alloy} ({channel})" for sku, alloy, channel in out.unpublished[:MOST_NAMED])
    more = len(out.unpublished) - MOST_NAMED
    named += f" and {more} more" if more > 0 else ""
    return [f"not in edition {out.edition.number} and left out: {named}. Publish them (reprice), or take --asked."]
