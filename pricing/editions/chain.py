"""Reading the editions of a workshop folder, and whether they are as they were published: a chain of hashes."""

from __future__ import annotations

import json
import re
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

from pricing.editions.canonical import canonical, digest
from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.reading import NotRead, read_file

FOLDER = "editions"
FORM = 1  # of the documents; a program that writes another form goes on reading this one
NAME = re.compile(r"(\d{6})\.json", re.ASCII)
RESTORE = "Put the file back from a backup. An edition is never changed by hand."

#: Most bytes of an edition: one of ten thousand variants has some 60 million.
MOST_BYTES = 256 * 2**20


@dataclass(frozen=True)
class Edition:
    """A published edition: its number, its hash and what it says."""

    number: int
    sha256: str
    content: dict[str, Any]

    @property
    def as_of(self) -> date:
        """The day from which its prices are in force: the one whose quotes counted."""
        return date.fromisoformat(self.content["as_of"])

    @property
    def currency(self) -> str:
        return self.content["currency"]


def numbers(root: Path) -> list[int]:
    """The numbers of the editions that lie in a workshop folder, ascending."""
    folder = root / FOLDER
    found = [NAME.fullmatch(path.name) for path in folder.iterdir()] if folder.is_dir() else []
    return sorted(int(match[1]) for match in found if match)


def read(root: Path, number: int) -> Edition:
    """The edition of that number. Raises UsageFault where there is none, Faults where it is not as it was published."""
    known = numbers(root)
    if number not in known:
        none_yet = f"Publish one: troytag reprice {root} --publish."
        mend = did_you_mean(str(number), map(str, known)) if known else none_yet
        raise UsageFault(f"there is no edition {number}. {mend}")
    edition, faults = _looked_at(root, number)
    if edition is None:
        raise Faults(faults)
    return edition


def newest(root: Path) -> Edition | None:
    """The last edition; None where none is published yet. Raises Faults for a spoilt one."""
    known = numbers(root)
    return read(root, known[-1]) if known else None


def in_force_on(root: Path, day: date) -> Edition | None:
    """The edition whose prices were in force on a day; None before the first. Raises Faults for a spoilt one."""
    for number in reversed(numbers(root)):
        edition = read(root, number)
        if edition.as_of <= day:
            return edition
    return None


def chain_faults(root: Path) -> list[Fault]:
    """Everything that is wrong with the editions of a workshop folder: torn, changed, missing, out of the chain."""
    folder, faults = root / FOLDER, []
    if folder.exists() and not folder.is_dir():
        return [Fault(Place(FOLDER), "", "a folder belongs here", "Move the file away.")]
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        if path.suffix == ".json" and not path.name.startswith(".") and not NAME.fullmatch(path.name):
            mend = "Move it out of the folder; if it is a copy that a synced drive made, compare it first."
            faults.append(Fault(Place(f"{FOLDER}/{path.name}"), "", "this is not the name of an edition", mend))
    before: Edition | None = None
    expected = 1
    for number in numbers(root):
        if number != expected:
            gap = f"edition {expected} is" if number == expected + 1 else f"editions {expected} to {number - 1} are"
            faults.append(Fault(Place(FOLDER), "", f"{gap} missing", RESTORE))
            before = None
        edition, wrong = _looked_at(root, number)
        faults += wrong
        if edition is not None and (before or number == 1):
            previous = edition.content["previous"]
            if previous != (before.sha256 if before else None):
                problem = f"it does not follow on edition {number - 1} as that one stands now"
                faults.append(Fault(Place(file_of(number)), "previous", problem, RESTORE))
        before, expected = edition, number + 1
    return faults


def file_of(number: int) -> str:
    """The file of an edition, relative to the workshop folder."""
    return f"{FOLDER}/{number:06d}.json"


def _looked_at(root: Path, number: int) -> tuple[Edition | None, list[Fault]]:
    """An edition if it is whole and unchanged, and what is wrong with it."""
    place = Place(file_of(number))
    try:
        content = read_file(root / file_of(number), MOST_BYTES)
    except NotRead as wrong:
        return None, [Fault(place, "", f"this edition cannot be read: {wrong.problem}", RESTORE)]
    try:
        document = json.loads(content)
        whole, told = document["edition"], document["sha256"]
        sound = canonical(document) == content and digest(whole) == told and whole["number"] == number
        form, day = whole["form"], date.fromisoformat(whole["as_of"])
    except (ValueError, KeyError, TypeError):
        return None, [Fault(place, "", "this edition is torn or is none", RESTORE)]
    if not sound:
        return None, [Fault(place, "", "this edition is not as it was published", RESTORE)]
    if form != FORM or not day:
        problem = f"it is of form {form}, and this program reads {FORM}"
        return None, [Fault(place, "form", problem, "Install a newer troytag.")]
    return Edition(number, told, whole), []
