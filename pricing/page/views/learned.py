"""What the log says against the files, and the maker's word for it, figure by figure."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.batches.read import read_log
from pricing.errors import TroytagError
from pricing.learning import in_words
from pricing.learning.learned import learn
from pricing.learning.proposing import accepted, proposal
from pricing.learning.rows import Learned, Learning
from pricing.page.forms.saving import stay_inside
from pricing.page.forms.sent import texts_of
from pricing.page.framing import frame
from pricing.page.rendering import Frame, is_part, page
from pricing.page.views.faults import faulty
from pricing.page.workspace import Look, Workspace
from pricing.workbook.back.writing import write

#: What a form says that means all of them.
ALL = "*"
MOVED = "The log or the files changed since you looked, so nothing was written. Look again, then accept."


@dataclass(frozen=True)
class LearnedLine:
    """One figure: its name and words, what is stated and was seen, what holds now, and what else there is to say.

    `mark` goes along with the maker's word: the figures that it is about. It is empty where too little is known.
    """

    name: str
    words: str
    seen: str
    now: str
    remarks: tuple[str, ...]
    own: tuple[str, ...]
    mark: str


@dataclass(frozen=True)
class LearnedContext:
    """The figures that would be others, those that are only surer, those of which too little is known."""

    frame: Frame
    heading: str
    fading: str
    groups: tuple[tuple[str, tuple[LearnedLine, ...]], ...]
    nothing: str
    notes: tuple[str, ...]
    mark: str
    moved: str


def learned(request: Request) -> Response:
    """GET /log/learned."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
        return _shown(request, workspace, look, _learning(workspace, look))
    except TroytagError as error:
        return faulty(request, error)


async def accept(request: Request) -> Response:
    """POST /log/learned: write one figure into the files, or all of them, and how sure they are."""
    workspace: Workspace = request.app.state.workspace
    fields = dict(await texts_of(request, 4))

    def written() -> Response:
        try:
            look = workspace.look()
            learning = _learning(workspace, look)
            name = fields.get("name", "")
            known = {row.name: row for row in learning.rows if not row.is_too_little}
            rows = tuple(known.values()) if name == ALL else (known[name],) if name in known else ()
            if not rows or fields.get("mark") != _mark(learning, rows):
                return _shown(request, workspace, look, learning, MOVED, 409)
            found = proposal(learning, accepted(learning, [row.name for row in rows]))
            for file in found.files:
                stay_inside(workspace.root, file)
            write(found, "learning from the log")
            said = f"{rows[0].words}, is {rows[0].to:g} now" if len(rows) == 1 else f"{len(rows)} figures are written"
            workspace.note(f"{said}, and how sure it is: {', '.join(found.files)}.")
            return RedirectResponse("/log/learned", 303)
        except TroytagError as error:
            return faulty(request, error)

    return await run_in_threadpool(written)


def _learning(workspace: Workspace, look: Look) -> Learning:
    return learn(look.costing, read_log(workspace.root), workspace.today)


def _mark(learning: Learning, rows: Sequence[Learned]) -> str:
    """Stands for what was shown: other figures have another."""
    told = [(row.name, row.stated, row.to, row.range, learning.newest) for row in rows]
    return hashlib.sha256(repr(told).encode()).hexdigest()[:32]


def _shown(
    request: Request, workspace: Workspace, look: Look, learning: Learning, moved: str = "", status: int = 200
) -> Response:
    ready = tuple(row for row in learning.rows if not row.is_too_little)
    groups = (
        ("Other than stated", learning.others),
        ("As stated; only surer", learning.surer),
        ("Too little to say anything yet", learning.too_little),
    )
    context = LearnedContext(
        frame=frame(workspace, look, "log", "Learned"),
        heading=in_words.heading(learning),
        fading=in_words.fading(learning),
        groups=tuple((title, tuple(_line(learning, look, row) for row in rows)) for title, rows in groups if rows),
        nothing=in_words.nothing_new(learning),
        notes=learning.notes,
        mark=_mark(learning, ready) if len(ready) > 1 else "",
        moved=moved,
    )
    return page(request, "learned_rows.html" if is_part(request) else "learned.html", context, status)


def _line(learning: Learning, look: Look, row: Learned) -> LearnedLine:
    return LearnedLine(
        name=row.name,
        words=row.words,
        seen=in_words.seen(row),
        now="" if row.is_too_little else in_words.now(row),
        remarks=tuple(in_words.remarks(row, look.shown)),
        own=() if row.is_too_little else tuple(in_words.own_words(row, own) for own in row.own),
        mark="" if row.is_too_little else _mark(learning, [row]),
    )
