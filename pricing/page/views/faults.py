"""A folder with faults: each is told with its place, and leads to where it can be mended."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Fault, TroytagError
from pricing.folder.files import is_begun
from pricing.page.framing import bare_frame
from pricing.page.rendering import Frame, page
from pricing.page.workspace import StillReading, Workspace, faults_of


@dataclass(frozen=True)
class FaultInWords:
    """A fault as it is shown: `place` in words, the line it stands on, and the address where it can be mended."""

    place: str
    line: str
    key: str
    problem: str
    mend: str
    address: str


@dataclass(frozen=True)
class FaultyContext:
    """Everything that stands in the way."""

    frame: Frame
    sentence: str
    faults: tuple[FaultInWords, ...]


def fault_in_words(fault: Fault) -> FaultInWords:
    """One fault as it is shown."""
    place = fault.place
    is_text = place.file.endswith((".toml", ".csv"))
    address = f"/edit/{place.file}" + (f"?line={place.line}" if place.line else "") if is_text else ""
    return FaultInWords(str(place), (place.text or "").strip()[:200], fault.key, fault.problem, fault.mend, address)


@dataclass(frozen=True)
class ReadingContext:
    """What is being done before there is anything to show."""

    frame: Frame
    doing: str


def reading(request: Request) -> Response:
    """GET /reading: what is being done just now; once it is done the view is asked for again."""
    workspace: Workspace = request.app.state.workspace
    try:
        workspace.look()
    except StillReading as error:
        return _reading(request, workspace, error, "reading_now.html")
    except TroytagError:
        pass  # the view that is asked for again tells it
    return Response(headers={"HX-Refresh": "true", "Cache-Control": "no-store"})


def _reading(request: Request, workspace: Workspace, error: StillReading, template: str) -> Response:
    context = ReadingContext(bare_frame(workspace, "reading", "Reading the workshop"), str(error))
    answer = page(request, template, context)
    answer.headers["Cache-Control"] = "no-store"
    return answer


def faulty(request: Request, error: TroytagError) -> Response:
    """The view of a folder that cannot be costed, or not yet; of one in which nothing is begun, the way to begin."""
    workspace: Workspace = request.app.state.workspace
    if not is_begun(workspace.root):
        return RedirectResponse("/start", 303)
    if isinstance(error, StillReading):
        return _reading(request, workspace, error, "reading.html")
    faults = faults_of(error)
    context = FaultyContext(
        frame=bare_frame(workspace, "faults", "Something stands in the way"),
        sentence="" if faults else str(error),
        faults=tuple(fault_in_words(fault) for fault in faults),
    )
    return page(request, "faulty.html", context)
