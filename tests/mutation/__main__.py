"""`python -m tests.mutation [FILE…]`: puts small mistakes into the arithmetic; tells which no test notices.

Without a file it takes every one of them. Mistakes that change nothing stand with the reason in `argued.toml`.
"""

from __future__ import annotations

import argparse
import os
import sys
import tomllib
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

import pytest

from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.watching import NOT_PUT_IN, NOTICED, UNSEEN, Watch

ROOT = Path(__file__).parents[2]
AT_LEAST = 0.95
DECIDING = "pricing/studies/repricing/deciding.py"
FILES = ("pricing/quantities", "pricing/formulas/graph.py", "pricing/formulas/engine.py", DECIDING)
#: Which tests are asked, by the beginning of a file's name.
ASKED = {
    "pricing/quantities/": ("tests/formulas/test_drawn.py", "tests/quantities/by_hand"),
    "pricing/formulas/": (
        "tests/formulas/test_drawn.py", "tests/formulas/test_engine.py", "tests/formulas/test_graph.py",
        "tests/formulas/test_rerun.py", "tests/formulas/test_kernel.py::test_a_whole_run_is_what_numpy_gives",
        "tests/formulas/test_words_on_numpy.py", "tests/formulas/test_renewed.py", "tests/formulas/test_shared.py",
        "tests/quantities/by_hand",
    ),
    DECIDING: ("tests/studies/repricing/test_deciding.py", "tests/studies/repricing/test_one_price.py"),
}  # fmt: skip


def main(words: list[str] | None = None) -> int:
    """Tries every mistake of some files; 0 where at least 95 of 100 that change something are noticed."""
    asked = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__.partition("\n")[0])
    asked.add_argument("files", nargs="*", default=FILES, metavar="FILE", help="files or folders of the package")
    asked.add_argument("--within", default="", help="only the mistakes of functions whose name holds this")
    asked.add_argument("--every", type=int, default=1, metavar="N", help="only each Nth mistake, for a quick look")
    asked.add_argument("--verbose", action="store_true", help="tell of each mistake which test noticed it")
    given = asked.parse_args(words)
    os.environ["TROYTAG_CACHE"] = "off"
    files, counts = files_of(given.files), Counter[str]()
    for beginning, tests in ASKED.items():
        together = [file for file in files if name_of(file).startswith(beginning)]
        if together:
            counts += tried(together, tests, given)
    print(f"all: {told(counts)}")
    return 0 if is_enough(counts) else 1


def files_of(names: Iterable[str]) -> list[Path]:
    """The files of some names; a folder stands for all of its files."""
    paths = [ROOT / name for name in names]
    every = [inner for path in paths for inner in (sorted(path.glob("*.py")) if path.is_dir() else [path])]
    return [path for path in every if path.read_text(encoding="utf-8").strip()]


def name_of(file: Path) -> str:
    """A file's name within the project."""
    return file.relative_to(ROOT).as_posix()


def tried(files: list[Path], tests: Iterable[str], given: argparse.Namespace) -> Counter[str]:
    """How many mistakes of some files were tried and noticed; prints those that were not."""
    argued = tomllib.loads((Path(__file__).parent / "argued.toml").read_text(encoding="utf-8"))
    counts = {file: Counter[str]() for file in files}
    mutants = {file: mutants_of(file.read_text(encoding="utf-8")) for file in files}
    mutants = {
        file: [mutant for mutant in all_of_it if given.within in mutant.within][:: given.every]
        for file, all_of_it in mutants.items()
    }

    def tell(file: Path, mutant: Mutant, code: int, by: str) -> None:
        reason = argued.get(name_of(file), {}).get(mutant.name)
        if code == NOT_PUT_IN:
            counts[file]["not put in"] += 1
            by = f"not put in, {by or 'no function holds it'}"
        else:
            counts[file]["tried"] += 1
            counts[file]["noticed" if code != UNSEEN else "argued" if reason else "open"] += 1
        if code != NOTICED or given.verbose:
            print(f"{name_of(file)}:{mutant.line}: {mutant.name}\n    {by or reason or 'NOT NOTICED'}", flush=True)
        if mutant is mutants[file][-1]:
            print(f"{name_of(file)}: {told(counts[file])}", flush=True)

    options = ["-q", "-s", "-p", "no:cacheprovider", "-p", "no:xdist", "-m", "not office and not browser"]
    options += ["--no-header", "--no-summary", *(str(ROOT / test) for test in tests)]
    code = pytest.main(options, plugins=[Watch(mutants, tell)])
    if code not in (pytest.ExitCode.OK, pytest.ExitCode.NO_TESTS_COLLECTED):
        sys.exit(f"the tests fail without a mistake (pytest ended with {code})")
    return sum(counts.values(), Counter())


def told(counts: Counter[str]) -> str:
    """The counts in one line."""
    rest = "".join(f", {counts[word]} {word}" for word in ("argued", "open", "not put in") if counts[word])
    return f"{counts['tried']} mistakes, {counts['noticed']} noticed{rest}: {share(counts):.1%} of what can be noticed"


def share(counts: Counter[str]) -> float:
    """How many are noticed of those that change something."""
    able = counts["tried"] - counts["argued"]
    return counts["noticed"] / able if able else 1.0


def is_enough(counts: Counter[str]) -> bool:
    """Whether enough mistakes are noticed, most having been tried at all."""
    return share(counts) >= AT_LEAST and counts["tried"] >= counts["not put in"]


if __name__ == "__main__":
    sys.exit(main())
