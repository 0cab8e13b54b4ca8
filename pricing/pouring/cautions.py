"""What can hurt at a pour, each with where it is published. None of it replaces local codes or a supplier's data sheet.

Limits are of air breathed over a working day (TWA) or a quarter of an hour (STEL). Those of zinc oxide were read on
OSHA's page; the others are from the regulations named, as remembered: the regulation decides.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from pricing.model.alloy import Alloy


@dataclass(frozen=True)
class Caution:
    """One danger: in two words, what to do, and a published source."""

    head: str
    text: str
    source: str


DEFERS = (
    "This card is arithmetic, not leave to pour. Local codes, the suppliers' data sheets and licensed practice come "
    "first; where they say otherwise, they are right."
)
MOLTEN = Caution(
    "Wet metal explodes",
    "Moulds, crucible, tongs and every bit of metal warm and bone dry: water under molten metal becomes 1,700 times as "
    "much steam at once. Face shield, leather, closed shoes; nobody else near.",
    "ARIA/BARPI, Explosions following molten metal and water contact, 2009",
)
ZINC = Caution(
    "Zinc fume",
    "White fume is zinc oxide: extraction on, respirator for metal fume on, stop if it smokes. Fever may come hours "
    "later. Limits: OSHA 5 mg/m3, NIOSH 5 and for 15 minutes 10.",
    "29 CFR 1910.1000 Table Z-1; NIOSH REL; OSHA CH_277000",
)
SILICA = Caution(
    "Silica dust",
    "Investment and moulding sand are silica: mixed, broken out and swept wet, extraction and a fitted respirator. "
    "Limits: OSHA 0.05 mg/m3, EU 0.1, respirable, over 8 hours.",
    "29 CFR 1910.1053; Directive (EU) 2017/2398",
)
BURNOUT = Caution(
    "Burnout fumes",
    "Wax and resin give off smoke and carbon monoxide: kiln vented outdoors, alarm in the room, nobody sleeps beside "
    "it. NIOSH: 35 ppm over a day, 200 never.",
    "NIOSH Pocket Guide, carbon monoxide",
)
BORATES = Caution(
    "Boric acid, borax",
    "May damage fertility or the unborn child: no dust, no fume, no bare hands; a pinch, not a spoon.",
    "Regulation (EC) 1272/2008, Annex VI, 005-007-00-2: Repr. 1B, H360FD",
)
PICKLE = Caution(
    "Pickle is acid",
    "Goggles and gloves, acid into water and never the other way, hot metal never into hot pickle, mist is breathed: "
    "sulphuric acid 1 mg/m3.",
    "29 CFR 1910.1000 Table Z-1; the data sheet of yours",
)
PATINA = Caution(
    "Patina and liver of sulphur",
    "Outdoors or under extraction, gloves and goggles. With any acid liver of sulphur gives hydrogen sulphide, which "
    "kills: never near the pickle.",
    "29 CFR 1910.1000 Table Z-2; the data sheet of yours",
)
TOXIC = (
    ("Cd", "Cadmium", "0.005 mg/m3", "29 CFR 1910.1027"),
    ("Be", "Beryllium", "0.0002 mg/m3", "29 CFR 1910.1024"),
    ("Pb", "Lead", "0.05 mg/m3", "29 CFR 1910.1025"),
)
#: What a material or a step is called that brings a danger with it.
NAMED = (
    (("boric", "borax", "flux"), BORATES),
    (("pickle", "acid"), PICKLE),
    (("patina", "liver", "sulph", "sulf", "ferric", "cupric"), PATINA),
)


def cautions_for(alloy: Alloy, burnt_out: bool, words: Iterable[str]) -> tuple[Caution, ...]:
    """The cautions of a pour in this alloy; `words` are the names of the steps and materials that the pieces meet."""
    return tuple(_cautions(alloy, burnt_out, " ".join(words).casefold()))


def _cautions(alloy: Alloy, burnt_out: bool, words: str) -> Iterator[Caution]:
    yield MOLTEN
    for element, name, limit, source in TOXIC:
        if element in alloy.composition:
            text = f"The alloy holds {name.lower()}: its fume poisons. Limit {limit}. Leave it to a licensed works."
            yield Caution(f"{name} fume", text, source)
    if "Zn" in alloy.composition:
        yield ZINC
    yield SILICA
    if burnt_out:
        yield BURNOUT
    for names, caution in NAMED:
        if any(name in words for name in names):
            yield caution
