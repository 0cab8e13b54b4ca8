"""The view of one design: its fields, its mesh, its alloys side by side, the levers, the work behind each figure."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any, get_args
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Fault, Faults, Place, TroytagError
from pricing.formulas.engine import Computed
from pricing.model.given import unit_of
from pricing.model.product import sold_together
from pricing.model.rows import VariantRow
from pricing.model.sizes import Standard
from pricing.page.forms.draft import (
    CASTING_FIELDS,
    FIGURES,
    FINDING_FIELDS,
    Compared,
    Draft,
    Drawn,
    compared,
    draft_of_form,
    draft_of_product,
    empty_draft,
    finding_way,
    mesh_file,
    taken_up,
    upload_of,
    with_channels_of,
)
from pricing.page.forms.saving import lacking, save_draft
from pricing.page.forms.sent import texts_of
from pricing.page.forms.typed import spelled
from pricing.page.framing import frame
from pricing.page.labels import label_of
from pricing.page.rendering import Frame, page
from pricing.page.views.answering import AnswerContext, FieldFault, answered, costed
from pricing.page.views.design_told import section_of
from pricing.page.views.faults import faulty
from pricing.page.views.levers import Lever, levers_of, with_levers
from pricing.page.views.meshes import MeshInWords, mesh_of_file, mesh_of_upload
from pricing.page.views.notice import missing
from pricing.page.workspace import Look, Workspace

#: Fields that the form of a design may have.
MOST_FIELDS = 2000
#: So often a save is tried where somebody else writes in between.
MOST_TRIES = 3
#: While a lever moves, the folder's files are looked at no oftener than once in so many seconds.
LEVER_LOOKS = 1.0
#: Keys of a product that this form keeps and has no field for: they are edited in its file.
ELSEWHERE = ("scale", "photo", "steps", "for_alloy", "in_channel")


@dataclass(frozen=True)
class CastingFields:
    """The fields of one casting and what is known of its mesh."""

    place: int
    way: str
    values: Mapping[str, str]
    upload: str
    mesh: MeshInWords | None


@dataclass(frozen=True)
class DesignContext:
    """The whole view; `fields` are the texts in the form, `beside` the faults by field, `answer` as above.

    `figures` are the product's own, by key, with their labels and units; a finding has its `way`, too; `own_pieces`
    are what may be a part of it; `elsewhere` are the keys of its file that this form has no field for, and keeps.

    `about` says in a line what it is, `alloy` is the one of its picture; the sections `opened` stand open; `unsaved` is
    what was typed before and is not saved yet. `shown` goes along with the form: what it showed when it was opened.
    `torn` are keys that the maker and somebody else changed meanwhile: what they are called, what was typed, what the
    folder says now.
    """

    frame: Frame
    sku: str
    fields: Mapping[str, str]
    figures: tuple[tuple[str, str, str], ...]
    ticked: tuple[str, ...]
    sold_in: tuple[str, ...]
    castings: tuple[CastingFields, ...]
    findings: tuple[Mapping[str, str], ...]
    own_pieces: tuple[str, ...]
    standards: tuple[str, ...]
    elsewhere: tuple[str, ...]
    processes: tuple[str, ...]
    flasks: tuple[str, ...]
    alloys: tuple[tuple[str, str], ...]
    channels: tuple[str, ...]
    shown: str
    torn: tuple[tuple[str, str, str], ...]
    file: str
    like: str
    answer: AnswerContext
    beside: Mapping[str, tuple[FieldFault, ...]]
    levers: tuple[Lever, ...]
    about: str
    alloy: str
    opened: frozenset[str]
    unsaved: bool


def design(request: Request) -> Response:
    """GET /design?sku=…: a product of the folder, or a new design where none is named."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    sku = request.query_params.get("sku", "")
    if sku and sku not in look.products:
        return missing(request, f'There is no product "{sku}" in this folder.')
    draft = draft_of_product(look, look.product_of[sku]) if sku else empty_draft(look)
    return _page(request, workspace, look, draft)


