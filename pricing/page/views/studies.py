"""The studies: every question with a form made of its options, its answer in tables and a picture.

Options, answers and pictures are those of the command line (`pricing.questions`); nothing is computed here.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from urllib.parse import quote, urlencode

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import Faults, TroytagError
from pricing.folder.inherit import pieces
from pricing.formulas.headings import HEADINGS
from pricing.page.framing import frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import faulty
from pricing.page.views.notice import missing
from pricing.page.views.study_tables import TableShown, told_first
from pricing.page.workspace import Look, Workspace
from pricing.questions.every import QUESTIONS
from pricing.questions.model import Answer, Question
from pricing.questions.option import Option, Refused
from pricing.questions.subject import Subject
from pricing.studies.pictures import Drawing
from pricing.studies.prices_out import Wanted

#: So many letters are typed in one field at most.
MOST_LETTERS = 4000
#: Names from which on a list of ticks is folded, and from which on they are typed.
FEW, MANY = 8, 400


@dataclass(frozen=True)
class Choice:
    """One value that may be picked, the word for it, and whether it is picked."""

    value: str
    word: str
    is_picked: bool


@dataclass(frozen=True)
class OptionField:
    """A field of the form: how it is shown (pick, ticks, tick, line or lines), what stands in it, what is off."""

    name: str
    shape: str
    label: str
    about: str
    typed: str
    example: str
    choices: tuple[Choice, ...]
    trouble: str
    is_number: bool = False
    is_folded: bool = False


@dataclass(frozen=True)
class StudiesContext:
    """The list of all questions: address, title and what each tells."""

    frame: Frame
    questions: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class StudyContext:
    """One question: its form, and its answer once it was asked; `sentence` says what is off with none of the fields,
    `first` of how many blocks come before the pictures, each of which is drawn for a wide screen and for a narrow one.
    """

    frame: Frame
    name: str
    title: str
    about: str
    fields: tuple[OptionField, ...]
    prices: tuple[Choice, ...]
    sentence: str
    blocks: tuple[str | TableShown, ...] = ()
    heads: Mapping[str, str] = field(default_factory=dict)
    first: int = 1
    drawings: tuple[tuple[str, str], ...] = ()
    notes: tuple[str, ...] = ()
    csv: str = ""
    pictures: tuple[tuple[str, str], ...] = ()


def studies(request: Request) -> Response:
    """GET /studies: every question."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    told = [(f"/studies/{each.name}", each.title, each.about) for each in QUESTIONS.values()]
    return page(request, "studies.html", StudiesContext(frame(workspace, look, "studies", "Studies"), tuple(told)))


def study(request: Request) -> Response:
    """GET /studies/mix?ask=yes&hours=90: the form, and the answer once it was asked."""
    workspace: Workspace = request.app.state.workspace
    question = QUESTIONS.get(request.path_params["name"])
    if question is None:
        return missing(request, "There is no such study.")
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    asked, trouble, answer = request.query_params, {}, None
    if "ask" in asked:
        try:
            answer = _answered(question, look, asked)
        except TroytagError as error:
            trouble = _trouble(question, error, asked)
    return page(
        request, "study.html", _context(workspace, look, question, asked, answer, trouble), 422 if trouble else 200
    )


def table(request: Request) -> Response:
    """GET /studies/mix/table.csv?hours=90: the records of an answer, figures in full."""
    from io import StringIO

    from pricing.csv_tables import write_csv

    def made(answer: Answer) -> tuple[bytes, str]:
        text = StringIO()
        write_csv(answer.rows, text)
        return text.getvalue().encode("utf-8"), "text/csv; charset=utf-8"

    return _file(request, "csv", made)


def picture(request: Request) -> Response:
    """GET /studies/mix/picture.png?hours=90: the picture of an answer."""

    def made(answer: Answer) -> tuple[bytes, str]:
        drawing = answer.also.get(request.query_params.get("which", ""), answer.drawing)
        if drawing is None:
            raise TroytagError("there is no picture of it.")
        return drawing.files(["png"])["png"], "image/png"

    return _file(request, "png", made)


def _file(request: Request, suffix: str, made: object) -> Response:
    workspace: Workspace = request.app.state.workspace
    question = QUESTIONS.get(request.path_params["name"])
    if question is None:
        return missing(request, "There is no such study.")
    try:
        content, kind = made(_answered(question, workspace.look(), request.query_params))  # type: ignore[operator]
    except TroytagError:
        return study(request)
    named = quote(f"{workspace.root.resolve().name}-{question.name}.{suffix}")
    return Response(content, media_type=kind, headers={"Content-Disposition": f"attachment; filename*=UTF-8''{named}"})


# ---- what was asked


def _answered(question: Question, look: Look, asked: QueryParams) -> Answer:
    """The answer to what was typed. Raises TroytagError, Refused for what is off with one option."""
    said = {option.name: option.value_of(_typed(asked, option)) for option in question.options if option.on_page}
    said |= {option.name: option.default for option in question.options if not option.on_page}
    costing = look.costing
    wanted: Wanted = "asked" if question.asked_prices and asked.get("prices") == "asked" else None
    return question.answer(Subject(costing.folder, costing.asked, wanted, costing, in_names=True), said)


def _typed(asked: QueryParams, option: Option) -> list[str]:
    """What stands in the field of an option: a line each, or between commas, where it holds several."""
    texts = [text[:MOST_LETTERS] for text in asked.getlist(option.name)]
    return [each.strip() for text in texts for each in re.split(r"[\n,]", text)] if option.several else texts


