"""What a key is called in a form and in what it is counted, from its own description in the model."""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

#: Units as descriptions say them, and as they are written beside a field.
UNITS: Mapping[str, str] = MappingProxyType(
    {
        "gram": "g", "millimetres": "mm", "mm": "mm", "kilowatts": "kW", "hours": "h", "days": "days",
        "degrees Celsius": "°C", "micrometres": "µm", "cm3": "cm³", "cm2": "cm²", "g/cm3": "g/cm³",
    }
)  # fmt: skip
_MONEY = re.compile(
    r", (?:in )?(?P<whose>the workshop's |the channel's |the |its own )?currency(?P<per> per gram)?\b.*"
)
_UNIT = re.compile(rf", in (?P<unit>{'|'.join(map(re.escape, sorted(UNITS, key=len, reverse=True)))})(?![\w/]).*")
_FRACTION = re.compile(r", (?:as )?a fraction\b.*")
_NEEDED = re.compile(r", required where .*")
#: Descriptions that begin so say what is done with a figure; its key goes before them.
_GOES_ON = ("Of ", "On ", "Or ", "The same", "Charged ", "Used ", "Whether ", "Its ")
OF_CHANNEL = "the channel's currency"


def worded(key: str, description: str, workshop: str, channel: str | None = None) -> tuple[str, str]:
    """What a key is called, and the unit beside it, "" for none.

    `workshop` is the workshop's currency, `channel` that of the channel in whose table the key stands, None in others.
    """
    said = re.split(r";|\.(?:\s|$)|: (?=[a-z0-9])", description, maxsplit=1)[0]
    unit = ""
    if found := _MONEY.search(said):
        is_channels = found["whose"] == "the channel's " or (channel is not None and found["whose"] == "the ")
        unit = (channel or OF_CHANNEL) if is_channels else workshop
        unit += "/g" if found["per"] else ""
        said = said[: found.start()]
    elif found := _UNIT.search(said):
        unit, said = UNITS[found["unit"]], said[: found.start()]
    elif found := _FRACTION.search(said):
        unit, said = "fraction", said[: found.start()]
    elif said.startswith(("Fraction ", "Share ", "Mass fraction ")):
        unit = "fraction"
    said = _NEEDED.sub("", said).strip()
    if not said:
        return key_in_words(key), unit
    if said.startswith(_GOES_ON):
        return f"{key_in_words(key)}: {said[0].lower()}{said[1:]}", unit
    return said, unit


def key_in_words(key: str) -> str:
    """`per_month` as `Per month`."""
    said = key.replace("_", " ").strip()
    return f"{said[:1].upper()}{said[1:]}"
