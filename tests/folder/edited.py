"""Workshop folders edited at random, read after every edit with the memory of the readings before and without any.

    python -m tests.folder.edited --workshops 300 --edits 20 --seed 7

Both must come to the same: every fault and warning with its place, every stated figure, every row, every computed
figure to the bit.
"""

from __future__ import annotations

import argparse
import os
import random
import re
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

from pricing.costing import Asked, Costing, cost_folder
from pricing.errors import Faults, TroytagError
from pricing.folder.memory import Memory
from pricing.folder.read import Folder, read_folder
from tests.exact.many import drawn
from tests.exact.workshop_writer import write
from tests.formulas.test_renewed import same

_NUMBER = re.compile(r"(?<![\w.\"-])\d+(\.\d+)?(?![\w.\"-])")


@dataclass
class Edited:
    """A folder, what stood in it at first, and the chance by which it is edited."""

    root: Path
    chance: random.Random
    asked: Asked
    memory: Memory = field(default_factory=Memory)
    at_first: dict[str, bytes] = field(default_factory=dict)
    written: int = 0

    def __post_init__(self) -> None:
        self.at_first = {str(path.relative_to(self.root)): path.read_bytes() for path in self.files()}

    def files(self) -> list[Path]:
        return sorted(path for path in self.root.rglob("*") if path.suffix in (".toml", ".csv") and path.is_file())

    def products(self) -> list[Path]:
        return sorted((self.root / "products").glob("*.toml"))

    def put(self, path: Path, content: bytes) -> None:
        """Write a file, at a moment of its own: a clock may be slower than a test."""
        path.write_bytes(content)
        self.written += 1
        os.utime(path, ns=(10**18 + self.written, 10**18 + self.written))

    def edit(self) -> str:
        """One edit; what it was."""
        kind = self.chance.choice(EDITS)
        kind(self)
        return kind.__name__

    def some(self, paths: list[Path]) -> Path | None:
        return self.chance.choice(paths) if paths else None


def another_figure(here: Edited) -> None:
    if path := here.some(here.files()):
        text = path.read_text(encoding="utf-8", errors="replace")
        if found := list(_NUMBER.finditer(text)):
            cut = here.chance.choice(found)
            figure = here.chance.choice(["0", "1", f"{float(cut[0]) * 1.25:g}", f"{float(cut[0]) / 3:.4f}", "7"])
            here.put(path, (text[: cut.start()] + figure + text[cut.end() :]).encode())


def a_line_less(here: Edited) -> None:
    if path := here.some(here.files()):
        lines = path.read_bytes().split(b"\n")
        lines.pop(here.chance.randrange(len(lines)))
        here.put(path, b"\n".join(lines))


def broken(here: Edited) -> None:
    if path := here.some(here.files()):
        here.put(path, path.read_bytes() + b'\nthis = = "is no TOML\n')


def as_at_first(here: Edited) -> None:
    """Everything is put right again."""
    for path in here.files():
        if str(path.relative_to(here.root)) not in here.at_first:
            path.unlink()
    for name, content in here.at_first.items():
        if not (here.root / name).exists() or (here.root / name).read_bytes() != content:
            here.put(here.root / name, content)


def gone(here: Edited) -> None:
    if path := here.some(here.products()):
        path.unlink()


def renamed(here: Edited) -> None:
    if path := here.some(here.products()):
        path.rename(path.with_name(f"{here.chance.choice('az')}-{path.name}"))


def one_more(here: Edited) -> None:
    """A copy under another sku, or under the same, which is a fault; or like the first."""
    if path := here.some(here.products()):
        text = path.read_text(encoding="utf-8", errors="replace")
        sku = re.search(r'^sku = "([^"]*)"', text, re.MULTILINE)
        kind = here.chance.choice(["copy", "same", "like"])
        if sku and kind != "same":
            other = f"{sku[1]}-{here.written}"
            text = text.replace(sku[0], f'sku = "{other}"')
            if kind == "like":
                text = f'sku = "{other}"\nname = "Another"\nlike = "{sku[1]}"\nscale = 1.1\n'
        here.put(path.with_name(f"more-{here.written}.toml"), text.encode())


