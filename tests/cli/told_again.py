"""Workshop folders edited at random: what a command says where answers are remembered, and where nothing is.

    python -m tests.cli.told_again --workshops 100 --edits 20 --seed 7

Both must be the same to the byte: stdout, stderr and exit code, also when it is asked once more.
"""

from __future__ import annotations

import argparse
import io
import os
import random
import sys
import tempfile
from collections.abc import Iterator
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from pathlib import Path
from unittest.mock import patch

from pricing import costing
from pricing.cli import again
from pricing.cli.main import main as troytag
from pricing.folder import as_it_lies, product_files
from pricing.formulas import kernel
from pricing.remembered import VARIABLE
from tests.exact.many import drawn
from tests.exact.workshop_writer import write
from tests.folder.edited import Edited

COMMANDS = (
    ("check",), ("check", "--json"), ("cost",), ("cost", "--json"), ("cost", "--csv"), ("cost", "--steps"),
    ("cost", "--run", "7"),
    ("reprice",), ("reprice", "--json"), ("reprice", "--csv"), ("reprice", "--all"),
)  # fmt: skip


@dataclass(frozen=True)
class Told:
    """What a command said, and its exit code."""

    out: bytes
    err: bytes
    code: object


def told(*words: object) -> Told:
    """Run one command in this process."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding="utf-8", write_through=True) for _ in range(2))
    code: object = 0
    with patch.object(sys, "argv", ["troytag", *map(str, words)]), redirect_stdout(out), redirect_stderr(err):
        try:
            troytag()
        except SystemExit as left:
            code = left.code
    return Told(out.buffer.getvalue(), err.buffer.getvalue(), code)  # type: ignore[attr-defined]


@dataclass
class Counted:
    """How many commands were compared, how many of them did not run but said what was remembered."""

    compared: int = 0
    remembered: int = 0


def compare(words: tuple[object, ...], cache: str, counted: Counted) -> None:
    """One command as it is, and as it is remembered, twice. Raises AssertionError where they differ."""
    with patch.dict(os.environ, {VARIABLE: "off"}):
        fresh = told(*words)
    with patch.dict(os.environ, {VARIABLE: cache}):
        for _ in range(2):
            with patch.object(costing, "cost", wraps=costing.cost) as cost:
                assert told(*words) == fresh, words
            counted.compared += 1
            counted.remembered += not cost.called


def more(here: Edited) -> None:
    """An edit of what is no file of figures: prices published, HEAD and an edition spoilt, something put beside."""
    editions = here.root / "editions"
    kind = here.chance.randrange(5)
    if kind == 0:
        told("reprice", here.root, "--publish", "--yes", "--as-of", here.asked.as_of)
    elif kind == 1 and (editions / "HEAD").exists():
        here.put(editions / "HEAD", (editions / "HEAD").read_bytes()[:-9])
    elif kind == 2 and (paths := sorted(editions.glob("0*.json"))):
        here.chance.choice(paths).unlink()
    elif kind == 3:
        here.put(here.root / "alloys (1).toml", b"")
    else:
        (here.root / "alloys (1).toml").unlink(missing_ok=True)


def edits(root: Path, chance: random.Random, asked: costing.Asked, count: int, each: int) -> Iterator[Counted]:
    """So many edits of a folder, `each` commands compared after each of them; of files that are not old yet."""
    here, counted = Edited(root, chance, asked), Counted()
    with (
        patch.object(again, "LEAST_FILES", 0),
        patch.object(product_files, "LEAST_REMEMBERED", 0),  # checks and rows are remembered too
        patch.object(as_it_lies, "SETTLES_AFTER_NS", -(10**18)),
        patch.object(kernel, "has_compiled", lambda: False),  # others of this process may have
        tempfile.TemporaryDirectory() as cache,
    ):
        for _ in range(count):
            for words in chance.sample(COMMANDS, each):
                compare((words[0], root, *words[1:], "--as-of", asked.as_of), cache, counted)
            yield counted
            if chance.random() < 0.3:
                more(here)
            else:
                here.edit()


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--workshops", type=int, default=20)
    reader.add_argument("--edits", type=int, default=10)
    reader.add_argument("--each", type=int, default=3)
    reader.add_argument("--seed", type=int, default=1)
    asked = reader.parse_args()
    whole = Counted()
    for number in range(asked.workshops):
        workshop, chance = drawn(asked.seed, number), random.Random(f"{asked.seed} {number}")
        with tempfile.TemporaryDirectory() as directory:
            root, counted = write(workshop, Path(directory) / "shop"), Counted()
            try:
                for each in edits(root, chance, costing.Asked(workshop.as_of), asked.edits, asked.each):
                    counted = each
            except AssertionError as differs:
                print(f"workshop {number}: {str(differs)[:2000]}")
        whole.compared += counted.compared
        whole.remembered += counted.remembered
    print(f"{whole.compared:,} answers compared, {whole.remembered:,} of them remembered ones")


if __name__ == "__main__":
    main()
