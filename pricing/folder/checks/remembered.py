"""That nothing was wrong between the files of a folder, and what was doubted, remembered by what stands in them.

What was checked of the very same bytes by the very same program (its sources, not only its number) need not be checked
again. What hangs on anything else, files that are only named or that lie beside, is looked at each time; and so is what
hangs on quotes, which are what changes from day to day.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pricing.errors import Fault, Place
from pricing.folder.files import PRICES_FILE
from pricing.folder.product_files import are_many
from pricing.model.currency import currencies
from pricing.remembered import keep, name_for, program, recalled

#: Warnings of a folder are a few lines.
MOST_BYTES = 2**24


def digest_without_quotes(hashes: Mapping[str, str]) -> str | None:
    """What tells these files, by their content hashes, and this program from all others; quotes count nothing.

    None where nobody can say which program it is.
    """
    by = program()
    if by is None:
        return None
    files = sorted((name, content) for name, content in hashes.items() if name != PRICES_FILE)
    return hashlib.sha256(json.dumps([by, sorted(currencies().items()), files]).encode()).hexdigest()


class CheckedFolder:
    """What was found between the files of one folder, but the quotes, when these were the hashes of their contents."""

    def __init__(self, root: Path, hashes: Mapping[str, str]):
        self._digest = digest_without_quotes(hashes) if are_many(root) else None
        self._name = name_for(root) if self._digest else ""

    def warnings(self) -> list[Fault] | None:
        """What is doubtful, where nothing was wrong; None where that is not remembered."""
        if self._digest is None:
            return None
        from pydantic_core import from_json

        content = recalled("checked", self._name, MOST_BYTES)
        if content is None:
            return None
        try:
            kept = from_json(content)
            return faults_of(kept["warnings"]) if kept["of"] == self._digest else None
        except (ValueError, KeyError, TypeError, AttributeError):
            return None

    def keep(self, warnings: Sequence[Fault]) -> None:
        """Remember that nothing was wrong, and what was doubtful."""
        if self._digest is None:
            return
        from pydantic_core import to_json

        content = to_json({"of": self._digest, "warnings": list(warnings)})
        if len(content) <= MOST_BYTES:
            keep("checked", self._name, content)


def faults_of(kept: list[dict[str, Any]]) -> list[Fault]:
    """Faults as they were before they became JSON. Raises what is raised where it is none."""
    return [
        Fault(
            _place(each["place"]),
            _text(each["key"]),
            _text(each["problem"]),
            _text(each["mend"]),
            tuple(map(_place, each["other"])),
        )
        for each in kept
    ]


def _place(kept: dict[str, Any]) -> Place:
    line, column, text = kept["line"], kept["column"], kept["text"]
    for number in (line, column):
        if number is not None and not (type(number) is int and number > 0):
            raise ValueError(number)
    return Place(_text(kept["file"]), line, column, text and _text(text))


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise TypeError(value)
    return value
