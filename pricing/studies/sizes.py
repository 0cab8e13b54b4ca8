"""Sizes at one price: what each weighs, costs and leaves, and what the larger ones would have to cost more."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from pricing.formulas.engine import Computed
from pricing.records import size_records
from pricing.shown import Shown
from pricing.studies.repricing.deciding import PRICE_NOISE


@dataclass(frozen=True)
class SizeLine:
    """One size as if every set were of it. `margins` are at the one price, by channel.

    `lacking` is, in the channel's currency, how far the one price is below what the policy asks of this size; 0 where
    it is enough.
    """

    size: str
    length_mm: float
    finished_g: float
    total_g: float
    unit_cost: float
    margins: Mapping[str, float | None]
    lacking: Mapping[str, float]


def size_lines(computed: Computed, row: int) -> list[SizeLine]:
    """The sizes of a variant that has one price for all of them, the shortest first; none where it has no sizes."""
    records = size_records(computed, row)
    resolved = computed.resolved
    variant = resolved.variants[row]
    wanted = {
        hidden.size: computed.values["target_price"][place]
        for place, hidden in enumerate(resolved.hidden, len(resolved.variants))
        if hidden.of == variant.called and not hidden.links
    }
    found: list[SizeLine] = []
    for record in sorted(records, key=lambda record: record["length_mm"]):
        short = wanted[record["size"]] - computed["price"][row]
        lacking = {variant.prices[column].channel: _unless_noise(short[column]) for column in variant.sold_places}
        figures = {key: record[key] for key in ("size", "length_mm", "finished_g", "total_g", "unit_cost")}
        found.append(SizeLine(**figures, margins=record["margin"], lacking=lacking))
    return found


def _unless_noise(short: float) -> float:
    return float(short) if short > PRICE_NOISE else 0.0


class Surcharge(NamedTuple):
    """What `size` and every longer one would have to cost more, so that every size earns what the policy asks."""

    size: str
    amount: float


def surcharge(lines: Sequence[SizeLine], channel: str) -> Surcharge | None:
    """The surcharge from the first size on that lacks something in a channel; None where the one price is enough."""
    short = [line for line in lines if line.lacking[channel] > 0]
    return Surcharge(short[0].size, max(line.lacking[channel] for line in short)) if short else None


def surcharge_words(found: Surcharge, channel: str, currency: str, shown: Shown) -> str:
    """`In shop 4.20 GBP more from size P on would make every size earn what is asked`."""
    amount = f"{shown.in_currency(found.amount, currency)} {currency}"
    return f"In {channel} {amount} more from size {found.size} on would make every size earn what is asked"
