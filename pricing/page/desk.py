"""What the page works on: the folder as it lies on the disk right now, costed once and again when a file changes."""

from __future__ import annotations

import os
import tempfile
from collections import OrderedDict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import date
from functools import cached_property
from pathlib import Path
from threading import RLock
from types import MappingProxyType

import numpy as np

from pricing.costing import Costing, asked_for, cost
from pricing.editions.chain import FOLDER as EDITIONS
from pricing.editions.chain import Edition, newest
from pricing.errors import Faults, TroytagError
from pricing.folder.inherit import inherited
from pricing.model.product import Product
from pricing.publish.pictures import Pictures
from pricing.shown import Shown
from pricing.studies.changes import Changes, changes
from pricing.studies.repricing import Chosen, PriceInForce, Repricing, Row, Word, prices_in_force, reprice

#: So many pieces drawn or uploaded are kept until the page is closed.
MOST_MESHES = 24
#: Name, time and size of each file that a price may come from.
Stamp = tuple[tuple[str, int, int], ...]


@dataclass(frozen=True)
class Look:
    """The folder as it was read at one moment, all its figures, and the edition in force."""

    stamp: Stamp
    costing: Costing
    edition: Edition | None

    @cached_property
    def shown(self) -> Shown:
        workshop = self.costing.folder.stated.workshop
        return Shown(workshop.currency, workshop.show)

    @cached_property
    def products(self) -> Mapping[str, Product]:
        """Every product with `like` applied."""
        return MappingProxyType(inherited(self.costing.folder.stated.products))

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
    def row_of(self) -> Mapping[tuple[str, str], int]:
        """The row of each variant by sku and alloy."""
        variants = self.costing.computed.resolved.variants
        return MappingProxyType({(each.sku, each.alloy): row for row, each in enumerate(variants)})


@dataclass(frozen=True)
class Upload:
    """A mesh that was dropped on the page and is not part of the folder yet."""

    key: str
    path: Path
    name: str


@dataclass
class Desk:
    """One workshop folder behind the page. Everything here may be used from several threads."""

    root: Path
    as_of: date | None = None
    words: dict[Chosen, Word] = field(default_factory=dict)
    uploads: OrderedDict[str, Upload] = field(default_factory=OrderedDict)
    _folders: frozenset[str] = frozenset()
    _note: str = ""
    _lock: RLock = field(default_factory=RLock, repr=False)
    _look: Look | None = field(default=None, repr=False)
    _faults: tuple[Stamp, date, TroytagError] | None = field(default=None, repr=False)
    _repricing: tuple[Look, tuple, Repricing] | None = field(default=None, repr=False)
    _pictures: Pictures | None = field(default=None, repr=False)
    _scratch: tempfile.TemporaryDirectory | None = field(default=None, repr=False)

    @property
    def today(self) -> date:
        """The day whose quotes count."""
        return self.as_of or date.today()

    def look(self) -> Look:
        """The folder as it lies there now. Raises Faults with everything that stands in the way of its prices."""
        with self._lock:
            stamp, day = stamp_of(self.root, self._folders), self.today
            if self._look and self._look.stamp == stamp and self._look.costing.asked.as_of == day:
                return self._look
            if self._faults and self._faults[:2] == (stamp, day):
                raise self._faults[2]
            try:
                costing = cost(self.root, asked_for(day))
                products = costing.folder.stated.products.values()
                meshes = {each.mesh for product in products for each in product.castings or () if each.mesh}
                self._folders = frozenset(str(Path(mesh).parent) for mesh in meshes)
                self._look = Look(stamp_of(self.root, self._folders), costing, newest(self.root))
            except TroytagError as found:
                self._faults = stamp, day, found
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

    def why(self, repricing: Repricing, rows: Iterable[Row]) -> Changes:
        """Why the costs behind these rows changed."""
        return changes(self.root, repricing, rows)

    def picture(self, product: Product) -> bytes | None:
        """The JPEG of a product, or None."""
        with self._lock:
            if self._pictures is None or len(self._pictures.notes) > 1000:
                self._pictures = Pictures(self.root)
            pictures = self._pictures
        return pictures.of(product)

    def scratch(self) -> Path:
        """A folder that is swept away when the page is closed."""
        with self._lock:
            if self._scratch is None:
                self._scratch = tempfile.TemporaryDirectory(prefix="troytag-page-")
            return Path(self._scratch.name)

    def keep(self, upload: Upload) -> None:
        """Keep an uploaded mesh; the oldest of too many go."""
        with self._lock:
            self.uploads[upload.key] = upload
            while len(self.uploads) > MOST_MESHES:
                _, gone = self.uploads.popitem(last=False)
                gone.path.unlink(missing_ok=True)

    def note(self, sentence: str) -> None:
        """Tell on the next view what was done."""
        with self._lock:
            self._note = sentence

    def noted(self) -> str:
        """What was noted, once."""
        with self._lock:
            sentence, self._note = self._note, ""
            return sentence

    def close(self) -> None:
        with self._lock:
            if self._scratch is not None:
                self._scratch.cleanup()
                self._scratch = None


def stamp_of(root: Path, meshes: Iterable[str] = ()) -> Stamp:
    """What lies in the folder that prices may come from: cheap to ask before every answer.

    `meshes` are folders in which meshes lie, relative to `root`.
    """
    found = []
    parts: dict[str, tuple[str, ...]] = dict.fromkeys(meshes, ())
    parts |= {"": (".toml", ".csv"), "products": (".toml",), EDITIONS: (".json",)}
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


def faults_of(error: TroytagError) -> list:
    """The faults that an error carries; none where it is a sentence by itself."""
    return list(error.faults) if isinstance(error, Faults) else []
