"""What has been read of a folder, on the way from files to one whole: models, names, and where all of it stands."""

from __future__ import annotations

import os
from collections.abc import Collection, Iterator
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any, Literal

from pricing.errors import Fault, Place
from pricing.folder.build_models import key_of
from pricing.folder.files import PRICES_FILE, PROCESSES_FILE
from pricing.folder.inherit import Applied, circles, inherited
from pricing.folder.memory import Memory
from pricing.folder.prices.history import PriceLines
from pricing.folder.stated_at import DEFINED
from pricing.folder.toml.places import Document, KeyPath
from pricing.model.alloy import Alloy
from pricing.model.channel import Channel, Ladder
from pricing.model.doubt import Doubt
from pricing.model.process import Step
from pricing.model.product import Product
from pricing.model.quote import Quote
from pricing.model.refiner import Refiner
from pricing.model.workshop import Workshop


@dataclass
class Documents:
    """The files that could be read as TOML, and which product stands in which of them.

    `to_come` are files that are taken to stand there, since they shall be written together with what is read.
    """

    root: Path
    by_file: dict[str, Document] = field(default_factory=dict)
    prices: PriceLines | None = None
    product_files: dict[str, str] = field(default_factory=dict)
    likes: dict[str, str] = field(default_factory=dict)
    to_come: frozenset[str] = frozenset()
    _real_folders: dict[Path, Path] = field(default_factory=dict)
    # The plain files of folders that are named, where these lie in this one; they may be written otherwise elsewhere.
    _plain_files: dict[str, frozenset[str]] = field(default_factory=dict)

    def is_plainly_there(self, name: str) -> bool:
        """Whether a name is that of a plain file in the folder, in so many words: no links, no way up, no blanks of it.

        Most names are; of any other nothing is said.
        """
        parts = name.split("/")
        if "\\" in name or ":" in name or not all(parts) or {".", ".."} & {*parts}:
            return False
        above, _, base = name.rpartition("/")
        if above not in self._plain_files:
            self._plain_files[above] = self._plain_files_of(self.root / above)
        return base in self._plain_files[above]

    def _plain_files_of(self, folder: Path) -> frozenset[str]:
        """The plain files of a folder; none of one that lies elsewhere."""
        try:
            if not self._real(folder).is_relative_to(self._real(self.root)):
                return frozenset()
            with os.scandir(folder) as entries:
                return frozenset(entry.name for entry in entries if entry.is_file(follow_symlinks=False))
        except (OSError, ValueError, RuntimeError):
            return frozenset()

    def is_inside(self, name: str) -> bool:
        """Whether a name leads to something in the folder, links followed. Raises what following them raises."""
        path = self.root / name
        if path.name == ".." or path.is_symlink():
            return path.resolve().is_relative_to(self._real(self.root))
        return self._real(path.parent).is_relative_to(self._real(self.root))

    def _real(self, folder: Path) -> Path:
        if folder not in self._real_folders:
            self._real_folders[folder] = folder.resolve()
        return self._real_folders[folder]

    def place(self, file: str, path: KeyPath = (), at: Literal["key", "value"] = "value") -> Place:
        """Where `path` stands in `file`, or in the file of a product from which this one takes it by `like`.

        In the price history a path is a line and the name of a column.
        """
        if file == PRICES_FILE and self.prices is not None:
            return self.prices.at(path)
        document = self.by_file.get(file)
        if document is None:
            return Place(file)
        if path and not document.stands(path):
            for other in self._taken_from(document):
                if other.stands(path):
                    return other.place(path, at)
        return document.place(path, at)

    def stands(self, file: str, path: KeyPath) -> bool:
        """Whether `path` is written in `file`, or where this product takes it from."""
        document = self.by_file.get(file)
        return document is not None and any(other.stands(path) for other in (document, *self._taken_from(document)))

    def fault(self, file: str, path: KeyPath, problem: str, mend: str, *, at: Literal["key", "value"] = "value",
              other: tuple[Place, ...] = ()) -> Fault:  # fmt: skip
        """A fault at this path of this file."""
        document = self.by_file.get(file)
        key = key_of(document, path) if document else ""
        if file == PRICES_FILE:
            key = ".".join(part for part in path if isinstance(part, str))  # the number of the line is in its place
        return Fault(self.place(file, path, at), key, problem, mend, other)

    def _taken_from(self, document: Document) -> Iterator[Document]:
        sku = document.values.get("sku")
        seen: set[Any] = set()
        while isinstance(sku, str) and sku in self.likes and sku not in seen:
            seen.add(sku)
            sku = self.likes[sku]
            file = self.product_files.get(sku)
            if file is not None:
                yield self.by_file[file]


