"""The one way in which an entry that is kept for good is written, and its hash.

JSON with sorted keys; what holds only plain values stands on one line, so that two can be compared line by
line. Numbers are written so that they are read back to the very same float.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from typing import Any


def canonical(document: Any) -> bytes:
    """The bytes of a document of dicts with text keys, lists, texts, finite numbers, truth values and None.

    Raises ValueError for a number that is not finite.
    """
    return ("".join(_written(document, "\n")) + "\n").encode("utf-8")


def digest(document: Any) -> str:
    """SHA-256 of the document's bytes, in hexadecimal."""
    return hashlib.sha256(canonical(document)).hexdigest()


def _written(value: Any, line: str) -> Iterator[str]:
    inner = line + " "
    if isinstance(value, dict) and any(isinstance(each, dict | list) for each in value.values()):
        for place, key in enumerate(sorted(value)):
            yield f"{',' if place else '{'}{inner}{_plain(key)}: "
            yield from _written(value[key], inner)
        yield f"{line}}}"
    elif isinstance(value, list) and any(isinstance(each, dict | list) for each in value):
        for place, each in enumerate(value):
            yield f"{',' if place else '['}{inner}"
            yield from _written(each, inner)
        yield f"{line}]"
    else:
        yield _plain(value)


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, sort_keys=True, allow_nan=False)
