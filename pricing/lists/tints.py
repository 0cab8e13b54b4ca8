"""The colour in which pictures show an alloy: what its maker states, else how such a composition looks.

The colours of the elements, and how zinc and tin turn copper yellow and brown, are from memory: what the eye of the
trade is used to, no measured reflectance.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.model.alloy import Alloy

Colour = tuple[float, float, float]

#: Elements as polished metal, in linear light from 0 to 1.
ELEMENTS: Mapping[str, Colour] = MappingProxyType(
    {
        "Ag": (0.96, 0.945, 0.92),
        "Al": (0.91, 0.92, 0.92),
        "Au": (0.98, 0.78, 0.36),
        "Cu": (0.93, 0.62, 0.48),
        "Ni": (0.80, 0.78, 0.72),
        "Pd": (0.82, 0.79, 0.75),
        "Pt": (0.84, 0.82, 0.79),
        "Sn": (0.88, 0.87, 0.85),
    }
)
#: How much of it turns copper into which colour, wholly: brass, bronze.
TURNS: Mapping[str, tuple[float, Colour]] = MappingProxyType(
    {"Zn": (0.35, (0.90, 0.77, 0.44)), "Sn": (0.15, (0.82, 0.62, 0.40)), "Si": (0.05, (0.85, 0.63, 0.42))}
)
OTHER: Colour = (0.85, 0.85, 0.84)


def tint_of(alloy: Alloy) -> Colour:
    """Red, green and blue in linear light, each from 0 to 1."""
    if alloy.tint is not None:
        red, green, blue = (int(alloy.tint[place : place + 2], 16) / 255 for place in (1, 3, 5))
        return red, green, blue
    shares, copper = alloy.composition, alloy.composition.get("Cu", 0.0)
    turned = ELEMENTS["Cu"]
    for element, (whole, colour) in TURNS.items():
        if copper and element in shares:
            turned = _mixed(turned, colour, min(1.0, shares[element] / (shares[element] + copper) / whole))
    colours = {element: ELEMENTS.get(element, OTHER) for element in shares} | ({"Cu": turned} if copper else {})
    coloured = {name: share for name, share in shares.items() if not (copper and name in TURNS)}
    whole = sum(coloured.values())
    red, green, blue = (
        sum(share * colours[name][part] for name, share in coloured.items()) / whole for part in range(3)
    )
    return red, green, blue


def _mixed(one: Colour, other: Colour, share: float) -> Colour:
    red, green, blue = (a + (b - a) * share for a, b in zip(one, other, strict=True))
    return red, green, blue
