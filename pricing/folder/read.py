"""Reading a workshop folder: plain files to stated models, every fault of every file at once."""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal

from pydantic import BaseModel

from pricing.collecting import uncollected
from pricing.errors import Fault, Faults, Place, no_folder, not_begun
from pricing.folder.build_models import salvaged
from pricing.folder.checks import between_files as sense
from pricing.folder.checks.copies import are_copies
from pricing.folder.checks.remembered import CheckedFolder
from pricing.folder.files import DOUBTS_FILE, PRICES_FILE, TOML_FILES, is_begun, is_product_file
from pricing.folder.gathered import Documents, Parts
from pricing.folder.inherit import Applied, Piece, inherited, pieces, with_sizes
from pricing.folder.kept import Marks, marks_of
from pricing.folder.memory import Memory
from pricing.folder.prices.history import PriceLines, read_quotes
from pricing.folder.product_files import are_many, product_files
from pricing.folder.toml.places import Document, KeyPath
from pricing.folder.toml.quickly import loads
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.model.product import Product
from pricing.model.stated import Stated
from pricing.several_files import finish


@dataclass(frozen=True, repr=False)
class Folder:
    """A workshop folder as it was read: without faults, though perhaps with warnings.

    `hashes` holds the content hash of every file that was read, by its name relative to the folder.
    """

    root: Path
    stated: Stated
    warnings: tuple[Fault, ...]
    documents: Documents
    hashes: Mapping[str, str] = field(default_factory=dict)

    def __repr__(self) -> str:
        return f"<workshop folder {self.root}: {len(self.stated.products)} products, {len(self.warnings)} warnings>"

    def place(self, file: str, path: KeyPath = (), at: Literal["key", "value"] = "value") -> Place:
        """Where `path` stands in `file` (relative to the folder), for a fault or a warning about it.

        What a product takes from another by `like` is placed where it stands. What stands nowhere is placed
        at the nearest table around it.
        """
        return self.documents.place(file, path, at)

    def product_file(self, sku: str) -> str:
        """The file of this product, or of the one whose size has this sku, relative to the folder."""
        files = self.documents.product_files
        return files[sku] if sku in files else files[self.pieces[sku].product.sku]

    @cached_property
    def products(self) -> dict[str, Product]:
        """Every product by its sku, with `like` applied."""
        return inherited(self.stated.products)

    @cached_property
    def pieces(self) -> dict[str, Piece]:
        """Everything that a part may be, by the name that a finding calls it by."""
        return pieces(self.products)

    @cached_property
    def goods(self) -> dict[str, Product]:
        """Everything by the name that it is sold under: products, and sizes that are each priced."""
        return with_sizes(self.products)

    def called(self, sku: str, alloy: str) -> tuple[str, str]:
        """What the maker calls a product and its alloy; their own words where they are not stated any more."""
        product, stated = self.goods.get(sku) or self.products.get(sku), self.stated.alloys.get(alloy)
        return product.name if product else sku, stated.name if stated else alloy

    @cached_property
    def applied(self) -> Applied:
        """Products and steps with their figures in an alloy, each put together once."""
        return Applied()


@uncollected()
def read_folder(
    root: Path, instead: Mapping[str, bytes] = MappingProxyType({}), memory: Memory | None = None
) -> Folder:
    """The folder at `root`; Faults with everything that is wrong in it, in the order of files and lines.

    `instead` holds the content of files as they shall be, by their names: the folder is read as if they were
    written already. Raises UsageFault where there is no such folder, or nothing of a workshop in it. Editions, logs,
    meshes and pictures are not opened. A change of several files that was interrupted is finished first, which is told
    among the warnings. With the `memory` of an earlier reading only what has changed since is read and checked anew;
    the folder is as it would be without.
    """
    if not os.path.isdir(root):  # unlike the path's own question, it takes a refusal for a no
        raise no_folder(root)
    if not instead and not is_begun(root):
        raise not_begun(root)
    finished = finish(root)
    return _folder_of(_Reading(root, instead, memory), finished, memory is None)


def _folder_of(reading: _Reading, finished: Sequence[Fault], may_know: bool) -> Folder:
    """The folder as it is read now; Faults with everything that is wrong in it.

    `may_know`: what was found in the very same files before is taken from there, and kept for later.
    """
    reading.read()
    parts, faults = reading.parts, reading.faults
    checked = CheckedFolder(reading.root, reading.hashes)
    known = checked.warnings() if may_know and not faults else None
    faults += sense.faults(parts) if known is None else sense.faults_of_the_day(parts)
    if faults or parts.workshop is None:
        raise Faults(_in_order(faults))
    if known is None:
        known = list(sense.warnings(parts))
        if may_know:
            checked.keep(known)
    stated = Stated.model_construct(**{part: getattr(parts, part) for part in Stated.model_fields})  # all is checked
    warnings = _in_order([*known, *sense.warnings_of_the_day(parts)])
    folder = Folder(reading.root, stated, (*finished, *warnings), parts.documents, reading.hashes)
    folder.__dict__.update(products=parts.whole, applied=parts.applied)  # put together for the checks already
    return folder


@dataclass(frozen=True)
class _FileRead:
    """What came of the content of a file: its document and model as far as they could be had, and what is wrong."""

    marks: Marks | None
    content_hash: str
    document: Any = None
    model: Any = None
    faults: tuple[Fault, ...] = ()
    taken_out: frozenset[KeyPath] = frozenset()


