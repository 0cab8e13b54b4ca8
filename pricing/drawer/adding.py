"""Writing down what was weighed in or out."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from datetime import date, datetime
from pathlib import Path
from typing import Any

from pricing.drawer.model import Entry, KeptEntry
from pricing.drawer.read import STOCK, read_every_entry, standing
from pricing.drawer.state import NOISE_G, Drawer, Kind, drawer_after
from pricing.errors import UsageFault, did_you_mean
from pricing.kept.series import Series
from pricing.kept.shape import from_json
from pricing.kept.writing import append

#: Of so much of what lies there a stocktake may differ before one is asked whether it was read right.
MOST_DIFFERENCE = 0.2


def content_of(entry: Entry) -> dict[str, Any]:
    """What an entry of the drawer says, and when it is written down."""
    recorded = datetime.now().astimezone().isoformat(timespec="seconds")
    return {**entry.model_dump(mode="json"), "recorded": recorded}


def write_entry(root: Path, entry: Entry, over_gap: bool = False) -> KeptEntry:
    """Write an entry down and return it once it is on the disk.

    Raises UsageFault where it corrects one that there is not, or one that a batch wrote, TroytagError where something
    is wrong with the entries before (unless it shall go `over_gap`) and where the disk refuses; nothing is then kept.
    """

    def wanted(_: Callable[[Series], int]) -> list[tuple[Series, dict[str, Any]]]:
        if entry.corrects is not None:  # asked when nobody else can correct it any more
            written = read_every_entry(root)
            check_corrects(entry.corrects, written, STOCK.one)
            _check_own(entry.corrects, written)
        return [(STOCK, content_of(entry))]

    (written,) = append(root, wanted, "an entry of the drawer", over_gap)
    return from_json(KeptEntry, written.content)


def check_corrects(number: int, written: Sequence[Any], one: str) -> None:
    """Raises UsageFault where no entry of this number counts any more: none was written, or it was corrected."""
    numbers = {each.number for each in written}
    if number not in numbers:
        raise UsageFault(f"there is no {one} {number}. {did_you_mean(str(number), map(str, sorted(numbers)))}")
    later = next((each.number for each in written if each.corrects == number), None)
    if later is not None:
        raise UsageFault(f"{one} {number} was corrected by {later} already. Correct that one.")


def _check_own(number: int, written: Sequence[KeptEntry]) -> None:
    """Raises UsageFault for an entry that a batch wrote: log and drawer would tell two stories."""
    batch = next(each.batch for each in written if each.number == number)
    if batch is not None:
        mend = f"log FOLDER strike {batch}, or log FOLDER add … --corrects {batch}; the drawer is then kept in step"
        raise UsageFault(f"entry {number} belongs to batch {batch} of the log. Correct that one: {mend}.")


def after(written: Iterable[KeptEntry], entry: Entry) -> Drawer:
    """The drawer as it would be with one more entry."""
    written = list(written)
    number = max((each.number for each in written), default=0) + 1
    fields = {name: getattr(entry, name) for name in Entry.model_fields}
    kept = KeptEntry(**fields, number=number, recorded="", form=1, previous=None)
    return drawer_after(standing([*written, kept]))


def doubts(written: Sequence[KeptEntry], entry: Entry, today: date) -> Iterator[str]:
    """What looks like a slip in an entry to be written: a day to come, more taken than there is, a stocktake far off.

    A sentence each. What was short before is not told again.
    """
    if entry.day > today:
        yield f"{entry.day} has not come yet"
    drawer, before = after(written, entry), drawer_after(standing(written))
    short: set[Kind] = set()
    for move in (move for move in drawer.moves if not move.entry.recorded):
        kind, there = (move.line.alloy, move.line.form), move.before.grams
        if move.difference is not None and there > 0 and abs(move.difference) > MOST_DIFFERENCE * there:
            metal = f"{move.line.form} {move.line.alloy}"
            yield f"{move.line.grams:,.2f} g of {metal} were counted where {there:,.2f} g should lie"
        if move.after.grams < -NOISE_G and move.after.grams < there:
            short.add(kind)
            taken = f"{move.line.grams:,.2f} g of {move.line.form} {move.line.alloy}"
            yield f"{taken} are taken where {max(0.0, there):,.2f} g lay on {entry.day}"
    for kind, held in drawer.held.items():
        if kind not in short and held.grams < -NOISE_G and held.grams < before.of(*kind).grams - NOISE_G:
            yield f"of {kind[1]} {kind[0]} {-held.grams:,.2f} g more would be taken than were ever weighed in"
