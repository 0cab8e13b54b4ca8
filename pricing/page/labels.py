"""What the fields of a design are called on the page, beside the field and in what is said about it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

LABELS: Mapping[str, str] = MappingProxyType(
    {
        "name": "Name, as customers read it",
        "sku": "Sku, its name in the books",
        "sold_as": "Sold as",
        "collection": "Collection",
        "alloys": "Alloys, side by side",
        "process": "Process",
        "flask": "Flask",
        "pieces_per_flask": "Castings in a flask",
        "tree_mm": "Height of a full tree",
        "sprue_ratio": "Sprues per gram of castings",
        "expected_sales": "Sets sold over its life",
        "shrinkage": "Shrinkage, a fraction",
        "sold_in": "Sold in",
        "castings": "Casting",
        "castings-name": "Called",
        "castings-count": "How many in one set",
        "castings-mesh": "Mesh",
        "castings-volume_cm3": "Volume",
        "castings-area_cm2": "Surface, where a step needs it",
        "castings-model_g": "The model weighs",
        "castings-model_density": "Density of the model",
        "castings-metal_g": "The piece weighs",
        "castings-in_alloy": "in",
        "castings-weighed": "weighed",
        "castings-effort": "Its minutes against a step's, 1 if left empty",
        "findings": "Finding",
        "findings-name": "Called",
        "findings-quantity": "How many",
        "findings-price": "Price of one",
        "findings-spoil": "Spoiled, a fraction",
        "findings-product": "Piece of your own, by its sku",
        "findings-own-alloy": "In",
        "findings-metal_g": "Metal in one",
        "findings-alloy": "Of that metal",
        "findings-premium": "Premium over its melt value, a fraction",
        "findings-other_g": "Stone and the like in one",
        "sizes": "Sizes",
        "sizes-standard": "Named by",
        "sizes-list": "Sizes that are made, as J, L½, N",
        "sizes-lengths": "or lengths, as S = 160, M = 175",
        "sizes-master": "Size that was drawn",
        "sizes-band_mm": "Thickness of the band",
        "sizes-band_share": "Share that grows with it, 1 if left empty",
        "sizes-sales": "Sold of each, as M = 3, O = 2; 1 where left out",
        "sizes-each_priced": "every size has a price of its own",
    }
)
_ITEM = re.compile(r"(castings|findings)-(\d+)(?:-(.+))?")


def label_of(field: str) -> str:
    """What a field is called; of an item of a list with its number: `Casting 2, Volume`."""
    if item := _ITEM.fullmatch(field):
        kind, place, key = item.groups()
        whole = f"{LABELS[kind]} {int(place) + 1}"
        return f"{whole}, {LABELS.get(f'{kind}-{key}', key)}" if key else whole
    return LABELS.get(field, field)
