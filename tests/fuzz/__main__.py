"""`python -m tests.fuzz DOOR --minutes N`: other examples each time, until the time is up; tells how many."""

from __future__ import annotations

import argparse
import os
import tempfile
import time
from pathlib import Path

from hypothesis import HealthCheck, given, settings

from tests.fuzz.doors import REFUSED, doors
from tests.fuzz.spoilt import spoilt


def main() -> None:
    """Run one door, or all of them one after another; the first fault of ours ends it, with its example."""
    known = doors()
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("door", choices=[*known, "page", "all"])
    asked.add_argument("--minutes", type=float, default=1.0, help="for each door")
    words = asked.parse_args()
    os.environ["TROYTAG_CACHE"] = "off"
    if words.door in ("page", "all"):
        from tests.fuzz.page import explore

        print(explore(words.minutes), flush=True)
    for name in known if words.door == "all" else [words.door] if words.door in known else []:
        tried, refused = fuzz(name, words.minutes)
        told = f"{refused:,} refused in words, nothing else"
        print(f"{name}: {tried:,} examples in {words.minutes:g} min, {told}", flush=True)


def fuzz(name: str, minutes: float) -> tuple[int, int]:
    """How many examples a door was given in so many minutes, and how many it refused."""
    door, counts = doors()[name], {"tried": 0, "refused": 0}
    until = time.monotonic() + 60 * minutes
    with tempfile.TemporaryDirectory() as folder:

        @settings(max_examples=300, deadline=None, database=None, suppress_health_check=list(HealthCheck))
        @given(spoilt(door.seeds))
        def enters(example: tuple[str, bytes]) -> None:
            if time.monotonic() > until:
                return
            counts["tried"] += 1
            try:
                door.take_in(*example, Path(folder))
            except REFUSED:
                counts["refused"] += 1

        while time.monotonic() < until:
            enters()
    return counts["tried"], counts["refused"]


if __name__ == "__main__":
    main()
