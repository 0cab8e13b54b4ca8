"""Reading the drawer's entries: every one, and those that count once corrections have taken their places."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from pricing.drawer.model import KeptEntry
from pricing.errors import Fault
from pricing.kept import chain as kept
from pricing.kept.series import Series
from pricing.kept.shape import from_json, misshapen_by
from pricing.several_files import finish

FOLDER = "stock"


def _built(content: object) -> KeptEntry:
    return from_json(KeptEntry, content)


STOCK = Series(
    folder=FOLDER,
    key="entry",
    one="entry",
    many="entries",
    day="day",
    added="written",
    misshapen=lambda content: misshapen_by(_built, content),
    over_gap="troytag stock {root} add … --over-gap",
    both_whole="Keep one as {file}, move the other out of the folder, then write down again what it says.",
    most_bytes=2**20,
)


def read_every_entry(root: Path) -> tuple[KeptEntry, ...]:
    """Every entry that was ever written down, also those that were corrected since, by number.

    Raises Faults where any of them is torn, changed, missing or out of the chain.
    """
    finish(root)
    return tuple(_built(entry.content) for entry in kept.read_all(root, STOCK))


def standing(written: Sequence[KeptEntry]) -> tuple[KeptEntry, ...]:
    """Those that count, in the order in which they happened: by day, and of one day as they were written down.

    One that corrects another stands where that one stood among those of its day.
    """
    place: dict[int, int] = {}
    for entry in written:
        place[entry.number] = place.get(entry.corrects or 0, entry.number)
    corrected = {entry.corrects for entry in written}
    counting = (entry for entry in written if entry.number not in corrected and entry.lines)
    return tuple(sorted(counting, key=lambda entry: (entry.day, place[entry.number])))


def stock_faults(root: Path) -> list[Fault]:
    """Everything that is wrong with the entries of a folder."""
    return kept.chain_faults(root, STOCK)
