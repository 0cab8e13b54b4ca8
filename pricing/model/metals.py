"""Metals by the words that people say: "silver" for Ag."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from types import MappingProxyType

from pricing.errors import nearest

#: Symbols of the chemical elements (IUPAC, 118 of them).
ELEMENTS = frozenset(
    """
    H He Li Be B C N O F Ne Na Mg Al Si P S Cl Ar K Ca Sc Ti V Cr Mn Fe Co Ni Cu Zn Ga Ge As Se Br Kr Rb Sr Y Zr Nb Mo
    Tc Ru Rh Pd Ag Cd In Sn Sb Te I Xe Cs Ba La Ce Pr Nd Pm Sm Eu Gd Tb Dy Ho Er Tm Yb Lu Hf Ta W Re Os Ir Pt Au Hg Tl
    Pb Bi Po At Rn Fr Ra Ac Th Pa U Np Pu Am Cm Bk Cf Es Fm Md No Lr Rf Db Sg Bh Hs Mt Ds Rg Cn Nh Fl Mc Lv Ts Og
    """.split()
)

#: Metals that a fineness mark can speak of, the nobler first.
PRECIOUS = ("Pt", "Au", "Pd", "Ag")
#: The least share of precious metal with which an alloy counts as one: somewhat below nine carat, 0.375 of gold.
LEAST_PRECIOUS = 0.3

#: Elements of trade alloys by the first of these words; the others are spellings that people use too (IUPAC names).
WORDS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "Ag": ("silver",), "Al": ("aluminium", "aluminum"), "As": ("arsenic",), "Au": ("gold",), "Be": ("beryllium",),
        "Bi": ("bismuth",), "Cd": ("cadmium",), "Co": ("cobalt",), "Cr": ("chromium", "chrome"), "Cu": ("copper",),
        "Fe": ("iron",), "Ga": ("gallium",), "Ge": ("germanium",), "In": ("indium",), "Ir": ("iridium",),
        "Mg": ("magnesium",), "Mn": ("manganese",), "Mo": ("molybdenum",), "Nb": ("niobium",), "Ni": ("nickel",),
        "Os": ("osmium",), "P": ("phosphorus",), "Pb": ("lead",), "Pd": ("palladium",), "Pt": ("platinum",),
        "Rh": ("rhodium",), "Ru": ("ruthenium",), "Sb": ("antimony",), "Si": ("silicon",), "Sn": ("tin",),
        "Ta": ("tantalum",), "Te": ("tellurium",), "Ti": ("titanium",), "W": ("tungsten",), "Zn": ("zinc",),
        "Zr": ("zirconium",),
    }
)  # fmt: skip


def symbol_meant(word: str) -> str | None:
    """The symbol that somebody meant by "Silver", "AG" or "ag"; None for a symbol itself and for any other word."""
    if word in ELEMENTS:
        return None
    said = word.strip().casefold()
    for symbol, words in WORDS.items():
        if said in words:
            return symbol
    return said.capitalize() if said.capitalize() in ELEMENTS else None


def metal_meant(word: str, known: Iterable[str]) -> str | None:
    """What an unknown name of a metal may stand for: an element by its word, or else the known name most like it."""
    return symbol_meant(word) or nearest(word, known)


def is_precious(composition: Mapping[str, float]) -> bool:
    """Whether an alloy of these mass fractions is of the sort that is hallmarked."""
    return sum(composition.get(element, 0) for element in PRECIOUS) >= LEAST_PRECIOUS


def main_element(composition: Mapping[str, float]) -> str:
    """What an alloy is called by: the noblest metal of which it holds enough, or what there is most of.

    So nine carat gold, which is mostly copper or, where it is white, mostly silver, is a gold.
    """
    for element in PRECIOUS:
        if composition.get(element, 0) >= LEAST_PRECIOUS:
            return element
    counted = [element for element in PRECIOUS if element in composition] if is_precious(composition) else composition
    return max(counted, key=lambda element: composition[element])
