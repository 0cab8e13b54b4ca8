"""One edition as a file: from its bytes to what it says, believed only where both its hash and its form are right.

Its hash is that of its bytes, so whether it is as it was published is told without understanding it: `link_of` reads
no more than the chain needs, in a moment also where it is long.
"""

from __future__ import annotations

import hashlib
import json
import re
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pricing.editions.shape import misshapen
from pricing.errors import Fault, Faults, Place

FOLDER = "editions"
FORM = 1  # of the documents; a program that writes another form goes on reading this one
NAME = re.compile(r"(\d{6})\.json", re.ASCII)
RESTORE = "Put the file back from a backup. An edition is never changed by hand."

#: What stands around an edition in its file, and the lines of it that the chain needs.
_BEGIN, _END = b'{\n "edition": ', re.compile(rb',\n "sha256": "([0-9a-f]{64})"\n\}\n\Z')
_LINES = ("as_of", "form", "number", "previous")
_VALUE = re.compile(rb'(?:"([^"\\\n]*)"|(\d{1,9})|null),?\n')


@dataclass(frozen=True)
class Edition:
    """A published edition: its number, its hash and what it says; `notes` is what to tell of its publishing."""

    number: int
    sha256: str
    content: dict[str, Any]
    notes: tuple[str, ...] = field(default=(), compare=False)

    @property
    def as_of(self) -> date:
        """The day from which its prices are in force: the one whose quotes counted."""
        return date.fromisoformat(self.content["as_of"])

    @property
    def currency(self) -> str:
        return str(self.content["currency"])


@dataclass(frozen=True)
class Link:
    """An edition in the chain: its number and hash, the hash of the one it was published on, its day."""

    number: int
    sha256: str
    previous: str | None
    as_of: date


def file_of(number: int) -> str:
    """The file of an edition, relative to the workshop folder."""
    return f"{FOLDER}/{number:06d}.json"


def link_of(number: int, content: bytes) -> Link:
    """The edition of that number as a link of the chain.

    Raises Faults where its bytes are not as they were published, and where it is of another form.
    """
    told = _inside(number, content)[1]
    try:
        day, form, said, previous = (_value(content, name) for name in _LINES)
        day, form, said = date.fromisoformat(day.decode()), int(form), int(said)
    except (ValueError, TypeError, AttributeError):
        raise _wrong(number, "this edition is torn or is none") from None
    if said != number:
        raise _wrong(number, "this edition is not as it was published")
    if form != FORM:
        problem = f"it is of form {form}, and this program reads {FORM}"
        raise Faults([Fault(Place(file_of(number)), "form", problem, "Install a newer troytag.")])
    return Link(number, told, previous.decode() if previous else None, day)


def edition_of(number: int, content: bytes) -> Edition:
    """The edition of that number with all that it says. Raises Faults as `link_of`, and where it makes no sense."""
    link = link_of(number, content)
    try:
        whole = json.loads(_inside(number, content)[0])
    except RecursionError:
        raise _wrong(number, "it is nested more deeply than any edition") from None
    except ValueError:
        raise _wrong(number, "this edition is torn or is none") from None
    if odd := misshapen(whole):
        problem = "its hash is right, and no program of ours has written this"
        raise Faults([Fault(Place(file_of(number)), odd, problem, RESTORE)])
    return Edition(number, link.sha256, whole)


def _inside(number: int, content: bytes) -> tuple[bytes, str]:
    """What stands between the frame, and its hash. Raises Faults where the hash is another."""
    end = _END.search(content, max(0, len(content) - 100))
    if not content.startswith(_BEGIN) or end is None:
        raise _wrong(number, "this edition is torn or is none")
    inside, told = content[len(_BEGIN) : end.start()], end[1].decode()
    # Inside its frame every line stands one blank further in than in the document that was hashed.
    is_moved_in = inside.count(b"\n") == inside.count(b"\n ")
    if not is_moved_in or hashlib.sha256(inside.replace(b"\n ", b"\n") + b"\n").hexdigest() != told:
        raise _wrong(number, "this edition is not as it was published")
    return inside, told


def _value(content: bytes, name: str) -> Any:
    """What an edition says under a name of its own: the only line that begins so, two blanks in. Raises ValueError."""
    begin = f'\n  "{name}": '.encode()
    match = _VALUE.match(content, content.index(begin) + len(begin))
    if match is None:
        raise ValueError(name)
    return match[1] or match[2]


def _wrong(number: int, problem: str) -> Faults:
    return Faults([Fault(Place(file_of(number)), "", problem, RESTORE)])
