"""Draws for what a price is asked: quotations of a generated workshop."""

from __future__ import annotations

from .chooser import Chooser
from .parts_of_workshops import part_sku
from .recompute_folder import figures_of, follow_like
from .workshop_writer import Quotation


def quotations(pick: Chooser, products: dict[str, dict], channels: list[str]) -> tuple[Quotation, ...]:
    """None, one or two quotations for what is sold somewhere; quantities in any order."""
    possible = []
    for stated in products.values():
        product = follow_like(stated, products)
        for alloy in product["alloys"]:
            sold_in = figures_of(product, alloy).get("sold_in", channels)
            possible += [(product, alloy, channel) for channel in sold_in]
    asked = []
    for _ in range(pick.integer(0, 2) if possible else 0):
        product, alloy, channel = pick.one(possible)
        quantities = {pick.one([pick.integer(1, 12), pick.integer(13, 300)]) for _ in range(pick.integer(1, 4))}
        charged = pick.chance(3)
        asked.append(
            Quotation(part_sku(pick, product), alloy, channel, tuple(pick.shuffled(sorted(quantities))), charged)
        )
    return tuple(asked)
