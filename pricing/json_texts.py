"""Texts of JSON as `json.dumps` writes them, one blank deeper at each level, in a tenth of its time.

Signs that are not printed are escaped, so that none of it steers a terminal. Records are written by columns: the texts
of a column at once, then one form filled in for each record.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import accumulate, pairwise
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import numpy as np

#: The end of a line that holds a number with a power of ten, a small one, or one that is not finite. Never within a
#: text, behind whose last sign a quote follows.
POWER = re.compile(r"(?m)e(-?)(\d+)(?=,?$)")
SMALL = re.compile(r"(?m)0\.0000\d+(?=,?$)")
NOT_FINITE = re.compile(r"(?m)(?:NaN|Infinity)(?=,?$)")
#: What a JSON text may hold in its strings and a terminal should not see.
UNPRINTED = re.compile("[\x7f-\x9f\u2028-\u202e\u2066-\u2069]")
#: How each of these signs begins as bytes; a long text without any of them need not be searched.
UNPRINTED_BEGIN = (b"\x7f", b"\xc2", b"\xe2\x80", b"\xe2\x81")
NOT_ASCII = re.compile(r"[^\x00-\x7f]")
#: From here down and up Python writes a number by its power of ten, with a sign and two digits.
LEAST_PLAIN, MOST_PLAIN = 1e-4, 1e16


class _Absent(str):
    """No text of JSON."""


#: Stands in a column where the record lacks the name.
ABSENT = _Absent()


@dataclass(frozen=True)
class Written:
    """A list at an outermost name of a document, whose items are JSON already, two levels deep."""

    items: Sequence[str]

    def pieces(self) -> Iterator[str]:
        yield "["
        for place, item in enumerate(self.items):
            yield ",\n  " if place else "\n  "
            yield item
        yield "\n ]" if self.items else "]"


def document(content: Any) -> str:
    """A document as JSON; lists at its outermost names may be `Written`. ValueError for what is not finite."""
    if not (isinstance(content, Mapping) and any(isinstance(each, Written) for each in content.values())):
        return value(content)
    pieces: list[str] = []  # put together once: it may be very long
    for name, each in content.items():
        pieces.append(f"{',' if pieces else '{'}\n {value(name)}: ")
        pieces += each.pieces() if isinstance(each, Written) else [value(each, 1)]
    return "".join([*pieces, "\n}"])


def value(content: Any, depth: int = 0) -> str:
    """Anything as JSON, so many levels deep in its document.

    It differs from what the library writes in one thing: Python writes 1e-05 and 1e+16, and so all below 0.0001.
    """
    from pydantic_core import to_json

    written = to_json(content, indent=1, inf_nan_mode="constants")
    text = written.decode()
    if any(begin in written for begin in UNPRINTED_BEGIN):
        text = UNPRINTED.sub(lambda found: f"\\u{ord(found[0]):04x}", text)
    if ("NaN" in text or "Infinity" in text) and NOT_FINITE.search(text):
        raise ValueError("a number that is not finite is no JSON")
    text = POWER.sub(lambda found: f"e{found[1] or '+'}{found[2]:>02}", text)
    text = SMALL.sub(lambda found: repr(float(found[0])) if text[found.start() - 1] in " -" else found[0], text)
    return text.replace("\n", "\n" + " " * depth) if depth else text


def in_ascii(text: str) -> str:
    """The same JSON for a screen that lacks signs."""
    return NOT_ASCII.sub(lambda found: json.dumps(found[0])[1:-1], text)


def numbers(column: np.ndarray) -> list[str]:
    """Numbers, each as Python writes it, `null` for what is not finite."""
    import numpy as np
    from pydantic_core import to_json

    texts = to_json(column.tolist(), inf_nan_mode="null").decode()[1:-1].split(",") if len(column) else []
    size = np.abs(column)
    for place in np.flatnonzero((size < LEAST_PLAIN) & (size > 0) | (size >= MOST_PLAIN) & np.isfinite(size)).tolist():
        texts[place] = repr(float(column[place]))
    return texts


def words(column: Iterable[Any]) -> list[str]:
    """Words, and whatever else holds nothing itself, as JSON."""
    column = list(column)
    if set(map(type, column)) == {str}:  # most are there more than once
        known = dict.fromkeys(column)
        texts = dict(zip(known, _each(list(known)), strict=True))
        return [texts[each] for each in column]
    return _each(column)


def _each(column: list[Any]) -> list[str]:
    """The items of a list, told apart by the ends of its lines: no text holds one."""
    return value(column)[3:-2].split(",\n ") if column else []


def records(columns: Mapping[str, Sequence[str]], depth: int) -> list[str]:
    """A record for each place of some columns of JSON; one lacks the names that are ABSENT there.

    The first column is absent nowhere.
    """
    inner = "\n" + " " * (depth + 1)
    form: list[str] = []
    filled: list[Sequence[str]] = []
    for place, (name, column) in enumerate(columns.items()):
        begin = f"{',' if place else ''}{inner}{value(name)}: "
        if ABSENT in column:
            form.append("%s")
            filled.append([f"{begin}{each}" if each else each for each in column])
        else:
            form.append(f"{begin.replace('%', '%%')}%s")
            filled.append(column)
    whole = f"{{{''.join(form)}\n{' ' * depth}}}"
    return list(map(whole.__mod__, zip(*filled, strict=True)))


def lists(items: Sequence[str], counts: Iterable[int], depth: int) -> list[str]:
    """One list after another of so many of the items each."""
    return [_closed("[", each, "]", depth) for each in _parted(items, counts)]


def objects(names: Sequence[str], items: Sequence[str], counts: Iterable[int], depth: int) -> list[str]:
    """One object after another of so many of the items each, under their names, which are JSON too."""
    members = list(map("%s: %s".__mod__, zip(names, items, strict=True)))
    return [_closed("{", each, "}", depth) for each in _parted(members, counts)]


def _parted(items: Sequence[str], counts: Iterable[int]) -> Iterator[Sequence[str]]:
    ends = pairwise(accumulate(counts, initial=0))
    return (items[start:end] for start, end in ends)


def _closed(begin: str, items: Sequence[str], end: str, depth: int) -> str:
    if not items:
        return begin + end
    inner = "\n" + " " * (depth + 1)
    return f"{begin}{inner}{f',{inner}'.join(items)}\n{' ' * depth}{end}"