async def form(request: Request) -> Response:
    """POST /design/form: the same form with a further casting or finding."""

    def answer(workspace: Workspace, look: Look, draft: Draft) -> Response:
        kind = request.query_params.get("add", "")
        fields = dict(draft.fields)
        way = "own" if kind == "parts" else "bought"
        kind = "findings" if kind == "parts" else kind
        place = draft.count(kind) if kind in ("castings", "findings") else 0
        if kind == "castings":
            fields |= {
                f"castings-{place}-name": f"casting {place + 1}",
                f"castings-{place}-count": "1",
                f"castings-{place}-way": "volume",
            }
        elif kind == "findings":
            fields |= {f"findings-{place}-{name}": "" for name in FINDING_FIELDS}
            fields |= {f"findings-{place}-quantity": "1", f"findings-{place}-way": way}
        wider = replace(draft, fields=MappingProxyType(fields))
        return _page(request, workspace, look, wider, opened=kind)

    return await _with_draft(request, answer)


async def answer(request: Request) -> Response:
    """POST /design/answer: what the draft costs, for every key pressed and every lever moved."""

    def told_again(workspace: Workspace, look: Look, draft: Draft) -> Response:
        return page(request, "design_answer.html", answered(request.app.state.drawings, workspace, look, draft))

    return await _with_draft(request, told_again)


async def save(request: Request) -> Response:
    """POST /design/save: write the product's file; what stands in the way is told beside its field."""

    def saved(workspace: Workspace, look: Look, draft: Draft) -> Response:
        if draft.sku and draft.base is None:
            return missing(request, "This form does not say what it showed; nothing was changed. Open it again.", 400)
        for attempt in range(1, MOST_TRIES + 1):
            found = compared(workspace, look, draft) if draft.sku else None
            if found and found.torn:
                mine = taken_up(look, draft, found.changed)
                return _page(request, workspace, look, mine, status=409, torn=_torn(found))
            try:
                drawing: Drawn = request.app.state.drawings.of(workspace, look, draft)
                if wrong := [*lacking(look, draft), *drawing.faults]:
                    raise Faults(wrong)
                sku, file = save_draft(workspace, look, draft)
                break
            except TroytagError as error:
                faults = error.faults if isinstance(error, Faults) else (Fault(_nowhere(), "", str(error)),)
                now = workspace.look()
                if now is look or not draft.sku or attempt == MOST_TRIES:
                    return _page(request, workspace, look, draft, faults, 422)
                look = now  # somebody else wrote in between: compare once more
        workspace.note(f"Saved in {file}.{_moved(found) if found else ''}")
        return RedirectResponse(f"/design?sku={quote(sku)}", 303)

    return await _with_draft(request, saved, within=0.0)


async def with_computed(request: Request, then: Callable[[Look, Computed], Response]) -> Response:
    """Answer from a draft's costing with its levers; nothing where it cannot be costed."""

    def with_figures(workspace: Workspace, look: Look, draft: Draft) -> Response:
        found = costed(request.app.state.drawings, workspace, look, draft).drawn
        if found.costing is None:
            return Response("", 200)
        levers = levers_of(found.costing.computed.resolved, draft.fields)
        try:
            return then(look, with_levers(found.costing, levers))
        except Faults:
            return Response("", 200)

    return await _with_draft(request, with_figures)


async def _with_draft(
    request: Request, then: Callable[[Workspace, Look, Draft], Response], within: float = LEVER_LOOKS
) -> Response:
    workspace: Workspace = request.app.state.workspace
    items = await texts_of(request, MOST_FIELDS)

    def worked() -> Response:
        try:
            look = workspace.look(within)
        except TroytagError as error:
            return faulty(request, error)
        sku = request.query_params.get("sku", "")
        if sku and sku not in look.products:
            return missing(request, f'There is no product "{sku}" in this folder.')
        return then(workspace, look, draft_of_form(look.product_of[sku] if sku else "", items))

    return await run_in_threadpool(worked)


def _nowhere() -> Place:
    return Place("")


def _torn(found: Compared) -> tuple[tuple[str, str, str], ...]:
    """What the maker and somebody else changed: what it is called, what was typed, what the folder says now."""
    return tuple((label_of(key), _in_words(found.typed[key]), _in_words(found.now[key])) for key in found.torn)


