"""A folder with faults: each is told with its place, and leads to where it can be mended."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Fault, TroytagError
from pricing.folder.files import is_begun
from pricing.page.framing import bare_frame
from pricing.page.rendering import Frame, page
from pricing.page.workspace import Workspace, faults_of


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


def faulty(request: Request, error: TroytagError) -> Response:
    """The view of a folder that cannot be costed; of one in which nothing is begun, the way to begin."""
    workspace: Workspace = request.app.state.workspace
    if not is_begun(workspace.root):
        return RedirectResponse("/start", 303)
    faults = faults_of(error)
    context = FaultyContext(
        frame=bare_frame(workspace, "faults", "Something stands in the way"),
        sentence="" if faults else str(error),
        faults=tuple(fault_in_words(fault) for fault in faults),
    )
    return page(request, "faulty.html", context)
