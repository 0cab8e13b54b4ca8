"""Start: a workshop folder begun in the browser by the questions of `troytag start`, and one thing more by those of
`troytag add`. What is asked, understood and written is the library's; here it is shown and taken in."""

from __future__ import annotations

import secrets
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Faults, TroytagError
from pricing.folder.files import DOUBTS_FILE, is_begun
from pricing.folder.read import read_folder
from pricing.folder.whole_files import held
from pricing.page.forms.sent import form_of
from pricing.page.framing import bare_frame, frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import faulty
from pricing.page.views.meshes import file_name
from pricing.page.views.notice import missing
from pricing.page.workspace import Upload, Workspace
from pricing.starting import spoken, start_folder
from pricing.starting.adding import WHATS, Added, Adding, known_what, put
from pricing.starting.answers import NAME, Answers, Asking, answered, of_an_evening
from pricing.starting.in_words import library_for, taken, usual
from pricing.starting.library import Library
from pricing.starting.questions import Question

#: Answers to these lead to further questions: once one is given, the form is shown anew.
LEADING = frozenset({"currency", "tax", "metals", "ways", "channels", "abroad", "piece-model", "piece-way"})
#: The field of a mesh that was taken in already, and of the questions that are ticked.
UPLOAD, TICKED = "piece-upload", "ticked"
PRICE_OF = "costs:"
MOST_FIELDS = 200
LONGEST = 4000


@dataclass(frozen=True)
class Choice:
    """One of the choices: its value and words, whether it is picked; `price` is the field of what it cost, if any."""

    value: str
    word: str
    is_picked: bool
    price: str = ""
    costs: str = ""


@dataclass(frozen=True)
class Asked:
    """A question as a field: `shape` is text, pick, ticks or mesh; `about` says what is usual and what is taken."""

    name: str
    label: str
    shape: str
    about: str
    typed: str
    example: str
    trouble: str
    is_number: bool
    leads: bool
    choices: tuple[Choice, ...]


@dataclass(frozen=True)
class PartOfForm:
    """The questions of one part: those that a first price needs, and the rest, opened where something is wrong."""

    head: str
    first: tuple[Asked, ...]
    more: tuple[Asked, ...]
    is_open: bool


@dataclass(frozen=True)
class StartContext:
    """The form: `again` is the address that shows it anew, `upload` key and name of the mesh that came."""

    frame: Frame
    title: str
    lead: str
    action: str
    again: str
    button: str
    parts: tuple[PartOfForm, ...]
    sentences: tuple[str, ...]
    upload: str
    upload_name: str


@dataclass(frozen=True)
class Purpose:
    """What a form is for: its words, its questions, and what is done with the answers."""

    title: str
    lead: str
    action: str
    button: str
    asking: Asking
    write: Callable[[Answers], Response]
    has_name: bool = False
    library_of: Callable[[Mapping[str, Any]], Library] = library_for


# ---- a new folder


async def start(request: Request) -> Response:
    """GET /start: the questions; a folder that is begun already is shown instead."""
    workspace: Workspace = request.app.state.workspace
    if is_begun(workspace.root):
        return RedirectResponse("/", 303)
    return await run_in_threadpool(_form, request, _beginning(workspace), {})


async def start_form(request: Request) -> Response:
    """POST /start/form: the questions that follow from what was answered so far."""
    return await _again(request, _beginning(request.app.state.workspace))


async def begin(request: Request) -> Response:
    """POST /start: write the folder, and show its prices."""
    workspace: Workspace = request.app.state.workspace
    if is_begun(workspace.root):
        return missing(request, "A workshop stands in this folder already; nothing was changed.", 409)
    return await _written(request, _beginning(workspace))


def _beginning(workspace: Workspace) -> Purpose:
    def write(answers: Answers) -> Response:
        start_folder(workspace.root, answers, workspace.today)
        guesses = (workspace.root / DOUBTS_FILE).read_text(encoding="utf-8").count("low =")
        workspace.note(
            f"The workshop is begun. {guesses} figures in it are guesses, each with its range in {DOUBTS_FILE}."
        )
        return RedirectResponse("/", 303)

    lead = "Answer what you know and leave the rest empty: a guess is taken then, and says so in its file."
    return Purpose("Begin a workshop", lead, "/start", "Write the folder", of_an_evening, write, has_name=True)


