"""`HEAD` of a series: number and hash of the newest entry, by which the loss of that one is noticed.

It is replaced after the entry stands; so it may be behind by what was written when a process was killed, never ahead.
The editions of an earlier release have none.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from pricing.errors import Fault, Faults, Place
from pricing.kept.canonical import canonical
from pricing.kept.document import Link
from pricing.kept.series import Series
from pricing.reading import NotRead, read_file
from pricing.safe_files import write_whole

HEAD = "HEAD"
#: It is a line of some hundred bytes.
MOST_BYTES = 4096
MOST_NUMBER = 999_999


@dataclass(frozen=True)
class Head:
    """The newest entry as HEAD names it."""

    number: int
    sha256: str


def read_head(root: Path, series: Series) -> Head | None:
    """What HEAD says; None where there is none. Raises Faults where it cannot be read."""
    try:
        said = json.loads(read_file(root / series.folder / HEAD, MOST_BYTES))
        number, sha256 = said["number"], said["sha256"]
        if type(number) is int and 0 < number <= MOST_NUMBER and isinstance(sha256, str):
            return Head(number, sha256)
    except NotRead as wrong:
        if wrong.reason == "missing":
            return None
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    problem = f"this file is torn; it names the newest {series.one}"
    mend = f"See whether the newest {series.one} is here, then delete this file: the next one writes it anew."
    raise Faults([Fault(Place(f"{series.folder}/{HEAD}"), "", problem, mend)])


def head_bytes(link: Link) -> bytes:
    """What HEAD says where this is the newest entry."""
    return canonical({"number": link.number, "sha256": link.sha256})


def write_head(root: Path, series: Series, link: Link) -> None:
    """Name an entry as the newest one. Raises OSError where the disk refuses."""
    write_whole(root / series.folder / HEAD, head_bytes(link))
