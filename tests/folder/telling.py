"""The form of a test of bad input: what is changed, and what must be said of it, on one screen."""

from __future__ import annotations

from pathlib import Path

from pricing.errors import LONGEST_LINE
from tests.folder.workshops import MARK, OTHER_MARK, Change, changed, faults_of, marks, write


def check_told(root: Path, changes: tuple[Change, ...], *sayings: str) -> None:
    """The folder with these changes has exactly these faults, at the places marked.

    A saying is the headline of a fault without its place. The first belongs to the first mark, and so on; the
    second places of all faults are where the other marks are.
    """
    files = changed(*changes)
    faults = faults_of(write(root, files))
    assert [fault.headline() for fault in faults] == [
        f"{place} {saying}" for place, saying in zip(marks(files, MARK), sayings, strict=True)
    ]
    others = [str(place) for fault in faults for place in fault.other if place.line is not None]
    assert sorted(others) == sorted(marks(files, OTHER_MARK))
    for fault in faults:
        line = files[fault.place.file].split("\n")[fault.place.line - 1].replace(MARK, "").replace(OTHER_MARK, "")
        assert fault.place.text == line
        lead = "".join("\t" if letter == "\t" else " " for letter in line[: fault.place.column - 1])
        shown = f"\n  {fault.place.line:>4} | {line}\n       | {lead}^"
        assert len(line) > LONGEST_LINE or shown in str(fault)
