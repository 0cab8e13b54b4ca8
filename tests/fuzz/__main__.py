"""Go on attacking a door from other seeds each time: `python -m tests.fuzz page --minutes 10`."""

from __future__ import annotations

import argparse
from importlib import import_module

#: Each door is a module here with `explore(minutes)`, which gives what was done in a line and raises what it found.
DOORS = ("page",)


def main() -> None:
    asked = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    asked.add_argument("door", choices=DOORS)
    asked.add_argument("--minutes", type=float, default=10.0)
    wanted = asked.parse_args()
    print(import_module(f"tests.fuzz.{wanted.door}").explore(wanted.minutes))


if __name__ == "__main__":
    main()
