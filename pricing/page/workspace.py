"""What the page works on: the folder as it lies on the disk right now, costed once and again when a file changes."""

from __future__ import annotations

import os
import time
from collections import OrderedDict
from collections.abc import Callable, Iterable, Mapping
from contextlib import suppress
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path, PurePosixPath
from threading import Lock, RLock, Thread
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.advice import Hint, advice
from pricing.costing import Costing, asked_for, cost_folder
from pricing.editions.chain import FOLDER as EDITIONS
from pricing.editions.chain import Edition, look_over, newest
from pricing.errors import Faults, TroytagError
from pricing.folder.files import PRODUCTS_FOLDER, TOML
from pricing.folder.inherit import Piece, pieces
from pricing.folder.memory import Memory
from pricing.folder.read import read_folder
from pricing.lists.pictures import Pictures
from pricing.model.alloy import Alloy
from pricing.model.product import Product
from pricing.page.scratch import Scratch
from pricing.page.stamps import Stamp as AlloyStamp
from pricing.page.stamps import stamp_of as stamp_of_alloy
from pricing.several_files import finish
from pricing.shown import Shown, shown_of
from pricing.studies.break_even.reach import BreakEven, break_even, least_margins
from pricing.studies.causes.of_repricing import Changes, changes
from pricing.studies.prices_out import PricesOut, Wanted, prices_out
from pricing.studies.repricing.reprice import (
    Chosen,
    PriceInForce,
    RepricedRow,
    Repricing,
    Word,
    prices_held,
    prices_in_force,
    reprice,
)
from pricing.studies.week.told import line_of

#: So many pieces drawn or uploaded are kept until the page is closed.
MOST_MESHES = 24
#: With more products than this the first reading takes so long that the page says what it is doing.
MANY_PRODUCTS = 1000
#: So many seconds a first view waits for that reading before it says so.
FIRST_WAIT = 0.4
#: Name, time and size of each file that a price may come from.
Stamp = tuple[tuple[str, int, int], ...]


class StillReading(TroytagError):
    """A large folder is read for the first time; the sentence says what is being done just now."""