def _trouble(question: Question, error: TroytagError, asked: QueryParams) -> dict[str, str]:
    """What is off, by the name of the option that it is about; "" where it is about none."""
    sentence = str(error)
    if isinstance(error, Faults):
        return {"": sentence}
    name = error.option if isinstance(error, Refused) else ""
    for option in question.options:
        if sentence.startswith(f"{option.flag} "):
            name = option.name
            _, colon, rest = sentence.partition(": ")
            sentence = rest if colon else sentence
    has_field = any(option.name == name and option.on_page for option in question.options)
    return {name if has_field else "": _in_page_words(question, sentence)}


def _in_page_words(question: Question, sentence: str) -> str:
    """A sentence with the labels of the form in the places of the flags of a command line."""

    def called(found: re.Match[str]) -> str:
        for option in question.options:
            if option.flag == found[0]:
                return f"“{option.called}”" if option.on_page else f"{found[0]} on the command line"
        return found[0]

    told = re.sub(r"--[a-z][a-z-]*", called, sentence)
    return told[:1].upper() + told[1:]


# ---- what is shown


def _context(
    workspace: Workspace,
    look: Look,
    question: Question,
    asked: QueryParams,
    answer: Answer | None,
    trouble: Mapping[str, str],
) -> StudyContext:
    prices = (
        ("", "in force" if look.going_out.edition else "as asked: none is published yet"),
        ("asked", "as asked now"),
    )
    again = urlencode([(key, value) for key, value in asked.multi_items() if key != "ask"])
    shown, first = told_first(answer.blocks, look) if answer else ((), 0)
    drawings, lacking = _drawn(answer)
    known = {head for block in shown if isinstance(block, TableShown) for head in block.heads}
    return StudyContext(
        frame=frame(workspace, look, "studies", question.title),
        name=question.name,
        title=question.title,
        about=question.about,
        fields=tuple(
            _field(option, look, asked, trouble.get(option.name, "")) for option in question.options if option.on_page
        ),
        prices=tuple(Choice(value, word, asked.get("prices", "") == value) for value, word in prices)
        if question.asked_prices and look.going_out.edition
        else (),
        sentence=trouble.get("", ""),
        blocks=shown,
        first=first,
        heads={head: meaning for head, meaning in HEADINGS.items() if head in known},
        drawings=drawings,
        notes=(*lacking, *(_in_page_words(question, note) for note in (answer.notes if answer else ()))),
        csv=f"/studies/{question.name}/table.csv?{again}" if answer else "",
        pictures=tuple(
            (f"/studies/{question.name}/picture.png?{again}{which}", drawing.title)
            for which, drawing in _with_addresses(answer)
        ),
    )


def _drawn(answer: Answer | None) -> tuple[tuple[tuple[str, str], ...], tuple[str, ...]]:
    """The pictures of an answer as pieces of the page; without what draws them a sentence in their place."""
    try:
        return tuple(
            (each.inline(f"drawn-{place}"), each.inline(f"drawn-{place}-narrow", narrow=True))
            for place, (_, each) in enumerate(_with_addresses(answer))
        ), ()
    except TroytagError as lacking:
        return (), (str(lacking),)


def _with_addresses(answer: Answer | None) -> Iterator[tuple[str, Drawing]]:
    """The pictures of an answer, each with what its address says besides."""
    if answer and answer.drawing:
        yield "", answer.drawing
        for word, drawing in answer.also.items():
            yield f"&which={quote(word)}", drawing


def _field(option: Option, look: Look, asked: QueryParams, trouble: str) -> OptionField:
    texts = _typed(asked, option)
    typed = "\n".join(texts) if option.several else (texts[0] if texts else "")
    if option.default is not None and not typed:
        typed = str(option.default)
    names = _names(option, look)
    picked = set(texts)
    choices = [Choice(value, word, value in picked) for value, word in names]
    if names and not option.several:
        choices.insert(0, Choice("", "choose one" if option.required else "the first", not picked))
        unknown = typed if typed and typed not in dict(names) else ""
        choices += [Choice(unknown, unknown, True)] if unknown else []
    if option.several:
        shape = "ticks" if names else "lines"
    else:
        shape = "tick" if option.kind == "switch" else "pick" if names else "line"
    return OptionField(
        name=option.name,
        shape=shape,
        label=option.called,
        about=option.about.replace(" (may be repeated)", ""),
        typed=typed,
        example=option.typed,
        choices=tuple(choices),
        trouble=trouble,
        is_number=option.kind in ("count", "number"),
        is_folded=len(choices) > FEW,
    )


def _names(option: Option, look: Look) -> Sequence[tuple[str, str]]:
    """What may be picked, with the word for it; none for what is typed, as names are of which there are very many."""
    found = list(_named(option, look))
    return found if len(found) <= MANY else ()


def _named(option: Option, look: Look) -> Iterable[tuple[str, str]]:
    folder = look.costing.folder
    if option.kind == "alloy":
        return [(name, alloy.name) for name, alloy in folder.stated.alloys.items()]
    if option.kind == "channel":
        return [(name, look.shown.channel(name)) for name in folder.stated.channels]
    if option.kind == "product":
        goods = {sku: product.name for sku, product in folder.goods.items()}
        sizes = {
            sku: f"{piece.product.name}, {sku.removeprefix(piece.product.sku).lstrip('-')}"
            for sku, piece in pieces(folder.products).items()
            if sku not in goods and piece.product.sku in goods
        }
        return list((goods if option.several else goods | sizes).items())
    return ()
