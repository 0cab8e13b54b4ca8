"""A thousand publishing processes killed at random moments: `python -m tests.benchmarks.crash_publish [TIMES [SEED]]`.

Prints what was found; ends with an error for a torn edition, a gap in the chain, or one that was told as published
and does not stand.
"""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.editions.killing import kill_often

#: So many kills go to one folder, since every look at the chain reads all of it.
IN_ONE_FOLDER = 25


def main(times: int = 1000, seed: int = 1) -> None:
    begun = time.perf_counter()
    told = standing = interrupted = done = 0
    while done < times:
        some = min(IN_ONE_FOLDER, times - done)
        with tempfile.TemporaryDirectory() as folder:
            found = kill_often(Path(folder), some, seed + done)
        told, standing, interrupted = told + found.told, standing + found.standing, interrupted + found.interrupted
        done += some
        if sys.stderr.isatty():
            print(f"\r{done} of {times}", end="", file=sys.stderr)
    seconds = time.perf_counter() - begun
    print(f"{times} kills in {seconds:.0f} s, {interrupted} in the midst of writing;")
    print(f"{told} editions told as published, {standing} standing, none torn, none lost")


if __name__ == "__main__":
    main(*map(int, sys.argv[1:3]))
