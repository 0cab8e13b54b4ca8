"""The view of editing: every file of the folder as forms and, beside them, as the text that it is."""

from __future__ import annotations

import codecs
import difflib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any
from urllib.parse import quote

from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Fault, Faults, TroytagError
from pricing.folder.expected_keys import table_at
from pricing.folder.files import FILES, PRODUCTS_FOLDER, TOML_FILES, is_product_entry, is_product_file
from pricing.folder.toml.edits import Drop, Insert, Put
from pricing.folder.toml.places import Document, KeyPath
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.folder.write import change_file
from pricing.model.product import Product
from pricing.page.forms.fields import (
    NEW_NAME,
    REMOVED,
    Field,
    FieldGroup,
    FormSection,
    group_of,
    plain_keys,
    said,
    sections,
)
from pricing.page.forms.saving import save_text
from pricing.page.framing import bare_frame, frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import ToldFault, told
from pricing.page.views.notice import missing
from pricing.page.workspace import Workspace

#: Files of the list on one page.
MOST_FILES = 200
#: Fields that a section's form may have.
MOST_FIELDS = 4000


@dataclass(frozen=True)
class FilesContext:
    """The files of the folder; `count` products of which those that match `query` are listed."""

    frame: Frame
    files: tuple[tuple[str, str], ...]
    products: tuple[str, ...]
    query: str
    count: int


@dataclass(frozen=True)
class EditContext:
    """One file: the sections that have forms, the form of the one that is open, the text, and what stands in the way.

    `at` says which section is open; `beside` are faults by field; `theirs` is what somebody else wrote meanwhile, line
    by line against the text that was sent; `mine` are the keys of a form that came too late: what was typed, and what
    the file says now.
    """

    frame: Frame
    file: str
    address: str
    sections: tuple[tuple[FormSection, str, bool], ...]
    section: FormSection | None
    at: str
    group: FieldGroup | None
    values: Mapping[str, str]
    beside: Mapping[str, tuple[ToldFault, ...]]
    faults: tuple[ToldFault, ...]
    text: str
    line: int
    expected: str
    theirs: tuple[tuple[str, str], ...]
    mine: tuple[tuple[str, str, str], ...]
    in_words: Mapping[str, str]


def files(request: Request) -> Response:
    """GET /edit."""
    workspace: Workspace = request.app.state.workspace
    query = request.query_params.get("query", "").strip()[:120]
    names = sorted(_product_entries(workspace))
    matching = [name for name in names if all(word in name.casefold() for word in query.casefold().split())]
    context = FilesContext(
        frame=_frame(workspace, "Files"),
        files=tuple((each.name, each.purpose) for each in FILES if each.is_one),
        products=tuple(f"{PRODUCTS_FOLDER}/{name}" for name in matching[:MOST_FILES]),
        query=query,
        count=len(matching),
    )
    return page(request, "files.html", context)


def edit(request: Request) -> Response:
    """GET /edit/FILE?at=…&line=…"""
    workspace: Workspace = request.app.state.workspace
    file = request.path_params["file"]
    if not _is_edited(workspace, file):
        return missing(request, "This is no file of the folder that is edited here.")
    return _page(request, workspace, file)


async def save_form(request: Request) -> Response:
    """POST /edit-form/FILE?at=…: write what the form of a section says."""
    workspace: Workspace = request.app.state.workspace
    file = request.path_params["file"]
    form = await _fields(request)

    def worked() -> Response:
        model = model_of(workspace, file)
        if model is None:
            return missing(request, "This is no file of the folder that is edited here.")
        try:
            read = _document(workspace, file)
            edits = _edits(model, read, _path(request), form)
            change_file(workspace.root, file, edits, form.get("expected") or None)
        except Faults as found:
            return _page(request, workspace, file, form, found.faults, status=422)
        except TroytagError as error:
            return missing(request, str(error), 422)
        workspace.note(f"Saved: {file}.")
        return RedirectResponse(f"/edit/{quote(file)}", 303)

    return await run_in_threadpool(worked)


