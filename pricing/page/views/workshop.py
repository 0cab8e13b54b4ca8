"""The view of the workshop: all that the prices come from, part by part, each leading to where it is changed."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote

from pydantic import BaseModel
from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import Faults, TroytagError
from pricing.folder.files import FILES, PRODUCTS_FOLDER, TOML, is_begun, is_product_entry
from pricing.folder.toml.places import Document, KeyPath
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import decoded, read_content
from pricing.model.product import Product
from pricing.page.forms.fields import FormSection
from pricing.page.forms.parts import sections_of
from pricing.page.forms.worded import key_in_words
from pricing.page.framing import bare_frame, frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import faulty
from pricing.page.workspace import Workspace, leads_inside
from pricing.studies.doubt.figures import in_words

#: Products of the list on one page.
MOST_FILES = 200


@dataclass(frozen=True)
class PartLink:
    """A part of a file: what it is called, where it is changed, and whether it is open."""

    word: str
    address: str
    is_open: bool


@dataclass(frozen=True)
class SectionLinks:
    """Parts of a file that belong together: `head` over them, "" for a part by itself; `add` begins a further one."""

    head: str
    parts: tuple[PartLink, ...]
    add: str
    adds_open: bool


@dataclass(frozen=True)
class FileInWords:
    """One file: its title and purpose, its parts; `trouble` says what keeps it from being read."""

    title: str
    purpose: str
    file: str
    address: str
    links: tuple[SectionLinks, ...]
    trouble: str


@dataclass(frozen=True)
class WorkshopContext:
    """All files; of `count` products that match `query` those on the page, by name and file."""

    frame: Frame
    files: tuple[FileInWords, ...]
    products: tuple[tuple[str, str], ...]
    query: str
    count: int


def workshop(request: Request) -> Response:
    """GET /edit?query=…"""
    workspace: Workspace = request.app.state.workspace
    query = request.query_params.get("query", "").strip()[:120]
    try:
        look = workspace.look()
        around = frame(workspace, look, "edit", "Workshop")
        names = {look.costing.folder.product_file(sku): each.name for sku, each in look.products.items()
                 if sku in look.costing.folder.stated.products}  # fmt: skip
    except TroytagError as error:
        if not is_begun(workspace.root):
            return faulty(request, error)
        around, names = bare_frame(workspace, "edit", "Workshop"), {}
    folder = workspace.root / PRODUCTS_FOLDER
    files = (
        [f"{PRODUCTS_FOLDER}/{each.name}" for each in folder.iterdir() if is_product_entry(each.name)]
        if (folder.is_dir())
        else []
    )
    known = [(names.get(file, title_of(file)), file) for file in files]
    words = query.casefold().split()
    matching = sorted(
        ((name, file) for name, file in known if all(word in f"{name} {file}".casefold() for word in words)),
        key=lambda each: (each[0].casefold(), each[1]),
    )
    context = WorkshopContext(
        frame=around,
        files=tuple(_file_in_words(workspace, each.name, each.purpose, each.model) for each in FILES if each.is_one),
        products=tuple((name, f"/edit/{quote(file)}") for name, file in matching[:MOST_FILES]),
        query=query,
        count=len(matching),
    )
    return page(request, "workshop.html", context)


def title_of(file: str) -> str:
    """What a file is called by its own name: `Metal prices` of metal_prices.csv."""
    return key_in_words(file.rpartition("/")[2].rpartition(".")[0])


def address_of(file: str, path: KeyPath) -> str:
    """Where a part of a file is changed."""
    return f"/edit/{quote(file)}" + (f"?at={quote(json.dumps(path))}" if path else "")


def links_of(
    model: type[BaseModel], read: Document, file: str, is_open: FormSection | None = None
) -> tuple[SectionLinks, ...]:
    """The parts of a file; those under one key stand together, with where a further one is begun. Of a product none."""
    if model is Product:
        return ()
    groups: dict[tuple[object, ...], tuple[list[PartLink], list[FormSection]]] = {}
    for section in sections_of(model, read):
        path = section.path
        key = path[:1] if len(path) == 2 else path[:2] if len(path) == 3 else ()
        parts, new = groups.setdefault(key, ([], []))
        if section.is_new:
            new.append(section)
        else:
            word = called(read.values, section)
            parts.append(PartLink(word, address_of(file, path), is_open is not None and path == is_open.path))
    return tuple(
        SectionLinks(
            str(key[-1]) if len(key) == 2 else key_in_words(str(key[0])) if key else "",
            tuple(parts),
            address_of(file, new[0].path) if new else "",
            bool(new and is_open is not None and new[0].path == is_open.path),
        )
        for key, (parts, new) in groups.items()
    )


def called(values: Mapping[str, object], section: FormSection, whole: bool = False) -> str:
    """A part by the name that it states for people, else by its own; the `whole` with what kind of thing it is."""
    if whole and section.path == ():
        return "What is stated"
    here: object = values
    for part in section.path:
        try:
            here = here[part]  # type: ignore[index]
        except (KeyError, IndexError, TypeError):
            here = None
    stated = here.get("name") if isinstance(here, Mapping) and section.path else None
    kind, colon, own = section.title.partition(": ")
    name = stated if isinstance(stated, str) and stated.strip() else own
    if colon:
        return f"{key_in_words(kind)}: {name}" if whole else name
    return in_words(section.title) if "." in section.title else name or key_in_words(section.title)


def _file_in_words(workspace: Workspace, file: str, purpose: str, model: type[BaseModel]) -> FileInWords:
    links: tuple[SectionLinks, ...] = ()
    trouble = ""
    if file.endswith(TOML):
        try:
            text = ""
            if (workspace.root / file).exists() and leads_inside(workspace.root, file):
                text = decoded(file, read_content(workspace.root, file))
            links = links_of(model, document(file, text), file)
        except Faults as found:
            trouble = found.faults[0].problem
    return FileInWords(title_of(file), purpose, file, f"/edit/{quote(file)}", links, trouble)
