"""`editions/HEAD`: number and hash of the newest edition, by which the loss of that one is noticed.

It is replaced after the edition stands; so it may be behind by what was published when a process was killed, never
ahead. A folder of an earlier release has none.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from pricing.editions.canonical import canonical
from pricing.editions.document import FOLDER, Link
from pricing.errors import Fault, Faults, Place
from pricing.reading import NotRead, read_file
from pricing.safe_files import write_whole

HEAD = "HEAD"
#: It is a line of some hundred bytes.
MOST_BYTES = 4096
MOST_NUMBER = 999_999


@dataclass(frozen=True)
class Head:
    """The newest edition as HEAD names it."""

    number: int
    sha256: str


def read_head(root: Path) -> Head | None:
    """What HEAD says; None where there is none. Raises Faults where it cannot be read."""
    try:
        said = json.loads(read_file(root / FOLDER / HEAD, MOST_BYTES))
        number, sha256 = said["number"], said["sha256"]
        if type(number) is int and 0 < number <= MOST_NUMBER and isinstance(sha256, str):
            return Head(number, sha256)
    except NotRead as wrong:
        if wrong.reason == "missing":
            return None
    except (ValueError, KeyError, TypeError, RecursionError):
        pass
    problem = "this file is torn; it names the newest edition"
    mend = "See whether the newest edition is here, then delete this file: the next publishing writes it anew."
    raise Faults([Fault(Place(f"{FOLDER}/{HEAD}"), "", problem, mend)])


def write_head(root: Path, link: Link) -> None:
    """Name an edition as the newest one. Raises OSError where the disk refuses."""
    write_whole(root / FOLDER / HEAD, canonical({"number": link.number, "sha256": link.sha256}))
