"""What is said to the maker of metal that a customer brings: its content, its credit, what brings it to an alloy."""

from __future__ import annotations

import textwrap
from typing import Any

from pricing.cli.screens import screen
from pricing.parcels.customer import TakenIn
from pricing.pouring.mixing import Brought
from pricing.shown import Shown

#: What is said wherever old metal may be melted.
MELTING = (
    "have the customer's metal assayed before it is melted: old pieces hold solder, and some solder holds cadmium or "
    "zinc, whose fume is poisonous. Where you do not know what is in it, have it refined. What you must write down of "
    "metal bought from the public is for the law of the place"
)


def show_metal(metal: TakenIn, shown: Shown) -> None:
    """To stderr, beside a quotation."""
    console = screen.err()
    console.print()
    fine = f"{metal.grams:,.2f} g × {metal.fineness:.4g} = {metal.fine_g:,.2f} g of fine {metal.word}"
    lines = [
        f"The customer's metal: {fine}, worth {shown.money(metal.fine_g * metal.spot_per_g)}.",
        f"Credited as scrap on the terms of {metal.terms}: {shown.money(metal.credit)} {shown.currency}.",
        *(line for name, fresh, brought in metal.brought for line in _brought_lines(metal, name, fresh, brought)),
    ]
    for line in lines:
        for part in textwrap.wrap(line, console.width):
            console.print(part)


def _brought_lines(metal: TakenIn, name: str, fresh: float, brought: Brought | None) -> list[str]:
    if brought is None:
        return [f"Nothing added makes {name} of it: it is credited only."]
    have, want, grams = f"{brought.before:.4g}", f"{brought.wanted:.4g}", f"{metal.grams:,.2f}"
    if brought.add_fine_g > 0:
        added = (
            f"add {grams} × ({want} − {have}) / (1 − {want}) = {brought.add_fine_g:,.2f} g of fine {metal.word}: "
            f"{brought.comes_to_g:,.2f} g"
        )
    elif brought.add_base_g > 0:
        added = (
            f"add {grams} × ({have} / {want} − 1) = {brought.add_base_g:,.2f} g of metal without {metal.word}: "
            f"{brought.comes_to_g:,.2f} g"
        )
    else:
        added = "nothing is to be added"
    return [f"To bring it to {name} ({want}): {added}. A set takes {fresh:,.2f} g of new metal."]


def metal_record(metal: TakenIn) -> dict[str, Any]:
    """The same as a plain record."""
    return {
        "grams": metal.grams,
        "element": metal.element,
        "fineness": metal.fineness,
        "fine_g": metal.fine_g,
        "credit": metal.credit,
        "terms_of": metal.terms,
        "brought_to": [
            {"alloy": name, "add_fine_g": each.add_fine_g if each else None,
             "add_base_g": each.add_base_g if each else None, "comes_to_g": each.comes_to_g if each else None}
            for name, _, each in metal.brought
        ],
    }  # fmt: skip
