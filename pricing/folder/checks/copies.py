"""Copies that a synced drive puts beside a file when two machines have written it: what only they have is not read."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import PurePosixPath

from pricing.errors import Fault, Place
from pricing.folder.files import FILES
from pricing.folder.gathered import Parts

#: What stands between the name of a file and its ending in that of such a copy: `(conflicted copy 2026-11-26)`,
#: `.sync-conflict-20261126-101500-ABCDEFG`, ` 2`, ` (1)`, or the name of the other machine, `-WORKBENCH-PC`.
_MARK = re.compile(r".*(conflict|\bcopy\b).*|[ ._-]?\(\d{1,3}\)| \d{1,3}|-(?-i:[A-Z][A-Z0-9-]{4,})", re.IGNORECASE)


def copies_warnings(parts: Parts) -> Iterator[Fault]:
    """Every such copy of a file that stands in the folder itself."""
    try:
        names = sorted(os.listdir(parts.documents.root))
    except OSError:
        return
    for name in names:
        if original := copy_of(name, [file.name for file in FILES if file.is_one]):
            problem = f"this looks like a copy of {original} that a synced drive has put beside, and it is not read"
            mend = f"Compare the two: what only it says is missing in {original}. Then delete it."
            yield Fault(Place(name), "", problem, mend)


def are_copies(some: str, other: str) -> bool:
    """Whether one of two files seems to be a copy of the other."""
    names = PurePosixPath(some).name, PurePosixPath(other).name
    return bool(copy_of(names[0], [names[1]]) or copy_of(names[1], [names[0]]))


def copy_of(name: str, originals: list[str]) -> str | None:
    """The file that a file of this name seems to be a copy of."""
    for original in originals:
        path = PurePosixPath(original)
        if name != original and name.startswith(path.stem) and name.endswith(path.suffix):
            if _MARK.fullmatch(name[len(path.stem) : -len(path.suffix)]):
                return original
        if name.startswith(original) and _MARK.fullmatch(name[len(original) :]):
            return original
    return None
