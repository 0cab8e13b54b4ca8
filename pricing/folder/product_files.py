"""The folder `products/`: which of its entries are products, and which look as if they were meant to be."""

from __future__ import annotations

import os
from collections.abc import Iterator
from pathlib import Path

from pricing.errors import Fault, Place
from pricing.folder.gathered import Parts
from pricing.folder.toml.text import whole_file

FOLDER = "products"
_ENDING = ".toml"


def product_files(root: Path) -> list[str]:
    """Names of the product files, relative to the folder, in alphabetical order; none where there is no `products`.

    Raises Faults where `products` stands for something that is no folder, or that cannot be looked into.
    """
    return sorted(f"{FOLDER}/{name}" for name in _entries(root) if _is_product(name))


def products_folder_warnings(parts: Parts) -> Iterator[Fault]:
    """Files that a maker may take for products and that are not read, and a workshop without any product."""
    root = parts.documents.root
    for name in sorted(_entries(root)):
        if name.startswith(".") or _is_product(name):
            continue
        if name.lower().endswith((_ENDING, f"{_ENDING}.txt")):
            bare = name[: name.lower().index(_ENDING)]
            yield Fault(
                Place(f"{FOLDER}/{name}"), "", "this file is not read as a product", f"Name it {bare}{_ENDING}."
            )
        elif found := _products_in(root / FOLDER / name):
            problem = f"products in a folder of their own are not read ({', '.join(found[:3])}"
            problem += f" and {len(found) - 3} more)" if len(found) > 3 else ")"
            yield Fault(Place(f"{FOLDER}/{name}"), "", problem, f"Put them into {FOLDER} itself, if you sell them.")
    if not parts.products:
        mend = f"Add a file for one, such as {FOLDER}/acorn-knob.toml."
        yield Fault(Place(FOLDER), "", "there is no product yet", mend)


def _is_product(name: str) -> bool:
    return name.endswith(_ENDING) and not name.startswith(".")


def _products_in(path: Path) -> list[str]:
    try:
        return sorted(name for name in os.listdir(path) if _is_product(name)) if path.is_dir() else []
    except OSError:
        return []


def _entries(root: Path) -> list[str]:
    path = root / FOLDER
    if not os.path.lexists(path):
        return []
    try:
        return os.listdir(path)
    except FileNotFoundError:
        raise whole_file(FOLDER, "it is a link that leads nowhere", "Put the folder of the products here.") from None
    except NotADirectoryError:
        raise whole_file(FOLDER, "a folder belongs here", "Put the products in a folder.") from None
    except PermissionError:
        raise whole_file(FOLDER, "this folder may not be read", "Give yourself leave to read it.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise whole_file(
            FOLDER, f"this folder cannot be read ({reason})", "See what stands there, and whether the disk is there."
        ) from None
