"""The engine asked again with changed inputs: a run, dearer metal, another way of asking a price.

Each function takes a resolved workshop and gives one with some rows exchanged; `compute` does the rest. So
whatever a quotation or a stall card says is the engine's figure, never a second formula.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any

from pricing.model.given import idle_of
from pricing.model.rows import ChannelRow, PriceRow, Resolved

#: A price row that asks nothing by itself.
ASKS_NOTHING: Mapping[str, Any] = MappingProxyType({**idle_of(PriceRow), "policy_kind": "multiple", "followed": None})


def only(resolved: Resolved, rows: Iterable[int]) -> Resolved:
    """Only the variants in these rows, in this order."""
    variants = tuple(resolved.variants[row] for row in rows)
    names = {variant.called for variant in variants}
    hidden = tuple(variant for variant in resolved.hidden if variant.of in names)
    return resolved.model_copy(update={"variants": variants, "hidden": hidden})


def in_a_run(resolved: Resolved, sets: float, charge_design: bool) -> Resolved:
    """For a run of so many sets, which pays for the whole design or not."""
    changed = {"run_sets": float(sets), "design_charged": charge_design}
    return resolved.model_copy(update={"workshop": resolved.workshop.model_copy(update=changed)})


def with_metal_at(resolved: Resolved, times: float) -> Resolved:
    """With every metal quoted at so many times its price; exchange rates stay."""
    metals = tuple(row.model_copy(update={"quote_price": row.quote_price * times}) for row in resolved.metals)
    return resolved.model_copy(update={"metals": metals})


def in_orders_of(resolved: Resolved, channel: str, sets: float) -> Resolved:
    """With so many sets in every order of a channel, of every product."""
    column, variants = _column(resolved, channel), []
    for variant in resolved.variants:
        row = variant.prices[column].model_copy(update={"own_sets_per_order": None})
        prices = (*variant.prices[:column], row, *variant.prices[column + 1 :])
        variants.append(variant.model_copy(update={"prices": prices}))
    changed = resolved.model_copy(update={"variants": tuple(variants)})
    return _with_channel(changed, channel, sets_per_order=float(sets))


def in_one_order(resolved: Resolved, sets: float) -> Resolved:
    """Each variant sold as one order of so many sets in every channel, without discount and without a ladder."""
    channels = tuple(
        row.model_copy(update={"sets_per_order": float(sets), "discount": 0.0}) for row in resolved.channels
    )
    variants = tuple(
        variant.model_copy(
            update={"prices": tuple(row.model_copy(update={"own_sets_per_order": None}) for row in variant.prices)}
        )
        for variant in resolved.variants
    )
    workshop = resolved.workshop.model_copy(update={"has_ladder": False})
    return resolved.model_copy(update={"channels": channels, "variants": variants, "workshop": workshop})


def asking(resolved: Resolved, channel: str, asked: Sequence[Mapping[str, Any]]) -> Resolved:
    """With another way of asking in one channel, one for each variant: fields of its price row.

    What is not stated asks nothing, and no ladder lifts the price. Every variant counts as sold there.
    """
    column = _column(resolved, channel)
    variants = []
    for variant, fields in zip(resolved.variants, asked, strict=True):
        row: PriceRow = variant.prices[column].model_copy(update={**ASKS_NOTHING, "sold": True, **fields})
        prices = (*variant.prices[:column], row, *variant.prices[column + 1 :])
        variants.append(variant.model_copy(update={"prices": prices}))
    workshop = resolved.workshop.model_copy(update={"has_ladder": False})
    return resolved.model_copy(update={"workshop": workshop, "variants": tuple(variants)})


def _with_channel(resolved: Resolved, channel: str, **fields: Any) -> Resolved:
    column = _column(resolved, channel)
    row: ChannelRow = resolved.channels[column].model_copy(update=fields)
    channels = (*resolved.channels[:column], row, *resolved.channels[column + 1 :])
    return resolved.model_copy(update={"channels": channels})


def _column(resolved: Resolved, channel: str) -> int:
    return [row.name for row in resolved.channels].index(channel)
