"""The work behind a figure: symbols, the numbers put in, the result, and all that leads to it."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from pricing.formulas.engine import Computed
from pricing.formulas.work import Work, Worker, result_words
from pricing.page.rendering import page
from pricing.page.views.design import with_computed
from pricing.page.workspace import Look

#: So many figures behind one are shown.
MOST_BEHIND = 300


@dataclass(frozen=True)
class WorkInWords:
    """One figure's work; `place` says where ("pour", "stall")."""

    quantity: str
    place: str
    meaning: str
    symbols: str
    numbers: str
    result: str


@dataclass(frozen=True)
class WorkContext:
    """The figure asked for, and what it comes from in the order in which it is worked out."""

    title: str
    asked: tuple[WorkInWords, ...]
    behind: tuple[WorkInWords, ...]


async def work(request: Request) -> Response:
    """POST /design/work?quantity=…&alloy=…&channel=…: how a figure of the draft came about."""
    asked = request.query_params

    def worked_out(look: Look, computed: Computed) -> Response:
        resolved = computed.resolved
        name = asked.get("quantity", "")
        rows = [
            row
            for row, each in enumerate(resolved.variants)
            if each.alloy == asked.get("alloy") and (each.size or "") == asked.get("size", "")
        ]
        channels = [each.name for each in resolved.channels]
        if not rows or name not in computed.graph.quantities:
            return Response("", 200)
        worker = Worker(computed)
        is_of_channel = worker.is_of_channel(name)
        if is_of_channel and asked.get("channel") not in channels:
            return Response("", 200)
        column = channels.index(asked["channel"]) if is_of_channel else None
        own = tuple(work_in_words(each, look.shown.currency) for each in worker.each([name], rows[0], column))
        behind = [work_in_words(each, look.shown.currency) for each in worker.behind([name], rows[0], column)]
        title = look.costing.folder.stated.alloys[resolved.variants[rows[0]].alloy].name
        where = f", {asked['channel']}" if is_of_channel else ""
        kept = tuple(each for each in behind if each not in own)[-MOST_BEHIND:]
        return page(request, "work.html", WorkContext(f"{name}, {title}{where}", own, kept))

    return await with_computed(request, worked_out)


def work_in_words(work: Work, currency: str) -> WorkInWords:
    """The work as it is shown; `currency` is the workshop's."""
    return WorkInWords(
        work.quantity, work.place, work.meaning, work.symbols, work.numbers, result_words(work, currency)
    )
