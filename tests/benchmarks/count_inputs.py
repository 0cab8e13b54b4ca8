"""How many files know an input by name: `python -m tests.benchmarks.count_inputs [PACKAGE]`.

An input's name is looked for as a whole word in every module of the package outside the formulas, comments and
docstrings included; words that mean something else besides (`sold`, `ending`) count as well. Beside it: modules,
lines of product code, and floors between and inside the rooms.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pricing
from pricing.formulas.tables import INPUTS
from tests.test_floors import FLOORS, ROOMS

#: Where formulas stand; there an input is meant to be named.
FORMULAS = "quantities"


def files_naming(package: Path, names: frozenset[str]) -> Mapping[str, list[str]]:
    """The files outside the formulas in which each of these names stands as a word."""
    found: dict[str, list[str]] = {name: [] for name in names}
    for path in _modules(package):
        where = path.relative_to(package)
        if FORMULAS not in where.parts:
            for name in names & {*re.findall(r"\w+", path.read_text(encoding="utf-8"))}:
                found[name].append(where.as_posix())
    return found


def _modules(package: Path) -> Iterator[Path]:
    yield from sorted(package.rglob("*.py"))


def main(package: Path) -> None:
    names = frozenset(name for name, known in INPUTS.items() if not known.stated)
    counts = sorted(((len(files), name) for name, files in files_naming(package, names).items()), reverse=True)
    mean, median = sum(count for count, _ in counts) / len(counts), counts[len(counts) // 2][0]
    lines = [len(path.read_text(encoding="utf-8").splitlines()) for path in _modules(package)]
    inside = ", ".join(f"{len(floors)} in {room}" for room, floors in ROOMS.items())
    print(f"{len(names)} inputs; files that name one: {mean:.1f} on average, median {median}")
    print(f"most: {', '.join(f'{name} {count}' for count, name in counts[:6])}")
    print(f"{len(lines)} modules, {sum(lines):,} lines; {len(FLOORS)} floors, {inside}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(pricing.__file__).parent)
