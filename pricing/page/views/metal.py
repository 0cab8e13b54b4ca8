"""The view of metal: what is in force, how it moved, typing today's price, and what would move with it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, timedelta
from types import MappingProxyType
from typing import Any

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.errors import Fault, Faults, TroytagError
from pricing.folder.files import PRICES_FILE
from pricing.folder.prices.append import append_quote, typed_quote
from pricing.folder.prices.history import COLUMNS
from pricing.folder.prices.in_force import exchange_problem
from pricing.folder.prices.slips import Slip, slips, valued_by
from pricing.metal.changes import SPANS, standings
from pricing.model.quote import Quote
from pricing.page.forms.saving import stay_inside
from pricing.page.framing import frame
from pricing.page.plot import NARROW, WIDE, Plot, history
from pricing.page.rendering import Frame, minus, moved, page
from pricing.page.stamps import Stamp
from pricing.page.views.faults import faulty
from pricing.page.views.typed import with_typed
from pricing.page.workspace import Look, Workspace
from pricing.shown import metal_named, metal_said, quoted_in, quoted_price
from pricing.studies.repricing.would_move import would_move as would_move_with

#: Lengths of the history that may be asked for, in days, by the word for them.
REACHES: Mapping[str, int] = MappingProxyType({"a month": 31, "a quarter": 92, "a year": 366, "all of it": 0})
#: Rows of the history's table, and of what would move.
MOST_QUOTES, MOST_MOVES = 120, 25
PERS = ("ozt", "dwt", "g", "kg", "lb", "t", "unit")
NONE: Mapping[str, str] = MappingProxyType({})


@dataclass(frozen=True)
class MetalLine:
    """One metal or currency in force: its price, its age, how it moved over a week, a month and a year."""

    name: str
    called: str
    price: str
    unit: str
    day: str
    age: str
    is_old: bool
    changes: tuple[str, ...]


@dataclass(frozen=True)
class Move:
    """A price that would move: what is in force (or asked now), what would be asked, and the verdict."""

    name: str
    alloy: str
    stamp: Stamp | None
    channel: str
    before: str
    after: str
    by: str
    verdict: str


@dataclass(frozen=True)
class MovesContext:
    """What would move with the price that is typed; `sentence` says it in words, `trouble` why it cannot be told."""

    sentence: str
    trouble: tuple[str, ...]
    costs: str
    moves: tuple[Move, ...]
    more: int


@dataclass(frozen=True)
class MetalContext:
    """The view: `chosen` is the metal that is plotted (for a wide screen and for a narrow one), `known` the names that
    may be typed, `typed` the fields as they stand, `beside` faults by field
    ("" for the file itself);
    `sources` are the maker's own, by name."""

    frame: Frame
    standings: tuple[MetalLine, ...]
    spans: tuple[str, ...]
    chosen: str
    chosen_called: str
    reach: str
    reaches: tuple[str, ...]
    plots: tuple[Plot, ...]
    known: tuple[str, ...]
    quotes: tuple[tuple[str, str, str, str], ...]
    quotes_left: int
    typed: Mapping[str, str]
    pers: tuple[str, ...]
    beside: Mapping[str, str]
    asks: str
    sources: tuple[str, ...]
    moves: MovesContext | None


def metal(request: Request) -> Response:
    """GET /metal?metal=Ag&reach=a+year."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    return _page(request, workspace, look, request.query_params.get("metal", ""))


async def would_move(request: Request) -> Response:
    """POST /metal/moves: what would move with the price that stands in the form."""

    def looked_ahead(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        if not typed.get("price", "").strip():
            return page(
                request, "metal_moves.html", MovesContext("Type a price to see what would move.", (), "", (), 0)
            )
        try:
            quote = _understood(look, typed)
        except Faults as found:
            trouble = tuple(f"{fault.key}: {fault.problem}. {fault.mend}" for fault in found.faults)
            return page(request, "metal_moves.html", MovesContext("", trouble, "", (), 0))
        return page(request, "metal_moves.html", _moves(look, quote))

    return await with_typed(request, looked_ahead, most_letters=200)


async def add(request: Request) -> Response:
    """POST /metal: add the typed price to the history."""

    def added(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        try:
            quote = _understood(look, typed)
            found = () if typed.get("sure") == "yes" else _slips(look, quote, typed["price"].strip())
            if asks := " ".join(slip.asked("say so below") for slip in found):
                return _page(request, workspace, look, quote.metal, typed, NONE, asks, 422)
            stay_inside(workspace.root, PRICES_FILE)
            append_quote(workspace.root, quote, typed.get("price", "").strip())
        except Faults as found:
            beside = {fault.key if fault.key in COLUMNS else "": _told(fault) for fault in found.faults}
            return _page(request, workspace, look, metal_said(typed.get("metal", "")), typed, beside, "", 422)
        workspace.note(
            f"Added: {metal_named(quote.metal)} {typed['price'].strip()} {quoted_in(quote)} of {quote.date}."
        )
        from urllib.parse import quote as quoted

        return RedirectResponse(f"/metal?metal={quoted(quote.metal)}", 303)

    return await with_typed(request, added, most_letters=200)


def _understood(look: Look, typed: Mapping[str, str]) -> Quote:
    texts = {name: value.strip() for name, value in typed.items()}
    quote = typed_quote({**texts, "metal": metal_said(texts.get("metal", ""))})
    if problem := exchange_problem(quote, look.shown.currency):
        from pricing.errors import Place

        raise Faults([Fault(Place(PRICES_FILE), *problem)])
    return quote


def _told(fault: Fault) -> str:
    """A fault beside the field that it is about; one of the file itself names the file."""
    of_field = f"{fault.problem}. {fault.mend}".strip()
    return of_field if fault.key in COLUMNS else f"Nothing was added. {fault.place}: {of_field}"


def _slips(look: Look, quote: Quote, number: str) -> Iterator[Slip]:
    stated = look.costing.folder.stated
    return slips(quote, stated.quotes, valued_by(stated.alloys), stated.workshop.currency, number)


def _moves(look: Look, quote: Quote) -> MovesContext:
    """What would move if this quote stood in the folder's history."""
    found, shown = would_move_with(look.costing, look.edition, quote), look.shown
    moves = tuple(
        Move(
            *look.called(each.sku, each.alloy),
            shown.channel(each.channel),
            shown.price(each.channel, each.before),
            shown.price(each.channel, each.after),
            "" if each.by is None else moved(each.by),
            each.verdict,
        )
        for each in found.moves[:MOST_MOVES]
    )
    return MovesContext(found.counted, (), minus(found.costs_in_words), moves, len(found.moves) - len(moves))


