"""The folder `products/`: which of its entries are products, and which look as if they were meant to be."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from pricing.errors import Fault, Place
from pricing.folder.files import PRODUCTS_FOLDER, TOML, is_product_entry
from pricing.folder.gathered import Parts
from pricing.folder.toml.text import whole_file

#: A folder of fewer products is read and costed in no time; to ask where the cache lies takes as long.
LEAST_REMEMBERED = 60


def are_many(root: Path) -> bool:
    """Whether a workshop folder has so many products that something of it is remembered."""
    try:
        found = len(os.listdir(root / PRODUCTS_FOLDER))
    except OSError:  # told where its files are read
        found = 0
    return found >= LEAST_REMEMBERED


def product_files(root: Path) -> list[str]:
    """Names of the product files, relative to the folder, in alphabetical order; none where there is no `products`.

    Raises Faults where `products` stands for something that is no folder, or that cannot be looked into.
    """
    return sorted(f"{PRODUCTS_FOLDER}/{name}" for name in _entries(root) if is_product_entry(name))


def products_folder_warnings(parts: Parts) -> Iterator[Fault]:
    """Files that a maker may take for products and that are not read, and a workshop without any product."""
    root = parts.documents.root
    for name in sorted(_entries(root)):
        if name.startswith(".") or is_product_entry(name):
            continue
        if name.lower().endswith((TOML, f"{TOML}.txt")):
            bare = name[: name.lower().index(TOML)]
            yield Fault(
                Place(f"{PRODUCTS_FOLDER}/{name}"), "", "this file is not read as a product", f"Name it {bare}{TOML}."
            )
        elif found := _products_in(root / PRODUCTS_FOLDER / name):
            problem = f"products in a folder of their own are not read ({', '.join(found[:3])}"
            problem += f" and {len(found) - 3} more)" if len(found) > 3 else ")"
            yield Fault(
                Place(f"{PRODUCTS_FOLDER}/{name}"),
                "",
                problem,
                f"Put them into {PRODUCTS_FOLDER} itself, if you sell them.",
            )
    if not parts.products:
        mend = f"Add a file for one, such as {PRODUCTS_FOLDER}/acorn-knob.toml."
        yield Fault(Place(PRODUCTS_FOLDER), "", "there is no product yet", mend)


def _products_in(path: Path) -> list[str]:
    try:
        return sorted(name for name in os.listdir(path) if is_product_entry(name)) if path.is_dir() else []
    except OSError:
        return []


def _entries(root: Path) -> list[str]:
    path = root / PRODUCTS_FOLDER
    if not os.path.lexists(path):
        return []
    try:
        return os.listdir(path)
    except FileNotFoundError:
        raise whole_file(
            PRODUCTS_FOLDER, "it is a link that leads nowhere", "Put the folder of the products here."
        ) from None
    except NotADirectoryError:
        raise whole_file(PRODUCTS_FOLDER, "a folder belongs here", "Put the products in a folder.") from None
    except PermissionError:
        raise whole_file(PRODUCTS_FOLDER, "this folder may not be read", "Give yourself leave to read it.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise whole_file(
            PRODUCTS_FOLDER,
            f"this folder cannot be read ({reason})",
            "See what stands there, and whether the disk is there.",
        ) from None