@dataclass
class Parts:
    """Everything that could be read, whole or not.

    `names` holds every name of a kind that is written anywhere, also of things that are faulty; None where its
    file could not be read, so that nobody can say whether a name exists. `halves` holds the keys of each
    product that were stated and refused, by the sku of those that have some.
    """

    documents: Documents
    workshop: Workshop | None = None
    alloys: dict[str, Alloy] = field(default_factory=dict)
    processes: dict[str, tuple[Step, ...]] = field(default_factory=dict)
    channels: dict[str, Channel] = field(default_factory=dict)
    ladder: Ladder | None = None
    products: dict[str, Product] = field(default_factory=dict)
    quotes: tuple[Quote, ...] = ()
    refiners: dict[str, Refiner] = field(default_factory=dict)
    doubts: dict[str, Doubt] = field(default_factory=dict)
    names: dict[str, Collection[str] | None] = field(default_factory=dict)
    halves: dict[str, set[str]] = field(default_factory=dict)
    all_products_read: bool = True
    all_quotes_read: bool = True
    memory: Memory = field(default_factory=Memory)
    _step_names: dict[str, list[str] | None] = field(default_factory=dict)

    @property
    def applied(self) -> Applied:
        """Products and steps with their figures in an alloy, each put together once."""
        return self.memory.applied

    def names_in_files(self) -> None:
        """Fill `names` with what the files define."""
        for kind, (file, table) in DEFINED.items():
            document = self.documents.by_file.get(file)
            values = document.values.get(str(table[0]), {}) if document else None
            self.names[kind] = dict.fromkeys(values) if isinstance(values, dict) else None
        self.names["product"] = dict.fromkeys(self.documents.product_files)

    def step_names(self, process: str) -> list[str] | None:
        """The steps that a process has, whether or not all of it is right; None where nobody can say."""
        if process not in self._step_names:
            self._step_names[process] = self._named_steps(process)
        return self._step_names[process]

    def _named_steps(self, process: str) -> list[str] | None:
        if process not in (self.names["process"] or ()):
            return None
        steps = self.documents.by_file[PROCESSES_FILE].values["processes"][process]
        if not isinstance(steps, list):
            return None
        names = [step.get("name") if isinstance(step, dict) else None for step in steps]
        known = [name for name in names if isinstance(name, str)]
        return known if len(known) == len(names) else None

    @cached_property
    def whole(self) -> dict[str, Product]:
        """Every product with `like` applied, by sku; without those whose chain of likes is broken or a circle."""
        reached = dict.fromkeys((sku for circle in circles(self.products) for sku in circle), False)
        for sku in self.products:
            chain = []
            here: str | None = sku
            while here is not None and here not in reached:
                if here not in self.products:
                    reached[here] = False
                    break
                chain.append(here)
                here = self.products[here].like
            reached.update(dict.fromkeys(chain, here is None or reached[here]))
        return inherited({sku: product for sku, product in self.products.items() if reached[sku]}, self.memory.over)

    def unsure(self, sku: str) -> set[str]:
        """Keys of which nobody can say what they are once `like` is applied, since they were refused somewhere."""
        keys: set[str] = set()
        if not self.halves:
            return keys
        stated: set[str] = set()
        here: str | None = sku
        while here is not None:
            keys |= self.halves.get(here, set()) - stated
            product = self.products[here]
            stated |= product.model_fields_set - {"steps", "for_alloy", "in_channel"}
            here = product.like
        return keys