@dataclass(frozen=True)
class Look:
    """The folder as it was read at one moment, all its figures, and the edition in force."""

    stamp: Stamp
    costing: Costing
    edition: Edition | None

    @cached_property
    def shown(self) -> Shown:
        return shown_of(self.costing.folder.stated)

    @cached_property
    def lost_editions(self) -> tuple[str, ...]:
        """What is wrong with the editions, in words."""
        return tuple(fault.headline() for fault in look_over(self.costing.folder.root).faults)

    @cached_property
    def products(self) -> Mapping[str, Product]:
        """Every product with `like` applied."""
        return MappingProxyType(self.costing.folder.goods)

    @cached_property
    def pieces(self) -> tuple[Piece, ...]:
        """Everything that may be a part of another product."""
        return tuple(pieces(self.costing.folder.products).values())

    @cached_property
    def product_of(self) -> Mapping[str, str]:
        """The sku of the product that states it, by every sku that something is sold under."""
        stated = self.costing.folder.stated.products
        return MappingProxyType(
            {**{piece.sku: piece.product.sku for piece in self.pieces}, **{sku: sku for sku in stated}}
        )

    def called(self, sku: str, alloy: str) -> tuple[str, str, AlloyStamp | None]:
        """What a piece and its alloy are called, and the alloy's stamp; as the books have them where they are not
        stated any more, without a stamp."""
        alloys = self.costing.folder.stated.alloys
        return (
            *self.costing.folder.called(sku, alloy),
            stamp_of_alloy(alloys[alloy]) if alloy in alloys else None,
        )

    def alloy(self, alloy: str) -> str:
        """What an alloy is called."""
        return self.costing.folder.called("", alloy)[1]

    def lay_out(self) -> None:
        """Work out what the first view needs; each is kept."""
        _ = self.going_out, self.by_name, self.advice, self.week

    def out(self, wanted: Wanted = None) -> PricesOut:
        """The prices that go out, with every figure at them."""
        return prices_out(self.costing, wanted)

    @cached_property
    def going_out(self) -> PricesOut:
        """The prices in force, with every figure at them; what is asked where none is published."""
        return self.out()

    @cached_property
    def week(self) -> str:
        """The figures against the week that was told, in a sentence; empty where none was told."""
        said = line_of(self.going_out, self.shown)
        return "" if said is None else said.sentence

    @cached_property
    def in_force(self) -> Mapping[tuple[str, str, str], PriceInForce]:
        return MappingProxyType(prices_in_force(self.edition))

    @cached_property
    def held(self) -> np.ndarray:
        """Prices in force by variant and channel; NaN where none is published."""
        resolved = self.costing.computed.resolved
        rows = [
            [
                found.price if (found := self.in_force.get((each.sku, each.alloy, price.channel))) else np.nan
                for price in each.prices
            ]
            for each in resolved.variants
        ]
        return np.array(rows, dtype=float).reshape(len(rows), len(resolved.channels))

    @cached_property
    def break_even(self) -> tuple[BreakEven, ...]:
        """How far metal may move at the prices in force."""
        return self._break_even(self.edition)

    @cached_property
    def break_even_asked(self) -> tuple[BreakEven, ...]:
        """How far metal may move at what the policies ask."""
        return self._break_even(None)

    def _break_even(self, edition: Edition | None) -> tuple[BreakEven, ...]:
        costing = self.costing
        return tuple(break_even(costing.computed, prices_held(costing, edition), least_margins(costing)))

    @cached_property
    def texts(self) -> list[str]:
        """What is searched for each variant, folded."""
        alloys = self.costing.folder.stated.alloys
        found = []
        for each in self.costing.computed.resolved.variants:
            product = self.products[each.sku]
            words = (each.sku, product.name, product.collection or "", each.alloy, alloys[each.alloy].name)
            found.append(" ".join(words).casefold())
        return found

    @cached_property
    def by_name(self) -> np.ndarray:
        """The rows of the variants in the order of their names."""
        variants = self.costing.computed.resolved.variants
        keys = [(self.products[each.sku].name.casefold(), each.sku, row) for row, each in enumerate(variants)]
        return np.array(sorted(range(len(keys)), key=keys.__getitem__), dtype=np.intp)

    @cached_property
    def row_of(self) -> Mapping[tuple[str, str, str | None], int]:
        """The row of each variant by its sku, alloy and size."""
        variants = self.costing.computed.resolved.variants
        return MappingProxyType({(each.sku, each.alloy, each.size): row for row, each in enumerate(variants)})

    @cached_property
    def collections(self) -> tuple[str, ...]:
        """The names of the collections, in order."""
        found = {product.collection for product in self.products.values() if product.collection}
        return tuple(sorted(found, key=str.casefold))

    @cached_property
    def advice(self) -> tuple[Hint, ...]:
        """What deserves a word."""
        return tuple(advice(self.costing.computed))


@dataclass(frozen=True)
class Upload:
    """A mesh that was dropped on the page and is not part of the folder yet."""

    key: str
    path: Path
    name: str


