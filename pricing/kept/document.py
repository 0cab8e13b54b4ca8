"""One entry as a file: from its bytes to what it says, believed only where both its hash and its form are right.

Its hash is that of its bytes, so whether it is as it was published is told without understanding it: `link_of` reads
no more than the chain needs, in a moment also where it is long.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from pricing.collecting import uncollected
from pricing.errors import Fault, Faults, Place
from pricing.kept.canonical import canonical
from pricing.kept.series import FORM, Series

#: The end of an entry's file, and the lines of it that the chain needs besides its day.
_END = re.compile(rb',\n "sha256": "([0-9a-f]{64})"\n\}\n\Z')
_LINES = ("form", "number", "previous")
_VALUE = re.compile(rb'(?:"([^"\\\n]*)"|(\d{1,9})|null),?\n')


@dataclass(frozen=True)
class Entry:
    """An entry: its number, its hash and what it says; `notes` is what to tell of its writing."""

    number: int
    sha256: str
    content: Mapping[str, Any]
    notes: tuple[str, ...] = field(default=(), compare=False)


@dataclass(frozen=True)
class Link:
    """An entry in the chain: its number and hash, the hash of the one it was written on, its day."""

    number: int
    sha256: str
    previous: str | None
    day: date


def bytes_of(series: Series, whole: dict[str, Any], sha256: str) -> bytes:
    """The file of an entry: what it says, with the hash of that.

    Raises ValueError where nothing in it is a list or a table: then its lines could not be told apart.
    """
    if not any(isinstance(each, dict | list) for each in whole.values()):
        raise ValueError(f"{series.a} needs a list or a table in it")
    return canonical({series.key: whole, "sha256": sha256})


def link_of(series: Series, number: int, content: bytes) -> Link:
    """The entry of that number as a link of the chain.

    Raises Faults where its bytes are not as they were written, and where it is of another form.
    """
    return _read(series, number, content)[1]


def _read(series: Series, number: int, content: bytes) -> tuple[bytes, Link]:
    """What stands in the frame of the entry of that number, and its link."""
    inside, told = _inside(series, number, content)
    try:
        day, form, said, previous = (_value(content, name) for name in (series.day, *_LINES))
        day, form, said = date.fromisoformat(day.decode()), int(form), int(said)
    except (ValueError, TypeError, AttributeError):
        raise _wrong(series, number, f"this {series.one} is torn or is none") from None
    if said != number:
        raise _wrong(series, number, f"this {series.one} is not as it was {series.added}")
    if not FORM <= form <= series.form:
        known = str(FORM) if series.form == FORM else f"{FORM} to {series.form}"
        problem = f"it is of form {form}, and this program reads {known}"
        raise Faults([Fault(Place(series.file_of(number)), "form", problem, "Install a newer troytag.")])
    return inside, Link(number, told, previous.decode() if previous else None, day)


@uncollected()
def entry_of(series: Series, number: int, content: bytes) -> Entry:
    """The entry of that number with all that it says. Raises Faults as `link_of`, and where it makes no sense."""
    inside, link = _read(series, number, content)
    try:
        whole = _parsed(inside)
    except RecursionError:
        raise _wrong(series, number, f"it is nested more deeply than any {series.one}") from None
    except ValueError:
        raise _wrong(series, number, f"this {series.one} is torn or is none") from None
    if odd := series.misshapen(whole):
        problem = "its hash is right, and no program of ours has written this"
        raise Faults([Fault(Place(series.file_of(number)), odd, problem, series.restore)])
    return Entry(number, link.sha256, whole)


def _parsed(inside: bytes) -> Any:
    """What JSON says, in a third of the time that Python's own reader takes, which tells what is wrong with it."""
    from pydantic_core import from_json

    try:
        return from_json(inside)
    except ValueError:
        return json.loads(inside)


def _inside(series: Series, number: int, content: bytes) -> tuple[bytes, str]:
    """What stands between the frame, and its hash. Raises Faults where the hash is another."""
    begin = f'{{\n "{series.key}": '.encode()
    end = _END.search(content, max(0, len(content) - 100))
    if not content.startswith(begin) or end is None:
        raise _wrong(series, number, f"this {series.one} is torn or is none")
    inside, told = content[len(begin) : end.start()], end[1].decode()
    # Inside its frame every line stands one blank further in than in the document that was hashed.
    moved_out = inside.replace(b"\n ", b"\n")
    is_moved_in = inside.count(b"\n") == len(inside) - len(moved_out)
    if not is_moved_in or hashlib.sha256(moved_out + b"\n").hexdigest() != told:
        raise _wrong(series, number, f"this {series.one} is not as it was {series.added}")
    return inside, told


def _value(content: bytes, name: str) -> Any:
    """What an entry says under a name of its own: the only line that begins so, two blanks in. Raises ValueError."""
    begin = f'\n  "{name}": '.encode()
    match = _VALUE.match(content, content.index(begin) + len(begin))
    if match is None:
        raise ValueError(name)
    return match[1] or match[2]


def _wrong(series: Series, number: int, problem: str) -> Faults:
    return Faults([Fault(Place(series.file_of(number)), "", problem, series.restore)])
