"""What was worked out before and is asked for again: by what it came of, for as long as somebody asks."""

from __future__ import annotations

import os
import stat
import time
from collections.abc import Callable
from pathlib import Path
from typing import Generic, NamedTuple, TypeVar

Key = TypeVar("Key")
Value = TypeVar("Value")
#: A file that was written so shortly before it was read may be written again without looking any different: clocks of
#: file systems go in steps of up to two seconds.
SETTLES_AFTER_NS = 2_000_000_000


class Kept(Generic[Key, Value]):
    """Values by their keys; what nobody asked for from one turn to the next but one is forgotten.

    `get` gives what is kept under a key: where nothing is from before, as the dictionary itself does.
    """

    get: Callable[[Key], Value | None]

    def __init__(self) -> None:
        self._now: dict[Key, Value] = {}
        self._before: dict[Key, Value] = {}
        self.get = self._now.get

    def _get(self, key: Key) -> Value | None:
        found = self._now.get(key)
        if found is None:
            found = self._before.get(key)
            if found is not None:
                self._now[key] = found
        return found

    def put(self, key: Key, value: Value) -> Value:
        """Keep a value, and give it back."""
        self._now[key] = value
        return value

    def turn(self) -> None:
        """Begin another turn."""
        self._before, self._now = self._now, {}
        self.get = self._get if self._before else self._now.get


class Marks(NamedTuple):
    """How a plain file looks from outside: another content shows in one of them."""

    written_ns: int
    changed_ns: int
    size: int
    number: int
    device: int


def marks_of(path: Path | str) -> Marks | None:
    """The marks of a file that nobody has touched lately; None of a link, of no file, and where they say nothing."""
    try:
        found = os.lstat(path)
    except (OSError, ValueError):
        return None
    if not stat.S_ISREG(found.st_mode):
        return None
    if max(found.st_mtime_ns, found.st_ctime_ns) > time.time_ns() - SETTLES_AFTER_NS:
        return None
    return Marks(found.st_mtime_ns, found.st_ctime_ns, found.st_size, found.st_ino, found.st_dev)
