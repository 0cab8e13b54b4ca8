"""What was typed into a form, worked on beside the server's own turn: the same for every view that writes something."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import TroytagError
from pricing.page.forms.sent import texts_of
from pricing.page.views.faults import faulty
from pricing.page.workspace import Look, Workspace


async def with_typed(
    request: Request,
    then: Callable[[Workspace, Look, Mapping[str, str]], Response],
    most_fields: int = 20,
    most_letters: int = 2000,
) -> Response:
    """What `then` answers to the folder as it is and the texts by their fields; a folder with faults shows them.

    Raises HTTPException 400 for what is no form, is empty, or has too many fields.
    """
    workspace: Workspace = request.app.state.workspace
    typed = {name: text[:most_letters] for name, text in await texts_of(request, most_fields)}

    def worked() -> Response:
        try:
            return then(workspace, workspace.look(), typed)
        except TroytagError as error:
            return faulty(request, error)

    return await run_in_threadpool(worked)


def number_typed(typed: Mapping[str, str]) -> int | None:
    """The number of an entry as a form names it; None for what is none."""
    number = typed.get("number", "")
    return int(number) if number.isascii() and number.isdigit() and 0 < len(number) < 7 and int(number) else None