def another_name(here: Edited) -> None:
    """Something that stands in quotes is called otherwise in one place."""
    if path := here.some(here.files()):
        text = path.read_text(encoding="utf-8", errors="replace")
        if found := list(re.finditer(r'"([a-z][a-z-]+)"', text)):
            cut = here.chance.choice(found)
            here.put(path, (text[: cut.end() - 1] + "x" + text[cut.end() - 1 :]).encode())


def touched(here: Edited) -> None:
    if path := here.some(here.files()):
        here.put(path, path.read_bytes())


EDITS: tuple[Callable[[Edited], None], ...] = (
    another_figure, another_figure, another_figure, another_figure, a_line_less, broken, as_at_first, as_at_first, gone,
    renamed, one_more, one_more, another_name, touched,
)  # fmt: skip


def looked_at(root: Path, asked: Asked, memory: Memory | None) -> tuple[Folder | None, Costing | None, object]:
    """What a folder comes to, as far as it does; and everything that is wrong with it."""
    folder = None
    try:
        folder = read_folder(root, memory=memory)
        return folder, cost_folder(folder, asked, memory=memory), None
    except Faults as wrong:
        return folder, None, wrong.faults
    except TroytagError as wrong:
        return folder, None, str(wrong)


def compare(here: Edited) -> bool:
    """Read with memory and without; whether the folder came to figures. Raises AssertionError where they differ."""
    known, fresh = looked_at(here.root, here.asked, here.memory), looked_at(here.root, here.asked, None)
    assert known[2] == fresh[2]
    if known[0] is None or fresh[0] is None:
        assert known[0] is fresh[0]
        return False
    assert known[0].warnings == fresh[0].warnings
    assert known[0].hashes == fresh[0].hashes
    assert repr(known[0].stated.__dict__) == repr(fresh[0].stated.__dict__)
    assert repr(known[0].goods) == repr(fresh[0].goods)
    if known[1] is None or fresh[1] is None:
        assert known[1] is fresh[1]
        return False
    assert known[1].warnings == fresh[1].warnings
    assert repr(known[1].computed.resolved) == repr(fresh[1].computed.resolved)
    same(known[1].computed, fresh[1].computed)
    return True


def edits(root: Path, asked: Asked, chance: random.Random, count: int) -> Iterator[tuple[str, bool]]:
    """So many edits of a folder, each compared: what it was, and whether figures came of it."""
    here = Edited(root, chance, asked)
    compare(here)
    for _ in range(count):
        done = here.edit()
        yield done, compare(here)


def of_drawn(seed: int, number: int, count: int) -> Iterator[tuple[str, bool]]:
    """The same of the workshop of this number."""
    workshop, chance = drawn(seed, number), random.Random(f"{seed} {number}")
    with tempfile.TemporaryDirectory() as directory:
        root = write(workshop, Path(directory))
        asked = Asked(workshop.as_of, workshop.run, workshop.charge_design)
        yield from edits(root, asked, chance, count)


def main() -> None:
    reader = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    reader.add_argument("--workshops", type=int, default=100)
    reader.add_argument("--edits", type=int, default=20)
    reader.add_argument("--seed", type=int, default=1)
    asked = reader.parse_args()
    whole = done = 0
    for number in range(asked.workshops):
        try:
            for _, came in of_drawn(asked.seed, number, asked.edits):
                done, whole = done + 1, whole + came
        except AssertionError as differs:
            print(f"workshop {number}: {differs}")
    print(f"{done:,} edits compared, {whole:,} of them with figures, {done - whole:,} with faults")


if __name__ == "__main__":
    main()
