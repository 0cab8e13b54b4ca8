"""The view of one file of the folder: a part of it as a form with what is stated, beside it the text that it is."""

from __future__ import annotations

import difflib
import json
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from urllib.parse import quote

from pydantic import BaseModel
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Faults, TroytagError
from pricing.folder.files import FILES, PRODUCTS_FOLDER, TOML_FILES, is_product_entry, is_product_file
from pricing.folder.toml.places import Document, KeyPath
from pricing.folder.toml.syntax import document
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.model.product import Product
from pricing.page.forms.fields import FieldGroup, FormSection
from pricing.page.forms.one_save import BESIDE, Refused, mark_of_text, save_both, sent_of
from pricing.page.forms.parts import fields_of, group_at, part_at, sections_of
from pricing.page.forms.sent import texts_of
from pricing.page.forms.stated import ShownGroup, only_stated
from pricing.page.forms.worded import worded
from pricing.page.framing import bare_frame, frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import FaultInWords, fault_in_words
from pricing.page.views.notice import missing
from pricing.page.views.workshop import SectionLinks, address_of, called, links_of, title_of
from pricing.page.workspace import Workspace, leads_inside

#: Fields that a section's form may have.
MOST_FIELDS = 4000
#: Letters in which the part of a file may be named.
LONGEST_PATH = 2000
NO_FILE = "This is no file of the folder that is edited here."
NOTHING: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class EditContext:
    """One file: the parts that have forms, the form of the one that is open, the text, and what stands in the way.

    `title` is what the file is called, `purpose` what it is for; `at` says which part is open; `beside` are faults by
    field; `theirs` is what somebody else wrote meanwhile, line by line against the text that was sent; `torn` are the
    keys that the maker and somebody else changed: what was typed, and what the file says now. `shown`, `expected` and
    `said` go along with the form: what its fields showed, the hash of the file and the mark of its text as it was
    opened.
    """

    frame: Frame
    title: str
    purpose: str
    file: str
    address: str
    links: tuple[SectionLinks, ...]
    section: FormSection | None
    part_title: str
    at: str
    group: ShownGroup | None
    values: Mapping[str, str]
    shown: str
    beside: Mapping[str, tuple[FaultInWords, ...]]
    faults: tuple[FaultInWords, ...]
    text: str
    line: int
    expected: str
    said: str
    theirs: tuple[tuple[str, str], ...]
    torn: tuple[tuple[str, str, str], ...]


def edit(request: Request) -> Response:
    """GET /edit/FILE?at=…&add=…&line=…"""
    workspace: Workspace = request.app.state.workspace
    file = request.path_params["file"]
    if refused := _refused(workspace, file):
        return missing(request, refused)
    return _page(request, workspace, file)


async def save(request: Request) -> Response:
    """POST /edit-save/FILE?at=…: write what the maker changed in the form of a part, in the text beside it, or both."""
    workspace: Workspace = request.app.state.workspace
    file, path = request.path_params["file"], _path(request)
    form = dict(await texts_of(request, MOST_FIELDS))

    def worked() -> Response:
        if refused := _refused(workspace, file):
            return missing(request, refused)
        model, sent = model_of(workspace, file), sent_of(form)
        if model is not None and sent.shown is None and (sent.fields or sent.text is None):
            return missing(request, "This form does not say what it showed; nothing was changed. Open it again.", 400)
        if model is None and not {"text", "expected"} <= set(form):
            return missing(request, "This form came without its text; nothing was changed. Open it again.", 400)
        try:
            found = save_both(workspace.root, file, part_at(model, path) if model is not None else None, sent)
        except TroytagError as error:
            return missing(request, str(error), 422)
        if found is not None:
            return _page(request, workspace, file, found)
        workspace.note(f"Saved: {_title(workspace, file)}.")
        return RedirectResponse(_address_after(workspace, file, path), 303)

    return await run_in_threadpool(worked)


def _address_after(workspace: Workspace, file: str, path: KeyPath) -> str:
    """The same part once more, where it is still there; a new one has its own name now."""
    return address_of(file, path) if path and path[-1] != "+" else f"/edit/{quote(file)}"


def model_of(workspace: Workspace, file: str) -> type[BaseModel] | None:
    """The model of a file that may be edited: one of the folder's own, or a product that is there."""
    if file in TOML_FILES:
        return TOML_FILES[file].model
    if is_product_file(file) and file.removeprefix(f"{PRODUCTS_FOLDER}/") in product_entries(workspace):
        return Product
    return None


def product_entries(workspace: Workspace) -> set[str]:
    """The names of the files of products."""
    folder = workspace.root / PRODUCTS_FOLDER
    return {each.name for each in folder.iterdir() if is_product_entry(each.name)} if folder.is_dir() else set()


def _refused(workspace: Workspace, file: str) -> str:
    """Why a file is neither shown nor changed, "" where it is; one without a form is edited as the text that it is."""
    if not any(each.name == file for each in FILES if each.is_one) and model_of(workspace, file) is None:
        return NO_FILE
    if not leads_inside(workspace.root, file):
        return f"{file} is a link that leads out of the folder: it is neither shown nor changed here."
    return ""


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