# ---- one thing more


async def add(request: Request) -> Response:
    """GET /add/{what}: the questions for one more alloy, process, channel or product."""

    def worked() -> Response:
        return _with_purpose(request, lambda purpose: _form(request, purpose, {}))

    return await run_in_threadpool(worked)


async def add_form(request: Request) -> Response:
    """POST /add/{what}/form: the questions that follow from what was answered so far."""
    return await _again(request, None)


async def added(request: Request) -> Response:
    """POST /add/{what}: write it, and show its file."""
    return await _written(request, None)


def _adding(workspace: Workspace, what: str) -> Purpose:
    adding = Adding(read_folder(workspace.root), known_what(what))

    def write(answers: Answers) -> Response:
        with held(workspace.root):
            done: Added = put(adding.again(), answers, workspace.today)
        workspace.note(f"Added {', '.join(done.names)}, in {', '.join(done.files)}.")
        address = f"/design?sku={done.names[0]}" if what == "product" else f"/edit/{done.files[0]}"
        return RedirectResponse(address, 303)

    lead = "From the library of ready pieces. What you leave empty is guessed, and says so in its file."
    return Purpose(f"One more {what}", lead, f"/add/{what}", "Add it", adding.asking, write, library_of=adding.library)


def _with_purpose(request: Request, then: Callable[[Purpose], Response]) -> Response:
    what = request.path_params["what"]
    if what not in WHATS:
        return missing(request, "There is nothing at this address.", 404)
    try:
        return then(_adding(request.app.state.workspace, what))
    except TroytagError as error:
        return faulty(request, error)


# ---- the form


async def _again(request: Request, purpose: Purpose | None) -> Response:
    async with form_of(request, MOST_FIELDS) as form:
        sent = _sent(form)

    def worked() -> Response:
        def shown(what: Purpose) -> Response:
            return _form(request, what, sent, template="start_fields.html")

        return shown(purpose) if purpose else _with_purpose(request, shown)

    return await run_in_threadpool(worked)


async def _written(request: Request, purpose: Purpose | None) -> Response:
    workspace: Workspace = request.app.state.workspace
    async with form_of(request, MOST_FIELDS, most_files=1) as form:
        sent, dropped = _sent(form), form.get("piece-file")
        content = await dropped.read() if dropped is not None and not isinstance(dropped, str) else b""
        name = file_name(dropped.filename or "") if content and not isinstance(dropped, str) and dropped else ""

    def worked() -> Response:
        if content:
            sent[UPLOAD] = _kept(workspace, name, content)

        def written(what: Purpose) -> Response:
            answers = answered(_typed(workspace, sent), what.asking)
            if answers.slips:
                return _form(request, what, sent, status=422)
            try:
                return what.write(answers)
            except TroytagError as refused:
                told = [each.headline() for each in refused.faults] if isinstance(refused, Faults) else [str(refused)]
                return _form(request, what, sent, tuple(told), 422)

        return written(purpose) if purpose else _with_purpose(request, written)

    return await run_in_threadpool(worked)


def _kept(workspace: Workspace, name: str, content: bytes) -> str:
    key = secrets.token_hex(8)
    path = workspace.scratch() / f"{key}{Path(name).suffix}"
    path.write_bytes(content)
    workspace.keep(Upload(key, path, name))
    return key


def _upload(workspace: Workspace, sent: Mapping[str, Any]) -> Upload | None:
    """The mesh that came before, None where no key of one was sent."""
    key = sent.get(UPLOAD)
    return workspace.uploads.get(key) if isinstance(key, str) else None


def _sent(form: FormData) -> dict[str, Any]:
    """What was typed, by the names of the fields; what is ticked as a list, also where nothing is."""
    ticked = [name for name in form.getlist(TICKED) if isinstance(name, str)]
    sent: dict[str, Any] = {name: [] for name in ticked}
    for name, text in form.multi_items():
        if not isinstance(text, str) or name == TICKED:
            continue
        if name in ticked:
            sent[name].append(text[:LONGEST])
        else:
            sent[name] = text[:LONGEST]
    return sent