@dataclass
class Workspace:
    """One workshop folder behind the page. Everything here may be used from several threads.

    `settled` is called whenever the folder has been read and costed anew.
    """

    root: Path
    as_of: date | None = None
    settled: Callable[[], None] = lambda: None
    words: dict[Chosen, Word] = field(default_factory=dict)
    uploads: OrderedDict[str, Upload] = field(default_factory=OrderedDict)
    _memory: Memory = field(default_factory=Memory, repr=False)
    _folders: frozenset[str] = frozenset()
    _note: str = ""
    _lock: RLock = field(default_factory=RLock, repr=False)
    _look: Look | None = field(default=None, repr=False)
    _looked: float = field(default=0.0, repr=False)
    _looking: bool = field(default=False, repr=False)
    _faults: tuple[Stamp, date, TroytagError] | None = field(default=None, repr=False)
    _repricing: tuple[Look, tuple[Any, ...], Repricing] | None = field(default=None, repr=False)
    _pictures: Pictures | None = field(default=None, repr=False)
    _scratch: Scratch | None = field(default=None, repr=False)
    _first: Thread | None = field(default=None, repr=False)
    _beginning: Lock = field(default_factory=Lock, repr=False)
    _noting: Lock = field(default_factory=Lock, repr=False)
    _doing: str = ""

    @property
    def today(self) -> date:
        """The day whose quotes count."""
        return self.as_of or date.today()

    def look(self, within: float = 0.0) -> Look:
        """The folder as it lies there now, or as it lay `within` so many seconds.

        Raises Faults with everything that stands in the way of its prices, and StillReading while a large folder is
        read for the first time.
        """
        if self._look is None and self._faults is None:
            self._begin()
        return self._looked_at(within)

    def _begin(self) -> None:
        """Read a large folder for the first time beside what is answered meanwhile."""
        with self._beginning:
            if self._first is None:
                count = _count(self.root / PRODUCTS_FOLDER)
                if count <= MANY_PRODUCTS:
                    return
                self._doing = f"Reading {count:,} products."
                self._first = Thread(target=self._read_first, daemon=True)
                self._first.start()
        self._first.join(FIRST_WAIT)
        if self._first.is_alive():
            raise StillReading(self._doing)

    def _read_first(self) -> None:
        with suppress(TroytagError):  # it is kept, and told to who looks next
            look = self._looked_at(0.0)
            self._doing = "Laying out the catalogue."
            look.lay_out()

    def _looked_at(self, within: float) -> Look:
        asked_at = time.monotonic()
        known, day = self._look, self.today
        if within and known is not None and known.costing.asked.as_of == day:
            if asked_at - self._looked < within or self._looking:
                return known  # without waiting for somebody who looks just now
        with self._lock:
            recent = self._look if self._look is not None and self._look.costing.asked.as_of == day else None
            if recent is not None and self._looked > asked_at - within:
                return recent  # somebody looked while this one waited
            begun, self._looking = time.monotonic(), True
            try:
                for finished in finish(self.root):
                    self.note(finished.headline())
                stamp = stamp_of(self.root, self._folders)
            finally:
                self._looked, self._looking = begun, False
            if recent is not None and recent.stamp == stamp:
                return recent
            if self._faults and self._faults[:2] == (stamp, day):
                raise self._faults[2]
            try:
                if recent is not None and _without_editions(recent.stamp) == _without_editions(stamp):
                    self._look = Look(stamp, recent.costing, newest(self.root))
                    return self._look
                folder = read_folder(self.root, memory=self._memory)
                self._doing = f"Working out what {len(folder.stated.products):,} products cost and ask."
                costing = cost_folder(folder, asked_for(day), memory=self._memory)
                products = costing.folder.stated.products.values()
                meshes = {each.mesh for product in products for each in product.castings or () if each.mesh}
                folders = frozenset(str(Path(mesh).parent) for mesh in meshes)
                if folders != self._folders:  # what lies there was not looked at before the reading
                    self._folders, stamp = folders, stamp_of(self.root, folders)
                self._look = Look(stamp, costing, newest(self.root))
                self.settled()
            except TroytagError as found:
                self._look, self._faults = None, (stamp, day, found)
                raise
            return self._look

    def repricing(self, look: Look) -> Repricing:
        """Every price looked at again, with the words given so far."""
        with self._lock:
            words = tuple(sorted(self.words.items(), key=str))
            if self._repricing and self._repricing[0] is look and self._repricing[1] == words:
                return self._repricing[2]
            found = reprice(look.costing, look.edition, dict(words))
            self._repricing = look, words, found
            return found

    def say(self, chosen: Chosen, word: Word | None) -> None:
        """Note the maker's word for a price, or take it back."""
        with self._lock:
            self.words.pop(chosen, None)
            if word:
                self.words[chosen] = word

    def forget_words(self) -> None:
        with self._lock:
            self.words.clear()

    def why(self, repricing: Repricing, rows: Iterable[RepricedRow]) -> Changes:
        """Why the costs behind these rows changed."""
        return changes(self.root, repricing, rows)

    def picture(self, product: Product, alloy: Alloy | None = None) -> bytes | None:
        """The picture of a product as WebP, or None."""
        with self._lock:
            if self._pictures is None or len(self._pictures.notes) > 1000:
                self._pictures = Pictures(self.root, on_white=False)
            pictures = self._pictures
        return pictures.of(product, alloy)

    def scratch(self) -> Path:
        """A folder that is swept away when the page is closed."""
        with self._lock:
            if self._scratch is None:
                self._scratch = Scratch()
            return self._scratch.path

    def keep(self, upload: Upload) -> None:
        """Keep an uploaded mesh; the oldest of too many go."""
        with self._lock:
            self.uploads[upload.key] = upload
            while len(self.uploads) > MOST_MESHES:
                _, gone = self.uploads.popitem(last=False)
                gone.path.unlink(missing_ok=True)

    def now_in_force(self, look: Look, edition: Edition) -> None:
        """An edition was just published from this look: it need not be read back."""
        with self._lock:
            stamp = stamp_of(self.root, self._folders)
            if self._look is look and _without_editions(stamp) == _without_editions(look.stamp):
                self._look = Look(stamp, look.costing, edition)

    def note(self, sentence: str) -> None:
        """Tell on the next view what was done."""
        with self._noting:
            self._note = sentence

    def noted(self) -> str:
        """What was noted, once."""
        with self._noting:
            sentence, self._note = self._note, ""
            return sentence

    def close(self) -> None:
        with self._lock:
            if self._scratch is not None:
                self._scratch.close()
                self._scratch = None


