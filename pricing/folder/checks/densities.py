"""Whether the density that a maker states for an alloy can be true of what is in it.

A stated density is always the one that is used: this module only finds slips (a decimal point, kg/m3,
the figure of another alloy). Its yardstick is the inverse rule, 1/density = Σ mass fraction / density of
the element, which holds where the elements keep their volumes (Indium Corporation, R. Lasky, "Interest
in Formula for Calculating Alloy Density Still Keen"). They keep them only nearly: against handbooks the
rule is right to 1 % for sterling, most golds and tin bronzes, 1 to 3.5 % low for brasses and nickel
silver, and 3 to 6 % low for silicon bronzes and silicon brass.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.shown import percent

#: 1 g/cm3 is so many kg/m3.
KG_PER_M3 = 1000

#: Density near 20 °C, in g/cm3, of the elements that trade alloys contain. Source: the package periodictable, save
#: for Ir and Ru, where newer handbooks differ from it: CRC Handbook of Chemistry and Physics.
ELEMENT_DENSITIES: Mapping[str, float] = MappingProxyType(
    {
        "Ag": 10.5, "Al": 2.6989, "As": 5.73, "Au": 19.3, "Be": 1.848, "Bi": 9.747, "C": 2.2, "Cd": 8.65, "Co": 8.9,
        "Cr": 7.19, "Cu": 8.96, "Fe": 7.874, "Ga": 5.904, "Ge": 5.323, "In": 7.31, "Ir": 22.562, "Mg": 1.738,
        "Mn": 7.33, "Mo": 10.22, "Nb": 8.57, "Ni": 8.902, "P": 1.82, "Pb": 11.35, "Pd": 12.02, "Pt": 21.45,
        "Rh": 12.41, "Ru": 12.1, "S": 2.07, "Sb": 6.691, "Si": 2.33, "Sn": 7.31, "Te": 6.24, "Ti": 4.54, "W": 19.3,
        "Zn": 7.133, "Zr": 6.506,
    }
)  # fmt: skip

#: How far a stated density may be from the inverse rule, as a fraction of the rule's. Twice the widest that
#: published figures are apart from it: 13.07 for 14 ct yellow against 13.94, and 8.28 for silicon brass against 7.79.
WIDEST_DISAGREEMENT = 0.12

#: How far above its densest element an alloy may be stated: tables of pure metals differ by as much
#: (gold 19.30 or 19.36, silver 10.50 or 10.53), while no alloy of the trade is denser than all that is in it.
ELEMENT_DISAGREEMENT = 0.004


def density_by_contents(composition: Mapping[str, float], densities: Mapping[str, float] = ELEMENT_DENSITIES) -> float:
    """Density of an alloy by the inverse rule, in g/cm3; no figure to price by, see the limits above.

    `composition` holds mass fractions by symbol; only their proportions count, so a sum that is a little
    off 1 does no harm. `densities` are those of the elements, in g/cm3. Raises KeyError for an element
    that is not among them.
    """
    volume = sum(fraction / densities[element] for element, fraction in composition.items())
    return sum(composition.values()) / volume


def density_doubt(composition: Mapping[str, float], stated: float) -> str | None:
    """What is doubtful about a stated density (g/cm3), in one sentence without a full stop; None where nothing is.

    A density within the limits may still be wrong: 15.2 for a 14 ct gold is caught where the rest is mostly
    copper, and not where it is mostly silver. Nothing is said of a composition with an element whose density
    is not known here.
    """
    if not all(element in ELEMENT_DENSITIES for element in composition):
        return None
    densest = max(composition, key=lambda element: ELEMENT_DENSITIES[element])
    most = ELEMENT_DENSITIES[densest]
    if stated > most * (1 + ELEMENT_DISAGREEMENT):
        return f"{stated:g} g/cm3 is above the {most:g} of {densest}, the densest element in it"
    expected = density_by_contents(composition)
    off = stated / expected - 1
    if abs(off) > WIDEST_DISAGREEMENT:
        side = "above" if off > 0 else "below"
        return f"{stated:g} g/cm3 is {percent(abs(off))} {side} the {expected:.4g} that its contents give"
    return None


def density_mend(composition: Mapping[str, float], stated: float) -> str:
    """What to do about a doubtful density: the figure a thousand times smaller, where that one would be right."""
    meant = stated / KG_PER_M3
    if density_doubt(composition, meant) is None and all(element in ELEMENT_DENSITIES for element in composition):
        return f"It looks like kg/m3; if you meant {meant:g} g/cm3, write {meant:g}."
    return "Look the density up again, or the composition."
