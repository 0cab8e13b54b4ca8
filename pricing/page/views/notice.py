"""A view that has nothing to show but a sentence."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from pricing.page.framing import bare_frame
from pricing.page.rendering import Frame, page


@dataclass(frozen=True)
class SentenceContext:
    """One sentence, where a view was expected."""

    frame: Frame
    sentence: str


def missing(request: Request, sentence: str, status: int = 404) -> Response:
    """What was asked for is not there."""
    around = bare_frame(request.app.state.workspace, "", "Not here")
    return page(request, "sentence.html", SentenceContext(around, sentence), status)
