"""The view of editing: every file of the folder as forms and, beside them, as the text that it is."""

from __future__ import annotations

import codecs
import difflib
import json
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any
from urllib.parse import quote

from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Fault, Faults, Place, TroytagError
from pricing.folder.expected_keys import table_at
from pricing.folder.files import FILES, PRODUCTS_FOLDER, TOML_FILES, is_product_entry, is_product_file
from pricing.folder.toml.edits import Drop, Insert, Put
from pricing.folder.toml.places import Document, KeyPath, written
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.folder.write import change_file, hash_of
from pricing.model.product import Product
from pricing.page.forms.fields import (
    NEW_NAME,
    REMOVED,
    Field,
    FieldGroup,
    FormSection,
    group_of,
    plain_keys,
    sections,
    table_typed,
)
from pricing.page.forms.meanwhile import merged, shown_of
from pricing.page.forms.saving import save_text
from pricing.page.forms.sent import texts_of
from pricing.page.framing import bare_frame, frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import FaultInWords, fault_in_words
from pricing.page.views.notice import missing
from pricing.page.workspace import Workspace, leads_inside

#: Files of the list on one page.
MOST_FILES = 200
#: Fields that a section's form may have.
MOST_FIELDS = 4000
#: So often a save is tried where somebody else writes in between.
MOST_TRIES = 3
#: Letters in which the part of a file may be named.
LONGEST_PATH = 2000
NO_FILE = "This is no file of the folder that is edited here."


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
    by line against the text that was sent; `torn` are the keys that the maker and somebody else changed: what was
    typed, and what the file says now. `shown` goes along with the form: what its fields showed when it was opened.
    """

    frame: Frame
    file: str
    address: str
    sections: tuple[tuple[FormSection, str, bool], ...]
    section: FormSection | None
    at: str
    group: FieldGroup | None
    values: Mapping[str, str]
    shown: str
    beside: Mapping[str, tuple[FaultInWords, ...]]
    faults: tuple[FaultInWords, ...]
    text: str
    line: int
    expected: str
    theirs: tuple[tuple[str, str], ...]
    torn: tuple[tuple[str, str, str], ...]
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
    if refused := _refused(workspace, file):
        return missing(request, refused)
    return _page(request, workspace, file)


async def save_form(request: Request) -> Response:
    """POST /edit-form/FILE?at=…: write what the maker changed in the form of a section."""
    workspace: Workspace = request.app.state.workspace
    file, path = request.path_params["file"], _path(request)
    form = dict(await texts_of(request, MOST_FIELDS))
    sent = form.pop("shown", "")

    def worked() -> Response:
        model = model_of(workspace, file)
        if model is None or not leads_inside(workspace.root, file):
            return missing(request, _refused(workspace, file) or NO_FILE)
        shown = shown_of(sent)
        if shown is None:
            return missing(request, "This form does not say what it showed; nothing was changed. Open it again.", 400)
        for attempt in range(1, MOST_TRIES + 1):
            expected = hash_of(workspace.root, file)
            try:
                read = _document(workspace, file)
                section = next((each for each in _sections(model, read) if each.path == path), None)
                if section is None:
                    gone = Fault(Place(file), written(path), "this part is not there any more", "Look at what is.")
                    return _page(request, workspace, file, (gone,), 409, torn=_all_typed(shown, form))
                now = {each.name: each.value for each in _fields_of(_group(model, read, section))}
                found = merged(shown, form, now)
                if found.torn:
                    torn = tuple((name, form[name], now.get(name, "")) for name in found.torn)
                    return _page(request, workspace, file, (), 409, values=found.kept, torn=torn)
                edits = _edits(model, read, section, found.fields)
                change_file(workspace.root, file, edits, expected)
                break
            except Faults as refused:
                if attempt == MOST_TRIES or hash_of(workspace.root, file) == expected:
                    return _page(request, workspace, file, refused.faults, 422, values=form, shown=sent)
            except TroytagError as error:
                return missing(request, str(error), 422)
        workspace.note(f"Saved: {file}.")
        return RedirectResponse(f"/edit/{quote(file)}", 303)

    return await run_in_threadpool(worked)


async def save_whole(request: Request) -> Response:
    """POST /edit-text/FILE: write the whole text."""
    workspace: Workspace = request.app.state.workspace
    file = request.path_params["file"]
    form = dict(await texts_of(request, MOST_FIELDS))

    def worked() -> Response:
        if refused := _refused(workspace, file):
            return missing(request, refused)
        if not {"text", "expected"} <= set(form):
            return missing(request, "This form came without its text; nothing was changed. Open it again.", 400)
        try:
            save_text(workspace.root, file, _as_sent(workspace, file, form["text"]), form["expected"] or None)
        except Faults as found:
            return _page(request, workspace, file, found.faults, 422, text=form["text"], read=form["expected"])
        workspace.note(f"Saved: {file}.")
        return RedirectResponse(f"/edit/{quote(file)}", 303)

    return await run_in_threadpool(worked)


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


def _refused(workspace: Workspace, file: str) -> str:
    """Why a file is neither shown nor changed, "" where it is."""
    if not _is_edited(workspace, file):
        return NO_FILE
    if not leads_inside(workspace.root, file):
        return f"{file} is a link that leads out of the folder: it is neither shown nor changed here."
    return ""


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
    """The part of the file that is asked for. Raises HTTPException 400 where it is none."""
    asked = request.query_params.get("at", "[]")
    try:
        found = json.loads(asked) if len(asked) <= LONGEST_PATH else None
    except (ValueError, RecursionError):
        found = None
    if not isinstance(found, list) or not all(type(part) in (str, int) for part in found):
        raise HTTPException(400, "There is no such part of a file: choose one of those that the file has.")
    return tuple(found)


def _sections(model: type[BaseModel], read: Document) -> list[FormSection]:
    return sections(model, read.values, model is Product)


def _group(model: type[BaseModel], read: Document, section: FormSection) -> FieldGroup:
    """The form of a section."""
    inner, values, only = _parts(model, read, section)
    naming = f"{NEW_NAME} this" if section.is_new and section.path[-1] == "+" else ""
    removing = "" if section.is_new or section.path == () else f"{REMOVED} this"
    return group_of(inner, values, section.path, section.title, only, naming=naming, removing=removing)


def _parts(
    model: type[BaseModel], read: Document, section: FormSection
) -> tuple[type[BaseModel], Mapping[str, Any], frozenset[str] | None]:
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


def _edits(model: type[BaseModel], read: Document, section: FormSection, form: Mapping[str, str]) -> list[Any]:
    inner, values, only = _parts(model, read, section)
    if form.get(f"{REMOVED} this"):
        return [Drop(section.path)]
    _refuse_taken_names(read, section, form)
    new = table_typed(inner, values, section.path, form, only)
    target = section.path
    if not new and target and target not in set(_paths(read.values)):
        return []  # a table that was not there and was left empty
    if section.is_new and target[-1] == "+":
        name = form.get(f"{NEW_NAME} this", "").strip()
        target = (*target[:-1], name)
    if section.is_new and isinstance(target[-1], int):
        return [Insert(target, new)]
    return [Put(target, new)]


def _refuse_taken_names(read: Document, section: FormSection, form: Mapping[str, str]) -> None:
    """Raise Faults where a further entry gets the name of one that is there: it would take its place."""
    for field, text in form.items():
        name = text.strip()
        if not field.startswith(f"{NEW_NAME} ") or not name:
            continue
        table = field.removeprefix(f"{NEW_NAME} ")
        if table == "this":
            there = any(each == (*section.path[:-1], name) for each in _paths(read.values))
        else:
            entry = f"{table}.{written((name,))}"
            there = any(written(each) == entry for each in _paths(read.values))
        if there:
            raise Faults([Fault(Place(read.file), field, f'there is "{name}" already', "Give it another name.")])


def _paths(values: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """The path of everything that stands in a document."""
    inner = values.items() if isinstance(values, Mapping) else enumerate(values) if isinstance(values, list) else ()
    for key, value in inner:
        yield (*path, key)
        yield from _paths(value, (*path, key))


def _all_typed(shown: Mapping[str, str], typed: Mapping[str, str]) -> tuple[tuple[str, str, str], ...]:
    """What was typed, where there is nothing left to compare it with."""
    return tuple((name, text, "") for name, text in typed.items() if text != shown.get(name, ""))


def _frame(workspace: Workspace, title: str) -> Frame:
    try:
        return frame(workspace, workspace.look(), "edit", title)
    except TroytagError:
        return bare_frame(workspace, "edit", title)


def _page(
    request: Request,
    workspace: Workspace,
    file: str,
    faults: tuple[Fault, ...] = (),
    status: int = 200,
    *,
    values: Mapping[str, str] = MappingProxyType({}),
    shown: str = "",
    torn: tuple[tuple[str, str, str], ...] = (),
    text: str | None = None,
    read: str = "",
) -> Response:
    """The view of a file; of a form that was refused its `values`, what it had `shown` and what is `torn`, of a text
    that was refused the `text` and the hash of the file that was `read` for it."""
    exists = (workspace.root / file).exists()
    try:
        content = read_content(workspace.root, file) if exists else b""
        now = decoded(file, content)
    except Faults as found:
        return missing(request, str(found), 422)
    expected = content_hash(content) if exists else ""
    theirs = tuple(_differences(text, now)) if text is not None and read != expected else ()
    model = model_of(workspace, file)
    section, group = None, None
    known: tuple[tuple[FormSection, str, bool], ...] = ()
    if model is not None:
        path = _path(request)
        try:
            parsed = document(file, now)
        except Faults as found:
            faults = faults or found.faults
        else:
            there = _sections(model, parsed)
            section = next((each for each in there if each.path == path), there[0] if there else None)
            known = tuple((each, _address(file, each), each == section) for each in there)
            group = _group(model, parsed, section) if section is not None else None
    in_words = tuple(fault_in_words(fault) for fault in faults)
    beside: dict[str, tuple[FaultInWords, ...]] = {}
    for each in in_words:
        beside[each.key] = (*beside.get(each.key, ()), each)
    line = request.query_params.get("line", "0")
    context = EditContext(
        frame=_frame(workspace, file),
        file=file,
        address=quote(file),
        sections=known,
        section=section,
        at=json.dumps(section.path if section else ()),
        group=group,
        values=MappingProxyType(dict(values)),
        shown=shown or json.dumps({each.name: each.value for each in _fields_of(group)}, ensure_ascii=False),
        beside=beside,
        faults=in_words,
        text=now if text is None else text.replace("\r\n", "\n"),
        line=int(line) if line.isascii() and line.isdigit() and len(line) < 8 else 0,
        expected=expected,
        theirs=theirs,
        torn=torn,
        in_words=MappingProxyType({each.name: each.purpose for each in FILES}),
    )
    return page(request, "edit.html", context, 409 if theirs else status)


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
