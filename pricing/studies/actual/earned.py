"""Margins with the cost that was really paid: the engine's own formulas run again on from another cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from pricing.drawer.state import Drawer
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun_all
from pricing.records import number
from pricing.studies.actual.variance import Made

#: What is looked at once more.
WANTED = ("metal_cost", "unit_cost", "profit", "margin")


def at_cost_paid(computed: Computed, drawer: Drawer) -> Mapping[str, np.ndarray]:
    """Figures by name where fresh metal costs what was paid for what lies in the drawer, prices as they stand.

    That is what casting grain costs; what is sawn from sheet or bought as castings, and metal of which nothing lies
    there or nobody knows what it had cost, costs what it costs today.
    """
    resolved = computed.resolved
    paid = computed.values["buy_price_per_g"].copy()
    for row, variant in enumerate((*resolved.variants, *resolved.hidden)):
        average = drawer.of(variant.alloy, "fresh").average
        if average is not None and drawer.of(variant.alloy, "fresh").grams > 0:
            if variant.takes == "cast":
                paid[row] = average
    changed = {"buy_price_per_g": paid, "price": computed.values["price"]}
    return _shown(computed, rerun_all(computed, changed, WANTED))


def really_earned(computed: Computed, made: Sequence[Made]) -> Mapping[str, np.ndarray]:
    """Figures by name where the variants that were made cost what they really did, prices as they stand."""
    metal, labour = computed.values["metal_cost"].copy(), computed.values["labour_cost"].copy()
    for each in made:
        metal[each.row] += each.metal_more
        labour[each.row] += each.time_more
    changed = {"metal_cost": metal, "labour_cost": labour, "price": computed.values["price"]}
    return _shown(computed, rerun_all(computed, changed, WANTED))


def _shown(computed: Computed, values: Mapping[str, np.ndarray]) -> dict[str, np.ndarray]:
    return {name: computed.shown(name, array) for name, array in values.items()}


def margin_records(computed: Computed, other: Mapping[str, np.ndarray], rows: Sequence[int]) -> list[dict[str, Any]]:
    """Cost and margin of these variants in every channel in which they are sold, by the figures and by the others."""
    resolved, found = computed.resolved, []
    for row in rows:
        variant = resolved.variants[row]
        for column in variant.sold_places:
            found.append(
                {
                    "sku": variant.sku,
                    "alloy": variant.alloy,
                    "channel": variant.prices[column].channel,
                    "price": number(computed["price"][row, column]),
                    "unit_cost": number(computed["unit_cost"][row]),
                    "margin": number(computed["margin"][row, column]),
                    "other_cost": number(other["unit_cost"][row]),
                    "other_margin": number(other["margin"][row, column]),
                }
            )
    return found