def _typed(workspace: Workspace, sent: Mapping[str, Any]) -> dict[str, Any]:
    """The same as it is understood: what machines cost beside them, a mesh by where it lies."""
    typed: dict[str, Any] = {}
    for name, value in sent.items():
        prices = {each: sent.get(f"{PRICE_OF}{each}") or None for each in value} if isinstance(value, list) else {}
        typed[name] = prices if any(prices.values()) or name == "machines" else value
    upload = _upload(workspace, sent)
    typed["piece-file"] = str(upload.path) if upload else None
    if not str(typed.get(NAME) or "").strip():
        typed[NAME] = None
    return typed


def _form(
    request: Request,
    purpose: Purpose,
    sent: Mapping[str, Any],
    sentences: tuple[str, ...] = (),
    status: int = 200,
    template: str = "start.html",
) -> Response:
    workspace: Workspace = request.app.state.workspace
    answers = answered(_typed(workspace, sent), purpose.asking)
    told = answers.slips if status != 200 else {}  # not while somebody still types
    library = purpose.library_of(answers.said)
    fields: dict[str, list[tuple[Question, Asked]]] = {}
    if purpose.has_name:
        question = Question(NAME, "Where you are", "The workshop's name", "text", unknown=spoken(workspace.root))
        fields["Where you are"] = [(question, _asked(question, sent, told, "", spoken(workspace.root)))]
    for each in answers.asked:
        shown = _asked(each, sent, told, usual(each, library), taken(each, library))
        fields.setdefault(each.part, []).append((each, shown))
    upload = _upload(workspace, sent)
    context = StartContext(
        frame=_frame(workspace, purpose),
        title=purpose.title,
        lead=purpose.lead,
        action=purpose.action,
        again=f"{purpose.action}/form",
        button=purpose.button,
        parts=tuple(_parts(fields, purpose.has_name)),
        sentences=sentences,
        upload=upload.key if upload else "",
        upload_name=upload.name if upload else "",
    )
    return page(request, template, context, status)


def _frame(workspace: Workspace, purpose: Purpose) -> Frame:
    try:
        return frame(workspace, workspace.look(), "start", purpose.title)
    except TroytagError:
        return bare_frame(workspace, "start", purpose.title)


def _parts(fields: Mapping[str, list[tuple[Question, Asked]]], is_whole: bool) -> Iterator[PartOfForm]:
    for head, asked in fields.items():
        first = tuple(shown for question, shown in asked if question.short or not is_whole)
        more = tuple(shown for question, shown in asked if not question.short and is_whole)
        yield PartOfForm(head, first, more, any(each.trouble for each in more))


def _asked(question: Question, sent: Mapping[str, Any], slips: Mapping[str, Any], range_: str, guess: str) -> Asked:
    slip = slips.get(question.key)
    shape = {"one": "pick", "yes": "pick", "many": "ticks", "mesh": "mesh"}.get(question.kind, "text")
    is_number = question.kind in ("share", "amount", "number")
    about = f"Usual: {range_}. " if range_ else ""
    about += f"If you don't know: {guess}." if shape in ("text", "pick") else ""
    typed = sent.get(question.key, "")
    unit = f", {question.unit}" if question.unit and not range_ and shape == "text" else ""
    return Asked(
        name=question.key,
        label=f"{question.words}{unit}",
        shape=shape,
        about=about,
        typed=typed if isinstance(typed, str) else "",
        example=guess if is_number and question.guess is not None else "",
        trouble=f"{slip.problem}. {slip.mend}" if slip else "",
        is_number=is_number,
        leads=question.key in LEADING,
        choices=tuple(_choices(question, sent)),
    )


def _choices(question: Question, sent: Mapping[str, Any]) -> Iterator[Choice]:
    if question.kind == "yes":
        for value, word in (("", "I don't know"), ("yes", "yes"), ("no", "no")):
            yield Choice(value, word, sent.get(question.key, "") == value)
        return
    if question.kind == "one":
        yield Choice("", "I don't know", not sent.get(question.key))
    picked = sent.get(question.key, question.guess if question.is_list else "")
    for value, words in question.choices:
        price = f"{PRICE_OF}{value}" if question.is_priced else ""
        is_picked = value in picked if isinstance(picked, (list, tuple)) else value == picked
        short = words.partition(": ")[0] if question.is_list else words
        yield Choice(value, short, is_picked, price, str(sent.get(price, "")) if price else "")
