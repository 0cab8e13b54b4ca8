"""Guesses: marked in the library (`# guess 4..9: words`), told in the file, doubted in doubts.toml."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from pricing.folder.toml.remarks import guess_remark

_REMARK = re.compile(r"^(?P<said>.*?\S)\s+# (?P<remark>.*)$")
_GUESS = re.compile(r"guess (?P<ranges>[^:]*?\.\.[^:]*?)(?:: (?P<words>.*))?$")
_RANGE = re.compile(r"^(?:(?P<key>[\w-]+) )?(?P<low>[\d.]+?)\.\.(?P<high>[\d.]+)$")
#: Remarks behind a line begin here.
REMARKS = 36


class Range(NamedTuple):
    """The range of the figure under this key on this line (counted from 0); key None: the only one on it."""

    line: int
    key: str | None
    low: str
    high: str


def told(text: str) -> tuple[str, tuple[Range, ...]]:
    """The text as it is written, its remarks in one column and its guesses in words; and their ranges."""
    lines, found = [], []
    for number, line in enumerate(text.split("\n")):
        parts = _REMARK.match(line)
        if parts is None or parts["said"].lstrip().startswith("#") or parts["said"].count('"') % 2:
            lines.append(line.rstrip())
            continue
        remark = parts["remark"].strip()
        guess = _GUESS.match(remark)
        if guess is not None:
            ranges = [_RANGE.match(each.strip()) for each in guess["ranges"].split(",")]
            own = []
            for each in ranges:
                if each is None:
                    raise ValueError(f"no range of a guess: {line}")
                own.append((each["key"], each["low"], each["high"]))
            found += [Range(number, *each) for each in own]
            remark = guess_remark(own, guess["words"])
        lines.append(f"{parts['said']:<{REMARKS - 1}} # {remark}")
    return "\n".join(lines), tuple(found)


def unmarked(text: str) -> str:
    """The text as it is written, without its ranges."""
    return told(text)[0]


def doubts_in(file: str, text: str, ranges: Iterable[Range], head: str = "") -> dict[str, str]:
    """What stands in doubts.toml for these ranges of a file of the folder, by the path of each figure.

    `head` goes before the paths of a product's file. Raises ValueError where no figure stands on the line.
    """
    from pricing.folder.toml.syntax import document

    read = document(file, text)
    by_line: dict[int, list[tuple[str | int, ...]]] = {}
    for path in _figures(read.values, ()):
        line = read.place(path).line
        by_line.setdefault((line or 0) - 1, []).append(path)
    found = {}
    for each in ranges:
        fitting = [path for path in by_line.get(each.line, ()) if each.key is None or path[-1] == each.key]
        if len(fitting) != 1:
            where = f"{file}:{each.line + 1}"
            raise ValueError(f"{where}: a guess must be of one figure on its line, and there are {len(fitting)}")
        found[f"{head}{_spoken(read.values, fitting[0])}"] = f"{{ low = {each.low}, high = {each.high} }}"
    return found


def _figures(here: Any, path: tuple[str | int, ...]) -> Iterable[tuple[str | int, ...]]:
    if isinstance(here, Mapping):
        for key, value in here.items():
            yield from _figures(value, (*path, key))
    elif isinstance(here, list):
        for index, value in enumerate(here):
            yield from _figures(value, (*path, index))
    elif isinstance(here, (int, float)) and not isinstance(here, bool):
        yield path


def _spoken(values: Any, path: Sequence[str | int]) -> str:
    """A path as doubts have it: what stands in a list by its name or material."""
    parts, here = [], values
    for part in path:
        here = here[part]
        parts.append(str(here.get("name") or here["material"]) if isinstance(part, int) else part)
    return ".".join(parts)
