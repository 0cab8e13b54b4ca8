"""A thousand writers killed at random moments: `python -m tests.benchmarks.crash KIND [--kills N] [--seed N]`.

KIND is what is written (`all` for every one in turn). Prints what was found; ends with an error for anything torn,
half-written, lost although it was told as written, or left behind.
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

from tests.crash.killing import Killed, kill_often
from tests.crash.kinds import KINDS

#: So many kills go to one folder, since every look reads all of it.
IN_ONE_FOLDER = 25


def crash(kind: str, kills: int, seed: int) -> None:
    """Kill and print what was found."""
    begun, done, all_found = time.perf_counter(), 0, Killed()
    while done < kills:
        some = min(IN_ONE_FOLDER, kills - done)
        with tempfile.TemporaryDirectory() as folder:
            found = kill_often(KINDS[kind](), Path(folder) / "workshop", some, seed + done)
        for name in ("told", "standing", "interrupted", "journals"):
            setattr(all_found, name, getattr(all_found, name) + getattr(found, name))
        done += some
        if sys.stderr.isatty():
            print(f"\r{kind}: {done} of {kills}", end="", file=sys.stderr)
    seconds = time.perf_counter() - begun
    in_midst = f"{all_found.interrupted} in the midst of writing, {all_found.journals} of these with a journal"
    kept = f"{all_found.told} told as written, {all_found.standing} standing, none torn, none lost, nothing left"
    print(f"{kind}: {kills} kills in {seconds:.0f} s, {in_midst}; {kept}", flush=True)


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__)
    asked.add_argument("kind", choices=[*KINDS, "all"])
    asked.add_argument("--kills", type=int, default=1000)
    asked.add_argument("--seed", type=int, default=1)
    words = asked.parse_args()
    for kind in KINDS if words.kind == "all" else (words.kind,):
        crash(kind, words.kills, words.seed)


if __name__ == "__main__":
    main()
