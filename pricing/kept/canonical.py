"""The one way in which an entry that is kept for good is written, and its hash.

JSON with sorted keys; what holds only plain values stands on one line, so that two can be compared line by
line. Numbers are written so that they are read back to the very same float.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from typing import Any

#: One maker of texts for all values: making one is what takes the time.
_PLAIN = json.JSONEncoder(ensure_ascii=False, sort_keys=True, allow_nan=False).encode


def canonical(document: Any) -> bytes:
    """The bytes of a document of dicts with text keys, lists, texts, finite numbers, truth values and None.

    Raises ValueError for a number that is not finite.
    """
    parts: list[str] = []
    _write(document, "\n", parts.append)
    return ("".join(parts) + "\n").encode("utf-8")


def digest(document: Any) -> str:
    """SHA-256 of the document's bytes, in hexadecimal."""
    return hashlib.sha256(canonical(document)).hexdigest()


def _write(value: Any, line: str, put: Callable[[str], None]) -> None:
    inner = line + " "
    if isinstance(value, dict) and any(isinstance(each, dict | list) for each in value.values()):
        begin = "{"
        for key in sorted(value):
            put(f"{begin}{inner}{_PLAIN(key)}: ")
            _write(value[key], inner, put)
            begin = ","
        put(f"{line}}}")
    elif isinstance(value, list) and any(isinstance(each, dict | list) for each in value):
        begin = "["
        for each in value:
            put(f"{begin}{inner}")
            _write(each, inner, put)
            begin = ","
        put(f"{line}]")
    else:
        put(_PLAIN(value))
