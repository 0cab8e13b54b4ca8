"""The stamp of an alloy: a shape for its kind of metal, letters for what is in it, its colour. All from its data."""

from __future__ import annotations

from dataclasses import dataclass

from pricing.lists.tints import tint_of
from pricing.model.alloy import Alloy
from pricing.model.metals import PRECIOUS

#: A precious metal names its alloy from this fraction on; below it is a trace or a layer.
NAMES_IT = 0.08
#: How much of the tint's light a stamp has: a picture is lit, a stamp lies flat.
FLAT = 0.92
#: Letters on a stamp, dark and light; the one that can be read better is taken.
DARK, LIGHT = "#1d1505", "#ffffff"
#: Letters that a stamp has room for.
MOST_LETTERS = 5
#: Green beside red in linear light: under the one a gold is called rose, over the other white, between them yellow.
ROSE, WHITE = 0.785, 0.82


@dataclass(frozen=True)
class Stamp:
    """`shape` is one of "oval", "lozenge", "house", "trapeze", "plate", "hexagon", "shield", "slab"; `letters` what
    stands on it; `tint` and `ink` are colours of the metal and of the letters, as #rrggbb. `hue` is a small letter
    behind the mark of a gold, "Y", "R" or "W": golds of one mark differ in nothing else than their colour."""

    shape: str
    letters: str
    tint: str
    ink: str
    hue: str = ""


def stamp_of(alloy: Alloy) -> Stamp:
    """The stamp of one alloy. A fineness stands on it only where the alloy states that mark."""
    main = _main_metal(alloy)
    others = sorted((each for each in alloy.composition if each != main), key=lambda each: -alloy.composition[each])
    mark = alloy.mark if alloy.mark and len(alloy.mark) <= MOST_LETTERS else ""
    letters = mark or "".join([main, *others[:1]])
    red, green, blue = (round(255 * FLAT * part) for part in tint_of(alloy))
    tint = f"#{red:02x}{green:02x}{blue:02x}"
    ink = max((DARK, LIGHT), key=lambda each: contrast(each, tint))
    return Stamp(_shape(main, alloy), letters, tint, ink, _hue(alloy) if mark and main == "Au" else "")


def _hue(alloy: Alloy) -> str:
    """Whether a gold is yellow, rose or white, by how much green there is in its colour beside the red."""
    red, green, _ = tint_of(alloy)
    return "R" if green < ROSE * red else "W" if green > WHITE * red else "Y"


def _main_metal(alloy: Alloy) -> str:
    """The noblest metal that is more than a trace, else that of which there is most."""
    for metal in PRECIOUS:
        if alloy.composition.get(metal, 0.0) >= NAMES_IT:
            return metal
    return max(alloy.composition, key=alloy.composition.__getitem__)


def _shape(main: str, alloy: Alloy) -> str:
    if main == "Cu":
        return "plate" if alloy.composition.get("Zn", 0.0) > alloy.composition.get("Sn", 0.0) else "hexagon"
    shapes = {"Ag": "oval", "Au": "lozenge", "Pt": "house", "Pd": "trapeze", "Sn": "shield"}
    return shapes.get(main, "slab")


def contrast(one: str, other: str) -> float:
    """How far two colours, as #rrggbb, lie apart in lightness, from 1 to 21 (W3C, WCAG 2.2, contrast ratio)."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (W3C, WCAG 2.2)."""
    parts = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