async def save_whole(request: Request) -> Response:
    """POST /edit-text/FILE: write the whole text."""
    workspace: Workspace = request.app.state.workspace
    file = request.path_params["file"]
    form = await _fields(request)

    def worked() -> Response:
        if not _is_edited(workspace, file):
            return missing(request, "This is no file of the folder that is edited here.")
        try:
            save_text(
                workspace.root, file, _as_sent(workspace, file, form.get("text", "")), form.get("expected") or None
            )
        except Faults as found:
            return _page(request, workspace, file, form, found.faults, status=422)
        workspace.note(f"Saved: {file}.")
        return RedirectResponse(f"/edit/{quote(file)}", 303)

    return await run_in_threadpool(worked)


async def _fields(request: Request) -> dict[str, str]:
    async with request.form(max_files=0, max_fields=MOST_FIELDS, max_part_size=2 * 2**20) as fields:
        return {name: value for name, value in fields.items() if isinstance(value, str)}


def model_of(workspace: Workspace, file: str) -> type[BaseModel] | None:
    """The model of a file that may be edited: one of the folder's own, or a product that is there."""
    if file in TOML_FILES:
        return TOML_FILES[file].model
    if is_product_file(file) and file.removeprefix(f"{PRODUCTS_FOLDER}/") in _product_entries(workspace):
        return Product
    return None


def _is_edited(workspace: Workspace, file: str) -> bool:
    """Whether a file may be edited; one without a form is edited as the text that it is."""
    return any(each.name == file for each in FILES if each.is_one) or model_of(workspace, file) is not None


def _product_entries(workspace: Workspace) -> set[str]:
    folder = workspace.root / PRODUCTS_FOLDER
    return {each.name for each in folder.iterdir() if is_product_entry(each.name)} if folder.is_dir() else set()


def _as_sent(workspace: Workspace, file: str, text: str) -> str:
    """The text with the line ends (and the mark at its beginning) that the file has; browsers send their own."""
    text = text.replace("\r\n", "\n")
    old = (workspace.root / file).read_bytes() if (workspace.root / file).is_file() else b""
    if b"\r\n" in old:
        text = text.replace("\n", "\r\n")
    return codecs.BOM_UTF8.decode() + text if old.startswith(codecs.BOM_UTF8) else text


def _document(workspace: Workspace, file: str) -> Document:
    if not (workspace.root / file).exists():
        return document(file, "")
    return document(file, decoded(file, read_content(workspace.root, file)))


def _path(request: Request) -> KeyPath:
    try:
        found = json.loads(request.query_params.get("at", "[]"))
    except ValueError:
        return ()
    if not isinstance(found, list) or not all(isinstance(part, (str, int)) and part is not True for part in found):
        return ()
    return tuple(found)


def _section(model: type[BaseModel], read: Document, path: KeyPath) -> FormSection | None:
    known = sections(model, read.values, model is Product)
    return next((each for each in known if each.path == path), known[0] if known else None)


def _parts(
    model: type[BaseModel], read: Document, section: FormSection
) -> tuple[type[BaseModel], Mapping[str, Any], frozenset | None]:
    """The model and the values of a section, and which of its keys."""
    if section.path == ():
        return model, read.values, None if model is Product else plain_keys(model)
    inner = table_at(model, section.path)
    here: Any = read.values
    for part in section.path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            here = {}
    assert inner is not None
    return inner, here if isinstance(here, Mapping) else {}, None


def _edits(model: type[BaseModel], read: Document, path: KeyPath, form: Mapping[str, str]) -> list:
    section = _section(model, read, path)
    if section is None:
        return []
    inner, values, only = _parts(model, read, section)
    if form.get(f"{REMOVED} this"):
        return [Drop(section.path)]
    new = said(inner, values, section.path, form, only)
    target = section.path
    if section.is_new and target[-1] == "+":
        name = form.get(f"{NEW_NAME} this", "").strip()
        target = (*target[:-1], name)
    if section.is_new and isinstance(target[-1], int):
        return [Insert(target, new)]
    return [Put(target, new)]


