"""What the fields of a design are called on the page, beside the field and in what is said about it."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from types import MappingProxyType

from pricing.model.base import StatedModel
from pricing.model.product import Casting, Finding, Product
from pricing.model.sizes import Sizes


def _titles(model: type[StatedModel], before: str = "") -> Iterator[tuple[str, str]]:
    """The names of a model's keys for people, as they stand with the keys; by the name of their field."""
    for key, info in model.model_fields.items():
        if info.title is not None:
            yield f"{before}{info.alias or key}", info.title


#: By field; after what the keys are called by themselves, what a field of the page is called otherwise, or alone has.
LABELS: Mapping[str, str] = MappingProxyType(
    {
        **dict(_titles(Product)),
        **dict(_titles(Casting, "castings-")),
        **dict(_titles(Finding, "findings-")),
        **dict(_titles(Sizes, "sizes-")),
        "alloys": "Alloys, side by side",
        "castings": "Casting",
        "findings": "Finding",
        "findings-own-alloy": "In",
        "sizes-list": "Sizes that are made, as J, L½, N",
        "sizes-lengths": "or lengths, as S = 160, M = 175",
        "sizes-sales": "Sold of each, as M = 3, O = 2; 1 where left out",
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
