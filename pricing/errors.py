"""Errors say place, problem and mend.

A fault in what the maker wrote is a value (`Fault`), so that all of a folder's faults can be
collected and shown together; `Faults` carries them up to whoever asked. Exit codes: 1 for a fault
in the data, 2 for a fault in the command.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches

#: So many letters of a word in quotes are told back (a whole hash); of others, which may be files, what is longer than
#: a file's name can be, or than any path.
LONGEST_WORD, LONGEST_NAME, LONGEST_PATH = 64, 255, 4096
_QUOTES = "\"'“”"
_TOO_LONG = re.compile(
    rf"(?<=[{_QUOTES}])[^{_QUOTES}\s/\\]{{{LONGEST_WORD + 1},}}"
    rf"|(?:[^{_QUOTES}\s/\\]{{{LONGEST_NAME + 1},}}|[^{_QUOTES}\s]{{{LONGEST_PATH + 1},}})(?<![:;,.])"
)


def shortened(text: str) -> str:
    """The text, of every word that is longer than a name would be only the beginning."""
    if len(text) <= LONGEST_WORD:
        return text
    return _TOO_LONG.sub(lambda found: f"{found[0][: LONGEST_WORD - 1]}…", text)


class TroytagError(Exception):
    """Base of every error that this package raises on purpose; very long words in it are told back shortened."""

    exit_code = 1

    def __init__(self, sentence: str = ""):
        super().__init__(shortened(sentence))


class UsageFault(TroytagError):
    """The command's words are off, not the data."""

    exit_code = 2


class FormulaFault(TroytagError):
    """A quantity that cannot be read: a developer's fault, told with file, line and mend."""


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands: a file relative to the folder, and a position counted from 1.

    `line`, `column` and `text` (the line itself) are None where the place is a whole file.
    """

    file: str
    line: int | None = None
    column: int | None = None
    text: str | None = None

    def __str__(self) -> str:
        return ":".join(str(part) for part in (self.file, self.line, self.column) if part is not None)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that is wrong or doubtful, in words a maker can act on.

    `key` names the key at fault, as it is written (`alloys`, `castings[0].count`); `problem` is one
    sentence without a full stop; `mend` says what to do about it; `other` holds the second place of
    a fault that lies between two files.
    """

    place: Place
    key: str
    problem: str
    mend: str = ""
    other: tuple[Place, ...] = ()

    def headline(self) -> str:
        """`products/knob.toml:7:12 alloys: no alloy "sterlin". Did you mean "sterling"?`, signs unseen escaped."""
        key = f"{self.key}: " if self.key else ""
        mend = f" {self.mend}" if self.mend else ""
        return visible(shortened(f"{self.place} {key}{self.problem}.{mend}"))

    def __str__(self) -> str:
        lines = [self.headline()]
        for place in (self.place, *self.other):
            if place is not self.place:
                lines.append(visible(f"  and {place}"))
            if place.text is not None and place.line is not None:
                text, column = _around(_one_for_one(place.text), place.column)
                lines.append(f"  {place.line:>4} | {text}")
                if column is not None:
                    lead = "".join("\t" if letter == "\t" else " " for letter in text[: column - 1])
                    lines.append(f"       | {lead}^")
        return "\n".join(lines)


def visible(text: str) -> str:
    """The text with every sign that cannot be seen, or would steer a terminal, as its escape: `\\x1b`."""
    if text.isprintable():
        return text
    return "".join(letter if letter.isprintable() else letter.encode("unicode_escape").decode() for letter in text)


def _one_for_one(line: str) -> str:
    """A line with a question mark for every such sign, so that a caret below it still points to its column."""
    if line.isprintable():
        return line
    return "".join(letter if letter.isprintable() or letter == "\t" else "?" for letter in line)


#: So much of a line is shown at most.
LONGEST_LINE = 160


def _around(text: str, column: int | None) -> tuple[str, int | None]:
    """A line, or of a very long one the part around a column, and where the column then is."""
    if len(text) <= LONGEST_LINE:
        return text, column
    start = max(0, min((column or 1) - LONGEST_LINE // 2, len(text) - LONGEST_LINE))
    lead, end = "… " if start else "", " …" if start + LONGEST_LINE < len(text) else ""
    shown = f"{lead}{text[start : start + LONGEST_LINE]}{end}"
    return shown, None if column is None else column - start + len(lead)


class Faults(TroytagError):
    """Every fault found in one reading, in the order of files and lines."""

    def __init__(self, faults: Iterable[Fault]):
        self.faults = tuple(faults)
        Exception.__init__(self, "\n".join(str(fault) for fault in self.faults))  # lines of files stand as they are


def no_folder(folder: object) -> UsageFault:
    """The fault of a workshop folder that is not there."""
    named = f"{folder}: there is no such folder. Name a workshop folder, one with workshop.toml in it"
    return UsageFault(f"{named}, or begin one: troytag start {shlex.quote(str(folder))}")


def not_begun(folder: object) -> UsageFault:
    """The fault of a folder in which no file of a workshop lies."""
    return UsageFault(f"{folder}: there is no workshop in it yet. Begin one: troytag start {shlex.quote(str(folder))}")


#: What two notes of one kind may differ in, and so many places of one kind are named.
_INDEX = re.compile(r"\[\d+\]")
_NAMED = re.compile(r'"[^"]*"|[-+]?\d[\d.,]*')
MOST_PLACES = 3


def told_once(notes: Iterable[Fault]) -> list[str]:
    """A line for each kind of note: the first of them, and in how many more places it is so.

    Of one kind are notes about keys of the same name whose sentences differ in names and numbers only.
    """
    kinds: dict[tuple[str, ...], list[Fault]] = {}
    for note in notes:
        key = _INDEX.sub("", note.key.rpartition(".")[2])
        kinds.setdefault((key, *(_NAMED.sub("…", text) for text in (note.problem, note.mend))), []).append(note)
    lines = []
    for first, *more in kinds.values():
        places = ", ".join(str(note.place) for note in more[:MOST_PLACES])
        others = f" and {len(more) - MOST_PLACES} more" if len(more) > MOST_PLACES else ""
        also = f" The same at {places}{others}." if more else ""
        lines.append(visible(f"{first.headline()}{also}"))
    return lines


#: The part of two words' letters that must be alike for one to be meant by the other.
CLOSE = 0.6


def nearest(word: str, known: Iterable[str]) -> str | None:
    """The known word most like `word`, or None where none is like it."""
    as_long = [each for each in known if 2 * min(len(word), len(each)) >= CLOSE * (len(word) + len(each))]
    close = get_close_matches(word, as_long, n=1, cutoff=CLOSE) if as_long else []
    return close[0] if close else None


def did_you_mean(word: str, known: Iterable[str], *, most: int | None = None) -> str:
    """A mend for an unknown name: the nearest known one, else those that there are.

    Of names that a maker gave, some are shown in alphabetical order; of a table's keys, whose order means something,
    up to `most` as they come.
    """
    known = sorted(known) if most is None else list(known)
    close = nearest(word, known)
    if close is not None:
        return visible(f'Did you mean "{close}"?')
    if not known:
        return "There is none yet."
    most = most or 8
    shown = ", ".join(f'"{name}"' for name in known[:most])
    return visible(f"Known: {shown}{', …' if len(known) > most else ''}.")
