"""How many files know an input by name: `python -m tests.benchmarks.count_inputs [PACKAGE]`.

Counted in every module of the package outside the formulas. As a whole word, wherever it stands, comments and
docstrings included: many names are ordinary words besides (`sold`, `together`, `good`), so those of more than one word
are counted apart. And in code alone: as a name, an attribute, an argument or a text that is the name and nothing else;
a local of the same word is told from it only where plain names are left out, by which no module outside the formulas
can reach an input: what is left are fields, attributes, arguments, parameters and texts.
Beside it: modules, lines of product code, and floors between and inside the rooms.
"""

from __future__ import annotations

import ast
import re
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path

import pricing
from pricing.formulas.tables import INPUTS
from tests.test_floors import FLOORS, ROOMS


def is_of_formulas(path: Path) -> bool:
    """Whether formulas stand in a module of the package; there an input is meant to be named."""
    return "quantities" in path.parts or path.stem.endswith("formulas")


def words_of(text: str) -> set[str]:
    """Every word of a module."""
    return {*re.findall(r"\w+", text)}


def code_words_of(text: str) -> set[str]:
    """Every name in a module's code, and every text in it as a whole."""
    fields = (value for node in ast.walk(ast.parse(text)) for _, value in ast.iter_fields(node))
    return {value for value in fields if isinstance(value, str)}


def reached_in(text: str) -> set[str]:
    """The same without plain names, but with the fields of a class."""
    tree = ast.parse(text)
    classes = [node for node in ast.walk(tree) if isinstance(node, ast.ClassDef)]
    fields = {id(each.target) for node in classes for each in node.body if isinstance(each, ast.AnnAssign)}
    kept = (node for node in ast.walk(tree) if not isinstance(node, ast.Name) or id(node) in fields)
    return {value for node in kept for _, value in ast.iter_fields(node) if isinstance(value, str)}


def files_naming(
    package: Path, names: frozenset[str], words: Callable[[str], set[str]] = words_of
) -> Mapping[str, list[str]]:
    """The files outside the formulas in which each of these names stands among the words."""
    found: dict[str, list[str]] = {name: [] for name in names}
    for path in _modules(package):
        where = path.relative_to(package)
        if not is_of_formulas(where):
            for name in names & words(path.read_text(encoding="utf-8")):
                found[name].append(where.as_posix())
    return found


def _modules(package: Path) -> Iterator[Path]:
    yield from sorted(package.rglob("*.py"))


def main(package: Path) -> None:
    names = frozenset(name for name, known in INPUTS.items() if not known.stated)
    print(f"{len(names)} inputs; files that name one:")
    long = frozenset(name for name in names if "_" in name)
    counted = (
        ("as a word", names, words_of),
        ("of more than one word", long, words_of),
        ("in code", names, code_words_of),
        ("in code without plain names", names, reached_in),
    )
    for how, some, words in counted:
        found = files_naming(package, some, words)
        counts = sorted(((len(files), name) for name, files in found.items()), reverse=True)
        mean, median = sum(count for count, _ in counts) / len(counts), counts[len(counts) // 2][0]
        most = ", ".join(f"{name} {count}" for count, name in counts[:6])
        print(f"  {how}: {mean:.2f} on average, median {median}; most: {most}")
    lines = [len(path.read_text(encoding="utf-8").splitlines()) for path in _modules(package)]
    inside = ", ".join(f"{len(floors)} in {room}" for room, floors in ROOMS.items())
    print(f"{len(lines)} modules, {sum(lines):,} lines; {len(FLOORS)} floors, {inside}")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path(pricing.__file__).parent)
