"""A folder that two machines write to while they are apart, and that a synced drive then brings together."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import pytest

from pricing.batches.adding import write_batch
from pricing.batches.model import Card, Flask
from pricing.batches.read import LOG
from pricing.drawer.adding import write_entry
from pricing.drawer.model import Entry, Line
from pricing.drawer.read import STOCK
from pricing.errors import TroytagError
from pricing.kept.chain import chain_faults, numbers, read_all
from pricing.kept.series import Series

DAY = date(2026, 11, 20)


def weigh_in(root: Path, grams: float) -> None:
    line = Line(what="bought", alloy="sterling", form="fresh", grams=grams, money=grams)
    write_entry(root, Entry(day=DAY, lines=(line,), currency="GBP"))


def pour(root: Path, grams: float) -> None:
    flask = Flask(alloy="sterling", fresh_g=grams, back_g=grams / 4, castings_g=grams / 2)
    write_batch(root, Card(day=DAY, flasks=(flask,)), "GBP", {}, draws=False)


@dataclass(frozen=True)
class Apart:
    """Two copies of a folder with three entries: this machine wrote a fourth, the other a fourth and a fifth."""

    series: Series
    write: Callable[[Path, float], None]
    here: Path
    there: Path
    head_of_three: bytes

    def file(self, root: Path, name: str) -> Path:
        return root / self.series.folder / name

    def comes(self, name: str, called: str = "") -> None:
        """A file of the other machine's arrives, under its own name or another."""
        shutil.copyfile(self.file(self.there, name), self.file(self.here, called or name))

    def told(self) -> str:
        return "\n".join(fault.headline() for fault in chain_faults(self.here, self.series))


@pytest.fixture(params=[(STOCK, weigh_in), (LOG, pour)], ids=["the drawer", "the log"])
def apart(request, tmp_path) -> Apart:
    series, write = request.param
    here, there = tmp_path / "here", tmp_path / "there"
    here.mkdir()
    for grams in (10, 20, 30):
        write(here, grams)
    shutil.copytree(here, there)
    head_of_three = (here / series.folder / "HEAD").read_bytes()
    write(here, 44)
    write(there, 55)
    write(there, 66)
    assert numbers(here, series) == [1, 2, 3, 4] and numbers(there, series) == [1, 2, 3, 4, 5]
    return Apart(series, write, here, there, head_of_three)


def test_one_number_twice_is_told_and_nothing_is_written_on_it(apart):
    """The drive keeps this machine's files under their names and puts the other's beside."""
    ours = apart.file(apart.here, "000004.json").read_bytes()
    apart.comes("000004.json", "000004 (conflicted copy).json")
    apart.comes("HEAD", "HEAD (conflicted copy)")
    apart.comes("000005.json")
    told = apart.told()
    one = apart.series.one
    assert f"two machines have written {apart.series.a} 4" in told
    assert "000005.json" in told and f"it does not follow on {one} 4 as that one stands now" in told
    assert "this is a copy of HEAD from another machine" in told
    with pytest.raises(TroytagError):
        apart.write(apart.here, 77)
    assert apart.file(apart.here, "000004.json").read_bytes() == ours
    assert (
        apart.file(apart.here, "000004 (conflicted copy).json").exists() and len(numbers(apart.here, apart.series)) == 5
    )


def test_the_other_machine_s_entry_in_the_place_of_ours_is_told(apart):
    """The drive took the later file and keeps no copy: HEAD of this machine knows of another fourth."""
    apart.comes("000004.json")
    told = apart.told()
    assert f"it is not the {apart.series.one} 4 that was written last on the machine that wrote HEAD" in told
    with pytest.raises(TroytagError):
        apart.write(apart.here, 77)


def test_a_head_that_comes_before_what_it_names_is_told_and_waited_for(apart):
    """HEAD ahead: the other machine's is here, its entries are still on their way."""
    apart.file(apart.here, "000004.json").unlink()
    apart.comes("HEAD")
    assert f"{apart.series.many} 4 to 5 are missing, and HEAD names 5 as the newest" in apart.told()
    with pytest.raises(TroytagError):
        apart.write(apart.here, 77)
    for name in ("000004.json", "000005.json"):
        apart.comes(name)
    assert apart.told() == ""
    apart.write(apart.here, 77)
    assert numbers(apart.here, apart.series) == [1, 2, 3, 4, 5, 6] and apart.told() == ""


def test_a_head_that_comes_after_what_it_names_is_no_fault(apart):
    """HEAD behind: entries that continue the chain are here before it; the next number is theirs."""
    apart.file(apart.here, "000004.json").unlink()
    for name in ("000004.json", "000005.json"):
        apart.comes(name)
    apart.file(apart.here, "HEAD").write_bytes(apart.head_of_three)
    assert apart.told() == "" and len(read_all(apart.here, apart.series)) == 5
    apart.write(apart.here, 77)
    assert numbers(apart.here, apart.series) == [1, 2, 3, 4, 5, 6] and apart.told() == ""