def _title(workspace: Workspace, file: str) -> str:
    """What a file is called: a product by its name."""
    try:
        read = document(file, decoded(file, read_content(workspace.root, file))) if is_product_file(file) else None
    except Faults:
        read = None
    name = read.values.get("name") if read is not None else None
    return name if isinstance(name, str) and name.strip() else title_of(file)


def _frame(workspace: Workspace, title: str) -> Frame:
    try:
        return frame(workspace, workspace.look(), "edit", title)
    except TroytagError:
        return bare_frame(workspace, "edit", title)


def _page(request: Request, workspace: Workspace, file: str, refused: Refused | None = None) -> Response:
    """The view of a file; of a form that was refused with all that was typed."""
    refused = refused or Refused(status=200)
    exists = (workspace.root / file).exists()
    try:
        content = read_content(workspace.root, file) if exists else b""
        now = decoded(file, content)
    except Faults as found:
        return missing(request, str(found), 422)
    expected, faults, text = content_hash(content) if exists else "", refused.faults, refused.text
    theirs = tuple(_differences(text, now)) if text is not None and refused.read != expected else ()
    model = model_of(workspace, file)
    section, group, parsed = None, None, None
    if model is not None:
        path = _path(request)
        try:
            parsed = document(file, now)
        except Faults as found:
            faults = faults or found.faults
        else:
            there = sections_of(model, parsed)
            section = next((each for each in there if each.path == path), there[0] if there else None)
            group = group_at(model, parsed, section) if section is not None else None
    in_words = tuple(fault_in_words(fault) for fault in faults)
    beside: dict[str, tuple[FaultInWords, ...]] = {}
    for each in in_words:
        beside[each.key] = (*beside.get(each.key, ()), each)
    typed = {name: value for name, value in refused.values.items() if name not in BESIDE}
    line = request.query_params.get("line", "0")
    title = _title(workspace, file)
    shown_now = {each.name: each.value for each in fields_of(group)}
    context = EditContext(
        frame=_frame(workspace, title),
        title=title,
        purpose=next((each.purpose for each in FILES if each.name == file), ""),
        file=file,
        address=quote(file),
        links=links_of(model, parsed, file, section) if model is not None and parsed is not None else (),
        section=section,
        part_title=called(parsed.values, section, whole=True) if section is not None and parsed is not None else "",
        at=json.dumps(section.path if section else ()),
        group=_shown(request, workspace, parsed, section, group, typed, beside),
        values=MappingProxyType(typed),
        shown=refused.shown or json.dumps(shown_now, ensure_ascii=False),
        beside=beside,
        faults=in_words,
        text=now if text is None else text.replace("\r\n", "\n"),
        line=int(line) if line.isascii() and line.isdigit() and len(line) < 8 else 0,
        expected=expected,
        said=mark_of_text(now),
        theirs=theirs,
        torn=refused.torn,
    )
    return page(request, "edit.html", context, 409 if theirs else refused.status)


def _shown(
    request: Request,
    workspace: Workspace,
    parsed: Document | None,
    section: FormSection | None,
    group: FieldGroup | None,
    typed: Mapping[str, str],
    beside: Mapping[str, tuple[FaultInWords, ...]],
) -> ShownGroup | None:
    """The form with what is stated, what is added and what was typed; a new part shows all that it may say."""
    if group is None or section is None or parsed is None:
        return None
    typed_in = [name for name, text in typed.items() if text]
    wanted = {*request.query_params.getlist("add"), *typed_in, *beside}
    home, own = _currencies(workspace, parsed, section)

    def in_words(key: str, meaning: str) -> tuple[str, str]:
        return worded(key, meaning, home, own)

    if section.is_new:
        wanted |= {each.name for each in group.fields}
    return only_stated(group, in_words, wanted)


def _currencies(workspace: Workspace, parsed: Document, section: FormSection) -> tuple[str, str | None]:
    """The workshop's currency, as the file of now says it where it can be read, and that of a channel's own part."""
    try:
        home = workspace.look().shown.currency
    except TroytagError:
        home = str(parsed.values.get("currency", "the workshop's currency"))
    if section.path[:1] != ("channels",):
        return home, None
    table = parsed.values.get("channels")
    here = table.get(section.path[1]) if isinstance(table, Mapping) and len(section.path) > 1 else None
    own = here.get("currency") if isinstance(here, Mapping) else None
    return home, own if isinstance(own, str) else home


def _differences(mine: str, now: str) -> list[tuple[str, str]]:
    """How the file as it lies there now differs from what was sent: ("+", a line of theirs), ("-", a line of mine)."""
    lines = difflib.ndiff(mine.replace("\r\n", "\n").splitlines(), now.splitlines())
    return [(line[0], line[2:]) for line in lines if line[0] in "+-"][:400]
