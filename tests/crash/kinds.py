"""Every kind of write that the kills are aimed at, by the functions that the commands and the page call."""

from __future__ import annotations

import os
import re
import shutil
from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import date
from pathlib import Path
from types import MappingProxyType

from pricing.batches.adding import write_batch
from pricing.batches.model import Card, Flask
from pricing.batches.read import read_log
from pricing.drawer.adding import write_entry
from pricing.drawer.model import Entry, Line
from pricing.drawer.on_hand import read_drawer
from pricing.drawer.read import STOCK, read_every_entry
from pricing.editions.chain import chain_faults, newest, numbers
from pricing.editions.publishing import publish
from pricing.folder.prices.append import append_quote
from pricing.folder.prices.read import read_metal_prices
from pricing.folder.read import read_folder
from pricing.folder.whole_files import held
from pricing.kept.chain import numbers as numbers_of
from pricing.model.quote import Quote
from pricing.page.forms.draft import draft_of_product
from pricing.page.forms.saving import save_draft
from pricing.page.workspace import Upload, Workspace
from pricing.several_files import finish, only_change, sweep_all
from pricing.starting import new_folder
from pricing.workbook.back.proposal import Proposal
from pricing.workbook.back.writing import write
from tests.crash.killing import READY, Kind
from tests.editions.small_editions import content
from tests.meshes.boxes import box
from tests.meshes.shapes import binary_stl

Tell = Callable[[object], None]
TODAY = date(2026, 11, 20)


class Publish:
    """Edition after edition of some hundred prices."""

    def prepare(self, root: Path) -> None:
        root.mkdir(exist_ok=True)

    def work(self, root: Path, tell: Tell) -> None:
        before = newest(root)
        tell(READY)
        while True:
            before = publish(root, content(note="of a process", rows=100), before)
            tell(before.number)

    def look(self, root: Path) -> list[int]:
        assert chain_faults(root) == []
        newest(root)
        return numbers(root)


class Stock:
    """Entry after entry of the metal drawer."""

    def prepare(self, root: Path) -> None:
        root.mkdir(exist_ok=True)

    def work(self, root: Path, tell: Tell) -> None:
        line = Line(what="bought", alloy="sterling", form="fresh", grams=1.0, money=1.0)
        tell(READY)
        while True:
            tell(write_entry(root, Entry(day=TODAY, lines=(line,), currency="GBP", note="of a process")).number)

    def look(self, root: Path) -> list[int]:
        assert read_drawer(root).of("sterling", "fresh").grams == len(numbers_of(root, STOCK))
        assert _left(root) == []
        return numbers_of(root, STOCK)


class Log:
    """Batch after batch, each with what it took from the drawer: both stand, or none."""

    def prepare(self, root: Path) -> None:
        root.mkdir(exist_ok=True)

    def work(self, root: Path, tell: Tell) -> None:
        flask = Flask(alloy="sterling", fresh_g=100.0, back_g=40.0, castings_g=59.0)
        tell(READY)
        while True:
            tell(write_batch(root, Card(day=TODAY, flasks=(flask,)), "GBP", {}, draws=True)[0].number)

    def look(self, root: Path) -> list[int]:
        drew = [entry.batch for entry in read_every_entry(root)]
        batches = [batch.number for batch in read_log(root)]
        assert drew == batches, f"half of a batch: {drew[-3:]}, {batches[-3:]}"
        assert _left(root) == []
        return batches


def _left(root: Path) -> list[str]:
    """What the next writer does not take away of what a killed one left."""
    with only_change(root):
        sweep_all(root, ("", "log", "stock"))
    return [path.name for path in root.rglob(".*") if path.is_file()]


class PublishWithoutLinks(Publish):
    """The same on a drive that cannot link files."""

    def work(self, root: Path, tell: Tell) -> None:
        def no_links(*_: object) -> None:
            raise OSError(1, os.strerror(1))

        os.link = no_links  # in this process only, which is killed
        super().work(root, tell)


class _Workshop:
    """A workshop folder as `start` makes it."""

    def prepare(self, root: Path) -> None:
        new_folder(root, "Fernhollow Castings", "GBP", TODAY)

    def tidy(self, root: Path) -> None:
        """What the next writer does first; afterwards nothing of a killed one is left."""
        with held(root):
            pass
        left = [path.name for path in root.rglob(".*") if path.is_file()]
        assert left == [], left


