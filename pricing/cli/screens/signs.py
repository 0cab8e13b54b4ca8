"""Signs that a screen or a pipe cannot show: plainer ones in their place, never a crash."""

from __future__ import annotations

import codecs
import os
import sys
from collections.abc import Mapping
from types import MappingProxyType

#: What stands in for signs of ours where the encoding lacks them.
PLAIN: Mapping[str, str] = MappingProxyType(
    {"·": "|", "–": "-", "—": "-", "×": "x", "…": "...", "°": "deg ", "█": "#", "▏": "", "▎": "", "▍": "", "▌": "#"}
    | {"▋": "#", "▊": "#", "▉": "#", "−": "-", "→": "->", "£": "GBP ", "€": "EUR "}
)
HANDLER = "troytag-plain"


def _plainer(problem: UnicodeError) -> tuple[str, int]:
    if not isinstance(problem, UnicodeEncodeError):
        raise problem
    lacking = problem.object[problem.start : problem.end]
    return "".join(PLAIN.get(sign, "?") for sign in lacking), problem.end


def make_printable() -> None:
    """Let stdout and stderr write a plainer sign for one that their encoding lacks; a closed one goes nowhere."""
    codecs.register_error(HANDLER, _plainer)
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name)
        if stream is None:
            setattr(sys, name, open(os.devnull, "w", encoding="utf-8"))  # noqa: SIM115
        elif hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=HANDLER)


def can_show_all(encoding: str | None) -> bool:
    """Whether an encoding has every sign."""
    return (encoding or "").lower().replace("-", "").startswith("utf")
