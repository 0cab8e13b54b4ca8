"""A process that publishes edition after edition until it is killed: `python -m tests.editions.publishing_process`.

Its words are the folder and how many rows an edition has. It writes `ready` once it can begin, and after that the
number of every edition that it was told is published. With a third word it waits for a line on its standard input
before each, and tells `refused` where it was refused.
"""

from __future__ import annotations

import sys
from pathlib import Path

from pricing.editions.chain import newest
from pricing.editions.publishing import publish
from pricing.errors import TroytagError
from tests.editions.small_editions import content


def main(root: Path, rows: int, waits: bool) -> None:
    print("ready", flush=True)
    while True:
        before = newest(root)
        if waits:
            print("looked", flush=True)
            if not sys.stdin.readline():
                return
        try:
            print(publish(root, content(note="of a process", rows=rows), before).number, flush=True)
        except TroytagError:
            print("refused", flush=True)


if __name__ == "__main__":
    main(Path(sys.argv[1]), int(sys.argv[2]), len(sys.argv) > 3)