def _moved(found: Compared) -> str:
    """What others changed meanwhile, that this form still showed as it was and did not touch."""
    kept = [key for key in found.moved if key not in found.changed]
    if not kept:
        return ""
    words = (f"{label_of(key)}: {_in_words(found.now[key])}" for key in kept)
    return f" Changed meanwhile by somebody else, and left so: {'; '.join(words)}."


def _in_words(value: Any) -> str:
    """A value of a product in a line."""
    if value is None:
        return "not stated"
    if isinstance(value, Mapping):
        return " ".join(f"{key} {_in_words(each)}" for key, each in value.items())
    if isinstance(value, (list, tuple)):
        return (", " if all(isinstance(each, str) for each in value) else "; ").join(map(_in_words, value))
    return spelled(value)


def _page(
    request: Request,
    workspace: Workspace,
    look: Look,
    draft: Draft,
    faults: tuple[Fault, ...] = (),
    status: int = 200,
    torn: tuple[tuple[str, str, str], ...] = (),
    opened: str = "",
) -> Response:
    """The whole view; `opened` names the section of the form that was just added to."""
    draft = with_channels_of(look, draft)
    stated, folder = look.costing.folder.stated, look.costing.folder
    answer = answered(request.app.state.drawings, workspace, look, draft, tuple(faults))
    beside: dict[str, tuple[FieldFault, ...]] = {}
    for each in answer.faults if status == 422 else ():
        beside[each.field] = (*beside.get(each.field, ()), each)
    product = look.products.get(draft.sku)
    context = DesignContext(
        frame=frame(workspace, look, "design", product.name if product else "A new design"),
        sku=draft.sku,
        fields=draft.fields,
        figures=tuple((name, label_of(name), unit_of(VariantRow, name)) for name in FIGURES),
        ticked=draft.alloys,
        sold_in=draft.sold_in,
        castings=tuple(_casting_fields(workspace, look, draft, place) for place in range(draft.count("castings"))),
        findings=tuple(
            {name: draft.get(f"findings-{place}-{name}") for name in FINDING_FIELDS}
            | {"way": finding_way(draft, place)}
            for place in range(draft.count("findings"))
        ),
        own_pieces=tuple(each.sku for each in look.pieces if each.product.sku != draft.sku),
        standards=get_args(Standard),
        elsewhere=tuple(key for key in ELSEWHERE if product is not None and key in product.model_fields_set),
        processes=tuple(stated.processes),
        flasks=tuple(stated.workshop.flasks),
        alloys=tuple((name, alloy.name) for name, alloy in stated.alloys.items()),
        channels=tuple(stated.channels),
        shown=draft.shown,
        torn=torn,
        file=folder.product_file(draft.sku) if draft.sku else "",
        like=stated.products[draft.sku].like or "" if draft.sku else "",
        answer=answer,
        beside=beside,
        levers=answer.levers,
        about=_about(look, draft),
        alloy=next(iter(draft.alloys), ""),
        opened=frozenset({section_of(field) for field in beside} | ({opened} if opened else set())
                         | (set() if draft.sku else {"castings", "what"})),
        unsaved=bool(torn or beside or opened),
    )  # fmt: skip
    return page(request, "design.html", context, status)


def _about(look: Look, draft: Draft) -> str:
    """`A pair, in Hedgerow.`"""
    product = look.products.get(draft.sku)
    if product is None:
        return ""
    together = sold_together(product)
    return " · ".join(filter(None, (product.collection, f"sold as a {together}" if together else "")))


def _casting_fields(workspace: Workspace, look: Look, draft: Draft, place: int) -> CastingFields:
    values = {name: draft.get(f"castings-{place}-{name}") for name in CASTING_FIELDS}
    upload = upload_of(workspace, draft, place)
    told = None
    if upload is not None:
        values["mesh"] = mesh_file(upload)
        told = mesh_of_upload(upload, look.shown)
    elif values["mesh"]:
        told = mesh_of_file(look, values["mesh"])
    return CastingFields(
        place, draft.get(f"castings-{place}-way") or "mesh", values, upload.key if upload else "", told
    )