def _frame(workspace: Workspace, title: str) -> Frame:
    try:
        return frame(workspace, workspace.look(), "edit", title)
    except TroytagError:
        return bare_frame(workspace, "edit", title)


def _page(
    request: Request,
    workspace: Workspace,
    file: str,
    form: Mapping[str, str] | None = None,
    faults: tuple[Fault, ...] = (),
    status: int = 200,
) -> Response:
    exists = (workspace.root / file).exists()
    try:
        content = read_content(workspace.root, file) if exists else b""
        now = decoded(file, content)
    except Faults as found:
        return missing(request, str(found), 422)
    expected = content_hash(content) if exists else ""
    sent = form.get("text") if form is not None else None
    theirs: tuple[tuple[str, str], ...] = ()
    if form is not None and form.get("expected", "") != expected:
        theirs = tuple(_differences(sent, now)) if sent is not None else ()
    model = model_of(workspace, file)
    section, group, known = None, None, ()
    if model is not None:
        try:
            read = document(file, now)
        except Faults as found:
            faults = faults or found.faults
        else:
            section = _section(model, read, _path(request))
            known = tuple(
                (each, _address(file, each), each == section) for each in sections(model, read.values, model is Product)
            )
            if section is not None:
                inner, values, only = _parts(model, read, section)
                naming = f"{NEW_NAME} this" if section.is_new and section.path[-1] == "+" else ""
                removing = "" if section.is_new or section.path == () else f"{REMOVED} this"
                group = group_of(inner, values, section.path, section.title, only, naming=naming, removing=removing)
    shown = tuple(told(fault) for fault in faults)
    beside: dict[str, tuple[ToldFault, ...]] = {}
    for each in shown:
        beside[each.key] = (*beside.get(each.key, ()), each)
    values = {name: value for name, value in (form or {}).items() if name not in ("text", "expected")}
    mine: tuple[tuple[str, str, str], ...] = ()
    if form is not None and sent is None and form.get("expected", "") != expected:
        # Fields show the file as it is now, or saving once more would put back what somebody else has changed.
        mine = tuple(
            (each.name, values[each.name], each.value)
            for each in _fields_of(group)
            if values.get(each.name, each.value) != each.value
        )
        values = {}
    line = request.query_params.get("line", "0")
    context = EditContext(
        frame=_frame(workspace, file),
        file=file,
        address=quote(file),
        sections=known,
        section=section,
        at=json.dumps(section.path if section else ()),
        group=group,
        values=MappingProxyType(values),
        beside=beside,
        faults=shown,
        text=now if sent is None else sent.replace("\r\n", "\n"),
        line=int(line) if line.isascii() and line.isdigit() and len(line) < 8 else 0,
        expected=expected,
        theirs=theirs,
        mine=mine,
        in_words=MappingProxyType({each.name: each.purpose for each in FILES}),
    )
    return page(request, "edit.html", context, 409 if theirs or mine else status)


def _fields_of(group: FieldGroup | None) -> list[Field]:
    """Every field of a form."""
    if group is None:
        return []
    return [*group.fields, *(field for inner in group.groups for field in _fields_of(inner))]


def _address(file: str, section: FormSection) -> str:
    return f"/edit/{quote(file)}?at={quote(json.dumps(section.path))}"


def _differences(mine: str, now: str) -> list[tuple[str, str]]:
    """How the file as it lies there now differs from what was sent: ("+", a line of theirs), ("-", a line of mine)."""
    lines = difflib.ndiff(mine.replace("\r\n", "\n").splitlines(), now.splitlines())
    return [(line[0], line[2:]) for line in lines if line[0] in "+-"][:400]
