"""Below which mass an article of precious metal need not be hallmarked: one published law, to check a folder against.

Other countries have other limits, or none. What holds is for the law of the place and its assay office.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pricing.model.metals import PRECIOUS


@dataclass(frozen=True)
class Limit:
    """An article of this metal lighter than `below_g` is exempt; less than `fineness` of it is none of the metal."""

    below_g: float
    fineness: float


#: Hallmarking Act 1973 (c. 43, United Kingdom), Schedule 1, Part II, "Articles exempt if of minimum fineness", as
#: amended (palladium by S.I. 2009/2040); the lowest standards of fineness of section 4 and Schedule 2.
UNITED_KINGDOM: Mapping[str, Limit] = MappingProxyType(
    {"Au": Limit(1.0, 0.375), "Ag": Limit(7.78, 0.800), "Pt": Limit(0.5, 0.850), "Pd": Limit(1.0, 0.500)}
)
#: How that law is called on a screen.
CALLED = "the Hallmarking Act 1973 of the United Kingdom"
HAIR = 1e-9


def metal_under_law(composition: Mapping[str, float], limits: Mapping[str, Limit] = UNITED_KINGDOM) -> str | None:
    """The metal as which an alloy counts, the nobler first; None where it is below every least fineness."""
    return next(
        (element for element in PRECIOUS if composition.get(element, 0.0) >= limits[element].fineness - HAIR), None
    )


def must_be_marked(metal: str, grams: float, limits: Mapping[str, Limit] = UNITED_KINGDOM) -> bool:
    """Whether an article of one precious metal with so many grams of metal in all is no longer exempt."""
    return grams >= limits[metal].below_g - HAIR