class Import(_Workshop):
    """A workbook's changes in four files: a line in each that must be the same in all."""

    files = ("workshop.toml", "alloys.toml", "processes.toml", "channels.toml")

    def work(self, root: Path, tell: Tell) -> None:
        number = self.look(root)[-1:] or [0]
        tell(READY)
        while True:
            number = [number[0] + 1]
            hashes = read_folder(root).hashes
            files = {file: (root / file).read_bytes() + b"# import %d\n" % number[0] for file in self.files}
            write(Proposal(root, files=files, expected={file: hashes[file] for file in self.files}))
            tell(number[0])

    def look(self, root: Path) -> list[int]:
        read_folder(root)
        found = [re.findall(r"^# import (\d+)$", (root / file).read_text(), re.MULTILINE) for file in self.files]
        assert all(each == found[0] for each in found), f"half a set: {[each[-1:] for each in found]}"
        self.tidy(root)
        return [int(each) for each in found[0]]


class Save(_Workshop):
    """A design saved on the page with another mesh each time: the mesh and the file that names it."""

    file = "products/first-piece.toml"

    def work(self, root: Path, tell: Tell) -> None:
        number = len(self.look(root))
        workspace = Workspace(root)
        dropped = root.parent / f"dropped-{os.getpid()}.stl"
        while True:
            number += 1
            dropped.write_bytes(_mesh(number))
            workspace.keep(Upload("dropped", dropped, f"piece-{number}.stl"))
            look = workspace.look()
            draft = draft_of_product(look, "first-piece")
            typed: Mapping[str, str] = {"castings-0-way": "mesh", "castings-0-upload": "dropped"}
            draft = replace(draft, fields=MappingProxyType({**draft.fields, **typed}))
            tell(READY)
            save_draft(workspace, look, draft)
            tell(number)

    def look(self, root: Path) -> list[int]:
        read_folder(root)
        meshes = sorted(int(path.stem.removeprefix("piece-")) for path in (root / "meshes").glob("piece-*.stl"))
        named = re.findall(r'mesh = "meshes/piece-(\d+)\.stl"', (root / self.file).read_text())
        assert [int(each) for each in named] == meshes[-1:], f"{named} is named, and there are {meshes[-3:]}"
        for number in meshes[-2:]:
            assert (root / "meshes" / f"piece-{number}.stl").read_bytes() == _mesh(number)
        self.tidy(root)
        return meshes


def _mesh(number: int) -> bytes:
    return binary_stl(box(10.0 + number / 100))


class MetalAdd(_Workshop):
    """Line after line of the price history."""

    def work(self, root: Path, tell: Tell) -> None:
        number = len(self.look(root))
        tell(READY)
        while True:
            number += 1
            quote = Quote(date=TODAY, metal="Ag", price=float(number), per="ozt", currency="GBP", source="a kill")
            append_quote(root, quote, str(number))
            tell(number)

    def look(self, root: Path) -> list[int]:
        found = read_metal_prices(root)
        assert found.faults == (), found.faults
        self.tidy(root)
        return [int(quote.price) for quote in found.quotes if quote.source == "a kill"]


class Start:
    """New folders, one after the other."""

    def prepare(self, root: Path) -> None:
        root.mkdir()

    def work(self, root: Path, tell: Tell) -> None:
        number = len(self.look(root))
        new_folder(root.parent / "warm", "Fernhollow", "GBP", TODAY)  # what is read for the first time is read now
        shutil.rmtree(root.parent / "warm")
        tell(READY)
        while True:
            number += 1
            new_folder(root / f"{number:04d}", "Fernhollow", "GBP", TODAY)
            tell(number)

    def look(self, root: Path) -> list[int]:
        for path in sorted(root.iterdir())[-3:]:
            finish(path)
            if not (path / "workshop.toml").exists():  # killed before its journal stood: it is begun anew
                shutil.rmtree(path)
                continue
            read_folder(path)
        return [int(path.name) for path in sorted(root.iterdir())]


KINDS: Mapping[str, type[Kind]] = MappingProxyType(
    {
        "publish": Publish,
        "publish-without-links": PublishWithoutLinks,
        "import": Import,
        "save": Save,
        "metal-add": MetalAdd,
        "start": Start,
        "stock": Stock,
        "log": Log,
    }
)