class _Reading:
    """One reading of a folder: fills `parts` and `faults`."""

    def __init__(self, root: Path, instead: Mapping[str, bytes], memory: Memory | None):
        self.root = root
        self.instead = instead
        self.hashes: dict[str, str] = {}
        self.is_read_again = memory is not None
        self.loads = loads if are_many(root) else None  # to have the quick one ready takes as long as a few files do
        self.memory = memory if memory is not None else Memory()
        self.parts = Parts(Documents(root, to_come=frozenset(instead)), memory=self.memory)
        self.faults: list[Fault] = []
        self.memory.begin_reading()

    def read(self) -> None:
        for name, file in TOML_FILES.items():
            if file.may_be_missing and name not in self.instead and not os.path.lexists(self.root / name):
                continue
            read = self._toml(name, file.model, *([_unquoted_paths] if name == DOUBTS_FILE else []))
            if read is not None and read.model is not None:
                for part, value in file.parts_of(read.model).items():
                    setattr(self.parts, part, value)
        self._quotes()
        self._products()
        self.parts.names_in_files()

    def _read(self, file: str, build: Callable[[str, str], _FileRead]) -> _FileRead:
        """What comes of a file, by `build` of its text and its hash: as before, where it has the very same content.

        Raises Faults where its content cannot be had.
        """
        known: _FileRead | None = self.memory.files.get(file)
        marks = marks_of(self.root / file) if self.is_read_again and file not in self.instead else None
        if known is None or marks is None or marks != known.marks:
            content = self.instead[file] if file in self.instead else read_content(self.root, file)
            name = content_hash(content)
            if known is not None and known.content_hash == name:
                known = replace(known, marks=marks)
            else:
                known = build(decoded(file, content), name)
                known = known if marks is None else replace(known, marks=marks)
            self.memory.files.put(file, known)
        self.hashes[file] = known.content_hash
        return known

    def _toml(
        self, file: str, model: type[BaseModel], first: Callable[[Document], list[Fault]] = lambda document: []
    ) -> _FileRead | None:
        """A file's document and model; what `first` finds wrong in the document goes before, and stands in the way.

        None where it could not be read as TOML.
        """

        def build(text: str, name: str) -> _FileRead:
            found = None
            try:
                found = document(file, text, self.loads)
                if wrong := first(found):
                    raise Faults(wrong)
            except Faults as wrong:
                return _FileRead(None, name, found, faults=wrong.faults)
            salvage = salvaged(model, found)
            return _FileRead(
                None, name, found, salvage.model, tuple(salvage.faults), frozenset(salvage.taken_out)
            )  # fmt: skip

        try:
            read = self._read(file, build)
        except Faults as wrong:
            self.faults += wrong.faults
            return None
        self.faults += read.faults
        if read.document is None:
            return None
        self.parts.documents.by_file[file] = read.document
        return read

    def _quotes(self) -> None:
        def build(text: str, name: str) -> _FileRead:
            lines = PriceLines(text)
            quotes, wrong_lines = read_quotes(lines)
            return _FileRead(None, name, lines, quotes, tuple(wrong_lines))

        try:
            read = self._read(PRICES_FILE, build)
        except Faults as wrong:
            self.faults += wrong.faults
            self.parts.all_quotes_read = False
            return
        self.parts.documents.prices, self.parts.quotes = read.document, read.model
        self.faults += read.faults
        self.parts.all_quotes_read = not read.faults

    def _products(self) -> None:
        parts, documents = self.parts, self.parts.documents
        named = {file for file in self.instead if is_product_file(file)}
        try:
            named |= set(product_files(self.root))
        except Faults as wrong:
            self.faults += wrong.faults
            parts.all_products_read = False
        for file in sorted(named):
            read = self._toml(file, Product)
            sku = read.document.values.get("sku") if read else None
            if read is None or not isinstance(sku, str):
                parts.all_products_read = False
                continue
            if sku in documents.product_files:
                first = documents.place(documents.product_files[sku], ("sku",))
                mend = "Give one of them another sku."
                if are_copies(file, documents.product_files[sku]):
                    mend = "One looks like a copy that a synced drive has put beside: compare them, then delete one."
                problem = f'another product has the sku "{sku}" already'
                self.faults.append(documents.fault(file, ("sku",), problem, mend, other=(first,)))
                continue
            documents.product_files[sku] = file
            if read.model is not None:
                parts.products[sku] = read.model
                if read.taken_out:
                    parts.halves[sku] = {str(path[0]) for path in read.taken_out}
                if read.model.like is not None:
                    documents.likes[sku] = read.model.like


def _unquoted_paths(doubts: Document) -> list[Fault]:
    """Paths of figures that stand without their quotes: TOML takes them for tables in each other."""
    mend = 'Put the whole path in quotes: "labour.bench.rate" = { low = 20, high = 28 }.'
    return [
        Fault(doubts.place((key,), "key"), key, "a path of a figure stands without its quotes here", mend)
        for key, value in doubts.values.items()
        if isinstance(value, dict) and any(isinstance(inner, dict) for inner in value.values())
    ]


def _in_order(faults: Iterable[Fault]) -> list[Fault]:
    """Each fault once, by file, line and column."""
    once = {(str(fault.place), fault.key, fault.problem): fault for fault in reversed(list(faults))}
    return sorted(once.values(), key=_order)


def _order(fault: Fault) -> tuple[str, int, int, str]:
    return (fault.place.file, fault.place.line or 0, fault.place.column or 0, fault.problem)