def _page(
    request: Request,
    workspace: Workspace,
    look: Look,
    chosen: str,
    typed: Mapping[str, str] = NONE,
    beside: Mapping[str, str] = NONE,
    asks: str = "",
    status: int = 200,
) -> Response:
    stated, today = look.costing.folder.stated, look.costing.asked.as_of
    found = standings(stated.quotes, today, look.shown.currency)
    names = [each.quote.metal for each in found]
    chosen = chosen if chosen in names else next(iter(names), "")
    reach = request.query_params.get("reach", "a year")
    reach = reach if reach in REACHES else "a year"
    now = next((each.quote for each in found if each.quote.metal == chosen), None)
    plots: tuple[Plot, ...] = ()
    own: list[Quote] = []
    if now is not None:
        own = sorted(
            (
                each
                for each in stated.quotes
                if each.metal == chosen and each.date <= today and each.per == now.per and each.currency == now.currency
            ),
            key=lambda each: each.date,
        )
        plots = _plots(now, own, today, REACHES[reach])
    fields = {
        "metal": metal_named(chosen),
        "per": now.per if now else "ozt",
        "currency": now.currency if now else "",
        "date": today.isoformat(),
        "price": "",
        "source": "",
    }
    context = MetalContext(
        frame=frame(workspace, look, "metal", "Metal"),
        standings=tuple(_standing(each, stated.workshop.stale_after_days) for each in found),
        spans=tuple(SPANS),
        chosen=chosen,
        chosen_called=metal_named(chosen),
        reach=reach,
        reaches=tuple(REACHES),
        plots=plots,
        known=tuple(metal_named(name) for name in dict.fromkeys([*names, *valued_by(stated.alloys)])),
        quotes=tuple(
            (each.date.isoformat(), quoted_price(each), quoted_in(each), each.source)
            for each in reversed(own[-MOST_QUOTES:])
        ),
        quotes_left=max(0, len(own) - MOST_QUOTES),
        typed={**fields, **{name: typed[name] for name in fields if name in typed}},
        pers=PERS,
        beside=beside,
        asks=asks,
        sources=tuple(stated.workshop.sources),
        moves=None,
    )
    return page(request, "metal.html", context, status)


def _plots(now: Quote, own: list[Quote], today: date, days: int) -> tuple[Plot, ...]:
    """The history as it is drawn on a wide screen, and on a narrow one; none where nothing was quoted so lately."""
    first = today - timedelta(days=days) if days else own[0].date
    by_day = {each.date: each.price for each in own}  # of one day the last line counts
    points = sorted((day, price) for day, price in by_day.items() if day >= first)
    earlier = [(day, price) for day, price in sorted(by_day.items()) if day < first]
    if earlier:
        points.insert(0, (first, earlier[-1][1]))
    if not points:
        return ()
    unit = quoted_in(now)
    title = f"{metal_named(now.metal)}, {unit}"
    return tuple(history(title, unit, first, today, points, room) for room in (WIDE, NARROW))


def _standing(found: Any, stale: float) -> MetalLine:
    quote, age = found.quote, found.age_days
    words = {0: "today", 1: "1 day"}
    return MetalLine(
        name=quote.metal,
        called=metal_named(quote.metal),
        price=quoted_price(quote),
        unit=quoted_in(quote),
        day=quote.date.isoformat(),
        age=words.get(age, f"{age} days"),
        is_old=age > stale,
        changes=tuple("" if found.changes[span] is None else moved(found.changes[span]) for span in SPANS),
    )
