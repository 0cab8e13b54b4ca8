"""Compares the engine with the exact re-computation over very many generated workshops.

`python -m tests.exact.many --workshops 1000 --seed 7` draws, writes, computes both ways and forgets one workshop after
another, so that memory does not grow; it prints how many and what they held, and exits with 1 where anything differs.
One workshop in five is one of those in which something lies exactly on an edge. A workshop is drawn from the seed and
its number alone: `--first 812 --workshops 1 --keep DIRECTORY` repeats number 812 and leaves its folder there.
"""

from __future__ import annotations

import argparse
import resource
import sys
import time
from collections import Counter
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from .against_engine import what_differs
from .chooser import RandomChooser
from .kinds import kinds
from .near_ties import NotThisOne, drawn_near_tie
from .workshop_writer import Workshop
from .workshops import drawn_workshop

SHOWN = 5  # differences of one workshop
WORKSHOPS_SHOWN = 20  # with differences
TIES = 5  # one in so many


def drawn(seed: int, number: int) -> Workshop:
    """The workshop of this number."""
    random = Random(f"{seed}:{number}")
    pick = RandomChooser(random)
    if number % TIES:
        return drawn_workshop(pick)
    while True:
        try:
            return drawn_near_tie(pick)
        except NotThisOne:
            continue


def main(words: list[str] | None = None) -> int:
    """Runs the comparison; 0 where nothing differs."""
    reader = argparse.ArgumentParser(prog="python -m tests.exact.many", description=__doc__.partition("\n")[0])
    reader.add_argument("--workshops", type=int, default=200, help="how many")
    reader.add_argument("--seed", type=int, default=1)
    reader.add_argument("--first", type=int, default=0, help="number of the first")
    reader.add_argument("--keep", type=Path, help="leave the folders that differ (or a single one) here")
    asked = reader.parse_args(words)
    began, held, wrong = time.monotonic(), Counter[str](), 0
    for number in range(asked.first, asked.first + asked.workshops):
        workshop = drawn(asked.seed, number)
        with TemporaryDirectory() as root:
            found = what_differs(workshop, Path(root))
        held.update(kinds(workshop))
        held.update([f"tie: {workshop.tie}"] if workshop.tie else [])
        if asked.keep and (found or asked.workshops == 1):
            what_differs(workshop, asked.keep / f"{asked.seed}-{number}")
        if found:
            wrong += 1
            if wrong <= WORKSHOPS_SHOWN:
                question = f"run {workshop.run}, design {'charged' if workshop.charge_design else 'not charged'}"
                print(f"workshop {number} of seed {asked.seed} ({question}): {len(found)} differ")
                for line in found[:SHOWN]:
                    print(f"  {line}")
        if (number - asked.first + 1) % 1000 == 0:
            print(f"{number - asked.first + 1} compared, {wrong} differ, {peak_mib():.0f} MiB", flush=True)
    for kind, count in sorted(held.items()):
        print(f"{count:8} {kind}")
    seconds = time.monotonic() - began
    print(f"{asked.workshops} workshops in {seconds:.0f} s, at most {peak_mib():.0f} MiB: {wrong} differ")
    return 1 if wrong else 0


def peak_mib() -> float:
    """The most memory this process has held."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    sys.exit(main())
