"""For each repriced row: how its cost, and what the policy asks, changed since its price was set, and why."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import NamedTuple

from pricing.editions.chain import Edition, read, sensible
from pricing.editions.inputs import inputs_of
from pricing.errors import Faults, TroytagError
from pricing.model.currency import minor_unit_digits
from pricing.studies.causes.groups import Group
from pricing.studies.causes.of_change import NOTHING, Causes, Mixtures, cost_in_pair, price_in_pair
from pricing.studies.causes.pairing import paired
from pricing.studies.causes.sharing import whole_units
from pricing.studies.repricing.reprice import PriceInForce, RepricedRow, Repricing


@dataclass(frozen=True)
class CostChange:
    """What an amount was when the price was set, what it is now, and the share of each group that changed it."""

    since: date
    edition: int
    before: float
    after: float
    parts: tuple[tuple[Group, float], ...]

    def shown_parts(self, currency: str) -> list[tuple[Group, float]]:
        """The parts in whole pence (or what the currency has), adding up to the change of the two shown amounts."""
        return shown_parts(self.parts, (self.before, self.after), currency)


def shown_parts(
    parts: Sequence[tuple[Group, float]], amounts: tuple[float, float], currency: str
) -> list[tuple[Group, float]]:
    """Parts of the change from one amount to another in whole pence, adding up to that of the two as they are shown."""
    digits = minor_unit_digits(currency)
    unit = 10.0**-digits
    before, after = (round(round(amount, digits) / unit) for amount in amounts)
    units = whole_units([part for _, part in parts], after - before, unit)
    shown = [(group, amount * unit) for (group, _), amount in zip(parts, units, strict=True) if amount]
    return sorted(shown, key=lambda part: -abs(part[1]))


class Place(NamedTuple):
    """Where a change is told: its causes, and the place of a variant, or of a variant and a channel, in them."""

    causes: Causes
    at: tuple[int, ...]


@dataclass
class Changes:
    """Changes of cost by (sku, alloy, edition in which the price was set), of asked prices with the channel too."""

    repricing: Repricing
    costs: dict[int, Causes] = field(default_factory=dict)
    prices: dict[int, Causes] = field(default_factory=dict)
    editions: dict[int, Edition] = field(default_factory=dict)
    missing: dict[int, str] = field(default_factory=dict)

    def of_cost(self, row: RepricedRow) -> CostChange | None:
        """The change of the row's unit cost; None where its edition cannot be compared, or there is none."""
        return _change(row.in_force, self.place_of_cost(row))

    def of_price(self, row: RepricedRow) -> CostChange | None:
        """The change of what the policy asks in the row's channel."""
        return _change(row.in_force, self.place_of_price(row))

    def place_of_cost(self, row: RepricedRow) -> Place | None:
        """Where the change of its unit cost is told."""
        causes = self.costs.get(row.in_force.set_in) if row.in_force else None
        place = causes.places.get((row.sku, row.alloy)) if causes else None
        return Place(causes, (place,)) if causes and place is not None else None

    def place_of_price(self, row: RepricedRow) -> Place | None:
        """Where the change of what is asked in its channel is told."""
        causes = self.prices.get(row.in_force.set_in) if row.in_force else None
        place = causes.places.get((row.sku, row.alloy)) if causes else None
        return Place(causes, (place, causes.channels.index(row.channel))) if causes and place is not None else None


def changes(root: Path, repricing: Repricing, rows: Iterable[RepricedRow], of_prices: bool = False) -> Changes:
    """Why the costs behind some rows changed; with `of_prices` why their asked prices did, too.

    An edition that cannot be read, or that keeps its inputs in another form, is told in `missing`.
    """
    found = Changes(repricing)
    computed = repricing.costing.computed
    for number in sorted({row.in_force.set_in for row in rows if row.in_force and row.verdict != "gone"}):
        last = repricing.edition
        try:
            edition = last if last and last.number == number else read(root, number)
            before = inputs_of(edition)
            published = {(each["sku"], each["alloy"]): each["unit_cost"] for each in edition.content["variants"]}
            with sensible(edition.number, "inputs"):
                pair = paired(before, computed.resolved, computed.columns)
                mixtures = Mixtures(pair, computed.values if pair.after is computed.columns else NOTHING)
                costs = cost_in_pair(mixtures, published)
                prices = price_in_pair(mixtures) if of_prices else None
        except Faults as spoilt:
            found.missing[number] = spoilt.faults[0].problem
            continue
        except TroytagError as absent:
            found.missing[number] = str(absent)
            continue
        found.editions[number] = edition
        found.costs[number] = costs
        if prices:
            found.prices[number] = prices
    return found


def _change(held: PriceInForce | None, place: Place | None) -> CostChange | None:
    if held is None or place is None:
        return None
    causes, at = place
    parts = tuple((group, float(share[at])) for group, share in causes.shares.items())
    return CostChange(
        since=held.set_on,
        edition=held.set_in,
        before=float(causes.before[at]),
        after=float(causes.after[at]),
        parts=tuple(part for part in parts if part[1]),
    )
