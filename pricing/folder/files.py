"""The files of a workshop folder: THE list of them, with what stands in each and what it is for.

Whoever reads a folder, writes to it, begins one, shows its files, publishes their schemas or says in which of them
something stands goes by this list. A product has a file of its own in the folder of the products.
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel, RootModel

from pricing.model.product import Product
from pricing.model.quote import Quote
from pricing.model.stated import AlloysFile, ChannelsFile, DoubtsFile, ProcessesFile, RefinersFile, Stated
from pricing.model.workshop import Workshop
from pricing.several_files import JOURNAL

WORKSHOP_FILE = "workshop.toml"
PRICES_FILE = "metal_prices.csv"
ALLOYS_FILE = "alloys.toml"
PROCESSES_FILE = "processes.toml"
CHANNELS_FILE = "channels.toml"
DOUBTS_FILE = "doubts.toml"
REFINERS_FILE = "refiners.toml"
PRODUCTS_FOLDER = "products"
TOML = ".toml"


@dataclass(frozen=True)
class FolderFile:
    """One file of the folder: its name, the model of what stands in it (of a line, where it is a table), its purpose.

    `whole` is the part of the stated model that all of it is; without it each key of the model is a part by itself.
    """

    name: str
    model: type[BaseModel]
    purpose: str
    whole: str = ""
    may_be_missing: bool = False

    @property
    def is_toml(self) -> bool:
        return self.name.endswith(TOML)

    @property
    def is_one(self) -> bool:
        """Whether there is one of it, and not one for each product."""
        return "*" not in self.name

    @property
    def schema_name(self) -> str:
        """What its JSON Schema is called."""
        return self.name.removesuffix(TOML) if self.is_one else "product"

    @property
    def parts(self) -> Mapping[str, tuple[str, ...]]:
        """The parts of the stated model that are written in it, and under which keys."""
        return {self.whole: ()} if self.whole else {key: (key,) for key in self.model.model_fields}

    def parts_of(self, model: Any) -> dict[str, Any]:
        """The same parts, of what was read of the file."""
        if self.whole:
            return {self.whole: model.root if isinstance(model, RootModel) else model}
        return dict(model)


#: Every file, in the order in which a maker fills them in.
FILES: tuple[FolderFile, ...] = (
    FolderFile(WORKSHOP_FILE, Workshop, "hours, overhead, machines, materials, flasks", "workshop"),
    FolderFile(PRICES_FILE, Quote, "what metal cost, and when", "quotes"),
    FolderFile(ALLOYS_FILE, AlloysFile, "what is poured or cut"),
    FolderFile(PROCESSES_FILE, ProcessesFile, "how a piece is made, step by step"),
    FolderFile(f"{PRODUCTS_FOLDER}/*{TOML}", Product, "what is made, a design in each", "products"),
    FolderFile(CHANNELS_FILE, ChannelsFile, "where it is sold, and what to ask"),
    FolderFile(REFINERS_FILE, RefinersFile, "what refiners pay for scrap", may_be_missing=True),
    FolderFile(DOUBTS_FILE, DoubtsFile, "how sure the figures are", "doubts", may_be_missing=True),
)
#: Those of them that are one TOML file each.
TOML_FILES: Mapping[str, FolderFile] = MappingProxyType(
    {each.name: each for each in FILES if each.is_toml and each.is_one}
)
#: In which file each part of the stated model is written, and under which keys there.
FILE_OF: Mapping[str, tuple[str, tuple[str, ...]]] = MappingProxyType(
    {part: (each.name, path) for each in FILES for part, path in each.parts.items() if part in Stated.model_fields}
)


def is_begun(root: Path) -> bool:
    """Whether any file of a workshop lies in a folder, or a change that was interrupted."""
    names = [*(each.name for each in FILES if each.is_one), PRODUCTS_FOLDER, JOURNAL]
    return any(os.path.lexists(root / name) for name in names)


def is_product_file(file: str) -> bool:
    """Whether a name, relative to the folder, is that of a product's file."""
    folder, slash, entry = file.partition("/")
    return bool(slash) and folder == PRODUCTS_FOLDER and is_product_entry(entry) and not {"/", "\\"} & {*entry}


def is_product_entry(name: str) -> bool:
    """Whether an entry of the folder of products is the file of a product."""
    return name.endswith(TOML) and not name.startswith(".")


def described(file: str) -> FolderFile:
    """The line of the list that a file of the folder goes by. Raises KeyError for a file that is none of them."""
    by_name = {each.name: each for each in FILES}
    return by_name[f"{PRODUCTS_FOLDER}/*{TOML}" if is_product_file(file) else file]
