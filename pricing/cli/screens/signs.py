"""What is printed passes here: signs that a screen lacks become plainer ones, those that steer it are spelled out.

A name in a mesh file, the source of a price or a folder may hold signs that move the cursor, rename the window or put
something on the clipboard. Nobody sees them, so they are printed as their escapes: `\\x1b`.
"""

from __future__ import annotations

import codecs
import os
import re
import sys
from collections.abc import Iterable, Mapping
from types import MappingProxyType
from typing import Any, TextIO

#: What stands in for signs of ours where the encoding lacks them.
PLAIN: Mapping[str, str] = MappingProxyType(
    {"·": "|", "–": "-", "—": "-", "×": "x", "…": "...", "°": "deg ", "█": "#", "▏": "", "▎": "", "▍": "", "▌": "#"}
    | {"▋": "#", "▊": "#", "▉": "#", "−": "-", "→": "->", "£": "GBP ", "€": "EUR "}
    | {"²": "2", "³": "3", "½": "1/2", "¤": "cur", "±": "+/-", "µ": "u", "π": "pi", "“": '"', "”": '"', "’": "'"}
    | {"▁": "_", "▂": ".", "▃": "-", "▄": "=", "▅": "+", "▆": "*", "▇": "%"}  # of a line of blocks, rising
)
HANDLER = "troytag-plain"
#: Control signs of ASCII and of Latin-1 but for tab and line end, and what turns the direction of a line round.
_STEERING = re.compile("[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f\\u2028-\\u202e\\u2066-\\u2069]")

_STEERING_ASCII = bytes(sign for sign in range(128) if _STEERING.match(chr(sign)))


def unsteered(text: str) -> str:
    """The text with every sign that would steer a terminal as its escape."""
    if text.isascii() and (signs := text.encode()) == signs.translate(None, _STEERING_ASCII):
        return text  # as nearly all is, and told twenty times as fast
    if text.replace("\n", "").isprintable():
        return text
    return _STEERING.sub(lambda found: found[0].encode("unicode_escape").decode(), text)


class Printed:
    """A stream on which nothing that is printed can steer the terminal; `inner` is the stream itself."""

    def __init__(self, inner: TextIO):
        self.inner = inner

    def write(self, text: str) -> int:
        self.inner.write(unsteered(text))
        return len(text)

    def writelines(self, lines: Iterable[str]) -> None:
        for line in lines:
            self.write(line)

    def __getattr__(self, name: str) -> Any:
        return getattr(self.inner, name)


def print_as_is(text: str) -> None:
    """Print what holds nothing that steers, as JSON, which escapes it: a long text is not looked through once more."""
    stream = sys.stdout.inner if isinstance(sys.stdout, Printed) else sys.stdout
    print(text, file=stream)


def _plainer(problem: UnicodeError) -> tuple[str, int]:
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    lacking = problem.object[problem.start : problem.end]
    return "".join(PLAIN.get(sign, "?") for sign in lacking), problem.end


def make_printable() -> None:
    """Let stdout and stderr write a plainer sign for one that their encoding lacks, and none that steers a terminal.

    A closed one goes nowhere.
    """
    codecs.register_error(HANDLER, _plainer)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=HANDLER)
        if not isinstance(getattr(sys, name), Printed):
            setattr(sys, name, Printed(getattr(sys, name)))


def can_show_all(encoding: str | None) -> bool:
    """Whether an encoding has every sign."""
    return (encoding or "").lower().replace("-", "").startswith("utf")
