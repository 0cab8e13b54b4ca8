"""The remark behind a figure that says it is a guess: how it is written, and what is left of it once it is none."""

from __future__ import annotations

import re
from collections.abc import Iterable

_GUESS = re.compile(r"a guess, (?P<ranges>[^:]*? to [^:]*?)(?:: (?P<words>.*))?", re.DOTALL)


def guess_remark(ranges: Iterable[tuple[str | None, str, str]], words: str | None) -> str:
    """`a guess, 4 to 9: by the clock`; of several figures on a line each range has its key before it."""
    told = (f"{key + ' ' if key else ''}{low} to {high}" for key, low, high in ranges)
    return f"a guess, {', '.join(told)}" + (f": {words}" if words else "")


def once_known(remark: str, key: str) -> str:
    """The remark once the figure under this key is none of the guesses on its line; its other words stay."""
    guess = _GUESS.fullmatch(remark)
    if guess is None:
        return remark
    ranges = guess["ranges"].split(", ")
    kept = [each for each in ranges if each.count(" ") > 2 and not each.startswith(f"{key} ")]
    if len(kept) == len(ranges):
        return remark
    return ": ".join(filter(None, [f"a guess, {', '.join(kept)}" if kept else "", guess["words"] or ""]))
