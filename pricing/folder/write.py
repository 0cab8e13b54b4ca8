"""Writing back to a workshop folder: comments, order and the spelling of numbers stay as a person wrote them.

What would not be read again is never written, and what somebody else has written meanwhile is never lost.
"""

from __future__ import annotations

import codecs
import json
import os
import re
from collections.abc import Iterable, Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

from pricing.errors import Fault, Faults, Place
from pricing.folder.files import DOUBTS_FILE, PRODUCTS_FOLDER, TOML_FILES, described, is_product_file
from pricing.folder.read import read_folder
from pricing.folder.schema import FOLDER, editor_line
from pricing.folder.toml.edits import Drop, Edit, Insert, Put, changed
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.folder.whole_files import changed_meanwhile, hash_of, held, put_in_places
from pricing.model.product import Product

__all__ = ["Drop", "Edit", "Insert", "Put", "change_file", "hash_of", "new_product", "product_text", "with_edits"]

#: Names that Windows keeps for devices, whatever ending they have.
_DEVICE = re.compile(r"CON|PRN|AUX|NUL|(?:COM|LPT)[0-9¹²³]", re.IGNORECASE)
#: Most letters of a file's name: of four bytes each they fit every file system, with a mark beside it while writing.
MOST_LETTERS = 50
_NOT_IN_FILE_NAMES = re.compile(r"[^\w-]+")


def change_file(
    root: Path, file: str, edits: Iterable[Edit], expected: str | None, also: Mapping[str, bytes] = MappingProxyType({})
) -> str:
    """Make these edits, in their order, in a TOML file of the folder; gives the content hash of the new file.

    `expected` is the content hash of the file as the caller read it (`Folder.hashes`), None for a file that is not
    there yet; `also` holds new files that come with it, such as meshes, all or none. A doubt whose figure is stated no
    more goes with it. Raises Faults, and then nothing has been written: where the file is another one by now, where an
    edit finds nothing to work on, and where the folder would have a fault that it does not have now.
    """
    with held(root):
        content = read_content(root, file) if (root / file).exists() else b""
        if (content_hash(content) if (root / file).exists() else None) != expected:
            raise changed_meanwhile(file)
        new = with_edits(file, content, edits)
        doubts = _without_lost_doubts(root, {file: new, **also})
        before = {file: expected, **({DOUBTS_FILE: hash_of(root, DOUBTS_FILE)} if doubts else {})}
        put_in_places(root, {**also, file: new, **doubts}, {**dict.fromkeys(also), **before}, f"saving {file}")
    return content_hash(new)


def with_edits(file: str, content: bytes, edits: Iterable[Edit]) -> bytes:
    """The bytes of a TOML file with these edits made in them. Raises Faults as `change_file` does for one edit."""
    if file not in TOML_FILES and not is_product_file(file):
        raise Faults([Fault(Place(file), "", "this is no TOML file of a workshop folder", "Name one of its files.")])
    mark = codecs.BOM_UTF8 if content.startswith(codecs.BOM_UTF8) else b""
    text = decoded(file, content)
    return mark + changed(document(file, text), text.encode(), edits)


def new_product(
    root: Path, product: Product | Mapping[str, Any], also: Mapping[str, bytes] = MappingProxyType({})
) -> str:
    """Write the file of a new product, and `also` new files that come with it; gives its name relative to the folder.

    A Product is written as it was stated; of a mapping every key, in the order of the model. Numbers as Decimal keep
    their digits. Raises Faults where its sku is taken, and where the folder would have a fault with it.
    """
    values = product.model_dump(exclude_unset=True, by_alias=True) if isinstance(product, Product) else product
    file, new = product_text(root, values)
    with held(root):
        if (root / file).exists():
            mend = "Give the new product another sku, or change that file."
            raise Faults([Fault(Place(file), "", "this file stands already", mend)])
        _check(root, {file: new, **also})
        put_in_places(root, {**also, file: new}, dict.fromkeys([*also, file]), f"saving {file}")
    return file


def product_text(root: Path, product: Mapping[str, Any], taken: Iterable[str] = ()) -> tuple[str, bytes]:
    """The file of a new product, by its sku, and what would stand in it: its keys in the order of the model."""
    order = [*Product.model_fields, *product]
    values = {key: product[key] for key in sorted(product, key=order.index)}
    sku = str(values.get("sku", ""))
    file = f"{PRODUCTS_FOLDER}/{file_name(root, sku, taken)}.toml"
    schema = root / FOLDER / f"{described(file).schema_name}.json"
    begun = f"{editor_line(file)}\n".encode() if schema.is_file() else b""
    return file, with_edits(file, begun, [Put((), values)])


def file_name(root: Path, sku: str, taken: Iterable[str] = ()) -> str:
    """The name, without its ending, of the file of a new product: one that every system can have beside the others.

    Signs that a system forbids become dashes; a name that Windows keeps for a device gets a word before it, one that
    differs from another file's (in the folder, or among the files `taken`) in capitals alone gets a number behind it,
    and a very long one is cut.
    """
    name = _NOT_IN_FILE_NAMES.sub("-", sku).strip("-")[:MOST_LETTERS].strip("-") or "product"
    if _DEVICE.fullmatch(name):
        name = f"product-{name}"
    folder = root / PRODUCTS_FOLDER
    names = [*(os.listdir(folder) if folder.is_dir() else ()), *(Path(file).name for file in taken)]
    others = {other.casefold(): other for other in names}
    own, number = name, 1
    while others.get(f"{own}.toml".casefold(), f"{own}.toml") != f"{own}.toml":
        number += 1
        own = f"{name}-{number}"
    return own


def _check(root: Path, contents: Mapping[str, bytes]) -> None:
    """Raise the faults that the folder would have with these files and does not have now."""
    if new := _new_faults(root, contents):
        raise Faults(new)


def _new_faults(root: Path, contents: Mapping[str, bytes]) -> list[Fault]:
    try:
        read_folder(root, contents)
    except Faults as after:
        try:
            read_folder(root)
            known: set[tuple[str, str, str]] = set()
        except Faults as before:
            known = {(fault.place.file, fault.key, fault.problem) for fault in before.faults}
        return [fault for fault in after.faults if (fault.place.file, fault.key, fault.problem) not in known]
    return []


def _without_lost_doubts(root: Path, contents: Mapping[str, bytes]) -> dict[str, bytes]:
    """doubts.toml without the doubts whose figures these files state no more; empty where none is lost.

    Raises Faults as `_check` does for everything else.
    """
    new = _new_faults(root, contents)
    lost = [fault.key for fault in new if fault.place.file == DOUBTS_FILE and DOUBTS_FILE not in contents]
    if not lost:
        if new:
            raise Faults(new)
        return {}
    drops = [Drop((json.loads(key) if key.startswith('"') else key,)) for key in lost]
    doubts = {DOUBTS_FILE: with_edits(DOUBTS_FILE, read_content(root, DOUBTS_FILE), drops)}
    _check(root, {**contents, **doubts})
    return doubts