def _count(folder: Path) -> int:
    """How many files lie in a folder; 0 where there is none."""
    try:
        with os.scandir(folder) as entries:
            return sum(1 for _ in entries)
    except OSError:
        return 0


def leads_inside(root: Path, file: str) -> bool:
    """Whether a name relative to the folder means a place in it, also when links are followed."""
    try:
        return ".." not in PurePosixPath(file).parts and (root / file).resolve().is_relative_to(root.resolve())
    except (OSError, ValueError, RuntimeError):  # names that no system takes, links in a circle
        return False


def stamp_of(root: Path, meshes: Iterable[str] = ()) -> Stamp:
    """What lies in the folder that prices may come from: cheap to ask before every answer.

    `meshes` are folders in which meshes lie, relative to `root`.
    """
    found = []
    parts: dict[str, tuple[str, ...]] = dict.fromkeys(meshes, ())
    parts |= {"": (TOML, ".csv"), PRODUCTS_FOLDER: (), EDITIONS: (".json", "HEAD")}
    for part, endings in sorted(parts.items()):
        try:
            with os.scandir(root / part) as entries:
                for entry in entries:
                    if (not endings or entry.name.endswith(endings)) and not entry.name.startswith("."):
                        told = entry.stat()
                        found.append((f"{part}/{entry.name}", told.st_mtime_ns, told.st_size))
        except OSError:
            continue
    return tuple(sorted(found))


def _without_editions(stamp: Stamp) -> Stamp:
    return tuple(each for each in stamp if not each[0].startswith(f"{EDITIONS}/"))


def faults_of(error: TroytagError) -> list[Any]:
    """The faults that an error carries; none where it is a sentence by itself."""
    return list(error.faults) if isinstance(error, Faults) else []
