"""TOML files as they were parsed, remembered by what stands in them: parsing is most of reading a large folder.

All files of a workshop folder are one entry of the cache, by the hash of each one's bytes: what was parsed of the very
same bytes by the very same program is what they say. Faults need the text and its places, and a file that has one is
never remembered; days and times, which the entry cannot hold, are not either.
"""

from __future__ import annotations

import os
import re
import sys
from pathlib import Path
from typing import Any

from pricing import __version__
from pricing.folder.files import PRODUCTS_FOLDER
from pricing.remembered import keep, name_for, recalled

#: Raise it whenever a file may be parsed or refused otherwise than before.
FORM = 1
#: A folder of fewer products is parsed in no time; to ask where the cache lies takes as long.
LEAST_PRODUCTS = 60
MOST_BYTES = 2**27
#: Something of every day and of every time that TOML knows; each begins with a sign that is soon looked for.
_DAY, _TIME = re.compile(r"-\d\d-", re.ASCII), re.compile(r":\d\d", re.ASCII)


class Parsed:
    """The parsed files of one workshop folder: those that were remembered, and those that are to be.

    `anew`: none is taken as remembered. `has_told` says whether any was.
    """

    def __init__(self, root: Path, anew: bool = False):
        self._is_worth_it = is_worth_it(root)
        self._name = name_for(root)
        self._by = f"{__version__} {FORM} {sys.version_info[:2]}"
        self._held = self._recalled() if self._is_worth_it and not anew else {}
        self.has_told = False
        self._used: dict[str, Any] = {}
        self._has_new = False

    def _recalled(self) -> dict[str, Any]:
        from pydantic_core import from_json

        content = recalled("parsed", self._name, MOST_BYTES)
        if content is None:
            return {}
        try:
            entry = from_json(content)
            held = entry["files"] if entry["by"] == self._by else {}
            return held if isinstance(held, dict) else {}
        except (ValueError, KeyError, TypeError):
            return {}

    def get(self, file_hash: str) -> dict[str, Any] | None:
        """What stands in the file of this hash; None where it is not remembered."""
        values = self._held.get(file_hash)
        if not isinstance(values, dict):
            return None
        self._used[file_hash] = values
        self.has_told = True
        return values

    def put(self, file_hash: str, text: str, values: dict[str, Any]) -> None:
        """Remember what stands in a file of this text."""
        may_have_days = self._is_worth_it and (_DAY.search(text) or _TIME.search(text))
        if self._is_worth_it and (not may_have_days or _is_plain(values)):
            self._used[file_hash] = values
            self._has_new = True

    def keep(self) -> None:
        """Write what was read this time, where something of it was new."""
        if not self._has_new:
            return
        from pydantic_core import to_json

        content = to_json({"by": self._by, "files": self._used}, inf_nan_mode="constants")
        if len(content) <= MOST_BYTES:
            keep("parsed", self._name, content)


def is_worth_it(root: Path) -> bool:
    """Whether a workshop folder has so many products that something of it is remembered."""
    try:
        found = len(os.listdir(root / PRODUCTS_FOLDER))
    except OSError:  # told where its files are read
        found = 0
    return found >= LEAST_PRODUCTS


def _is_plain(value: Any) -> bool:
    """Whether it comes back from JSON as the very same."""
    kind = type(value)
    if kind is dict:
        return all(map(_is_plain, value.values()))
    return all(map(_is_plain, value)) if kind is list else kind in (str, int, float, bool)
