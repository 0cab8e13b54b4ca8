"""The view of break-even: how far metal may move until a price earns its least margin only, or nothing."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import Response

from pricing.errors import TroytagError
from pricing.page.framing import frame
from pricing.page.plot import Reaches, ReachLine, reaches
from pricing.page.rendering import Frame, minus, page
from pricing.page.stamps import Stamp
from pricing.page.views.csv_file import csv_file
from pricing.page.views.faults import faulty
from pricing.page.workspace import Look, Workspace
from pricing.shown import metal_at, metal_named, percent
from pricing.studies.break_even.reach import BreakEven, line_records
from pricing.studies.break_even.told import cells, summary

PAGE_ROWS = 60


@dataclass(frozen=True)
class OverviewLine:
    """A variant: how far all its metals may rise together, by channel; "" where it is not sold."""

    name: str
    alloy: str
    stamp: Stamp | None
    cells: tuple[str, ...]
    address: str
    is_chosen: bool


@dataclass(frozen=True)
class PieceInWords:
    """One variant by channel and metal: its price, what it earns, and where the two margins are reached.

    A cell of `lines` is what it says and, smaller, how far that is from today.
    """

    name: str
    alloy: str
    stamp: Stamp | None
    quotes: str
    heads: tuple[str, ...]
    lines: tuple[tuple[tuple[str, str], ...], ...]
    plot: Reaches | None


@dataclass(frozen=True)
class BreakEvenContext:
    """The overview, a page of it, and the variant that is looked at closely; `basis` says which prices these are."""

    frame: Frame
    basis: str
    is_asked: bool
    channels: tuple[str, ...]
    lines: tuple[OverviewLine, ...]
    query: str
    count: int
    number: int
    pages: int
    before: str
    after: str
    piece: PieceInWords | None


def break_even(request: Request) -> Response:
    """GET /break-even?query=…&prices=asked&sku=…&alloy=…&number=…"""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
        is_asked = request.query_params.get("prices") == "asked"
        found = look.break_even_asked if is_asked else look.break_even
    except TroytagError as error:
        return faulty(request, error)
    return page(request, "break_even.html", _context(request, workspace, look, found, is_asked))


def table(request: Request) -> Response:
    """GET /break-even/table.csv?prices=asked: the records of the command, figures in full."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
        found = look.break_even_asked if request.query_params.get("prices") == "asked" else look.break_even
    except TroytagError as error:
        return faulty(request, error)
    return csv_file(workspace, "break-even", list(line_records(found)))


def _context(
    request: Request, workspace: Workspace, look: Look, found: tuple[BreakEven, ...], is_asked: bool
) -> BreakEvenContext:
    asked = request.query_params
    query = asked.get("query", "").strip()[:120]
    texts = dict(zip(((each.sku, each.alloy) for each in look.costing.computed.resolved.variants), look.texts,
                     strict=True))  # fmt: skip
    by_variant: dict[tuple[str, str], list[BreakEven]] = {}
    for each in found:
        by_variant.setdefault((each.sku, each.alloy), []).append(each)
    words = query.casefold().split()
    matching = [key for key in by_variant if all(word in texts.get(key, "") for word in words)]
    matching.sort(key=lambda key: (look.products[key[0]].name.casefold(), key[0]))  # alloys as they are stated
    pages = max(1, -(-len(matching) // PAGE_ROWS))
    wanted = asked.get("number", "1")
    number = min(max(1, int(wanted) if wanted.isascii() and wanted.isdigit() and len(wanted) < 7 else 1), pages)
    listed = matching[(number - 1) * PAGE_ROWS : number * PAGE_ROWS]
    choice = {"query": query, **({"prices": "asked"} if is_asked else {})}

    def address(**more: str | int) -> str:
        return "/break-even?" + urlencode({**choice, **more})

    chosen = (asked.get("sku", ""), asked.get("alloy", ""))
    chosen = chosen if chosen in by_variant else next(iter(listed), ("", ""))
    channels = list(dict.fromkeys(each.channel for each in found))
    edition = None if is_asked else look.edition
    return BreakEvenContext(
        frame=frame(workspace, look, "break-even", "Break-even"),
        basis=f"edition {edition.number} of {edition.as_of}" if edition else "what the policy asks",
        is_asked=is_asked,
        channels=tuple(map(look.shown.channel, channels)),
        lines=tuple(
            OverviewLine(
                *look.called(*key),
                tuple({each.channel: summary(each) for each in by_variant[key]}.get(name, "") for name in channels),
                address(number=number, sku=key[0], alloy=key[1]) + "#piece",
                key == chosen,
            )
            for key in listed
        ),
        query=query,
        count=len(matching),
        number=number,
        pages=pages,
        before=address(number=number - 1) if number > 1 else "",
        after=address(number=number + 1) if number < pages else "",
        piece=_piece(look, by_variant[chosen]) if chosen in by_variant else None,
    )


def _piece(look: Look, own: list[BreakEven]) -> PieceInWords:
    quotes = {
        line.metal: metal_at(line.metal, line.now, line.currency, line.per)
        for each in own
        for line in each.lines
        if line.metal and line.now is not None
    }
    one_metal = all(len(each.lines) <= 1 for each in own)  # it is named above
    heads = ("price", "earns", *(() if one_metal else ("metal",)), "least", "left at", "gone at")
    name, alloy, stamp = look.called(own[0].sku, own[0].alloy)
    return PieceInWords(
        name=name,
        alloy=alloy,
        stamp=stamp,
        quotes=", ".join(quotes.values()) or "no metal in it has a price",
        heads=heads,
        lines=tuple(_lines(look, own, one_metal)),
        plot=_plot(look, own),
    )


def _lines(look: Look, own: list[BreakEven], one_metal: bool) -> Iterator[tuple[tuple[str, str], ...]]:
    shown = look.shown
    for each in own:
        for place, line in enumerate(each.lines or (None,)):
            named = () if one_metal else (metal_named(line.metal) if line and line.metal else "all together",)
            floor = "" if each.least_margin is None else percent(each.least_margin)
            head = (shown.channel(each.channel), shown.price(each.channel, each.price), minus(percent(each.margin)))
            reached = (cells(line.at_least), cells(line.at_nothing)) if line else (("", ""), ("no metal", ""))
            plain = (*(head if place == 0 else ("", "", "")), *named, floor)
            yield *((cell, "") for cell in plain), *_reached(reached)


def _reached(found: Iterable[tuple[str, str]]) -> Iterator[tuple[str, str]]:
    """Where margins are reached, each with how far that is from today below it."""
    for at, far in found:
        yield minus(at or far), minus(far) if at else ""


def _plot(look: Look, own: list[BreakEven]) -> Reaches | None:
    """For each channel how far all metals together may rise; None where no metal has a price."""
    lines = []
    for each in own:
        line = each.all_metals
        if line is None:
            continue
        least, nothing = (reach.times if reach else None for reach in (line.at_least, line.at_nothing))
        told = f"earns its least until {cells(line.at_least)[1] or 'below'}, " if line.at_least else ""
        words = f"{look.shown.channel(each.channel)}: {told}something until {cells(line.at_nothing)[1] or 'below'}"
        lines.append(ReachLine(look.shown.channel(each.channel), least, nothing, words))
    return reaches("How far the metal may move, in times today's price", lines) if lines else None
