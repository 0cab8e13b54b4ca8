"""The metal drawer: what lies in it, what was paid and what it is worth today; weighing in and out."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.drawer.adding import doubts, write_entry
from pricing.drawer.model import FORMS, MONEY, WHATS, Entry, KeptEntry
from pricing.drawer.on_hand import read_drawer
from pricing.drawer.read import read_every_entry
from pricing.drawer.state import Drawer, Move
from pricing.drawer.typed import said_of, typed_entry
from pricing.drawer.worth import Lying, lying, total
from pricing.errors import Faults, TroytagError
from pricing.page.framing import frame
from pricing.page.rendering import Frame, minus, page
from pricing.page.views.faults import faulty
from pricing.page.views.typed import number_typed, with_typed
from pricing.page.workspace import Look, Workspace
from pricing.shown import NOTHING

NONE: Mapping[str, str] = MappingProxyType({})
#: So many of the newest entries are shown.
MOST_MOVES = 30
#: The fields of the form.
FIELDS = ("what", "alloy", "form", "grams", "money", "currency", "day", "note", "corrects")


@dataclass(frozen=True)
class LyingLine:
    """What lies there of one alloy and form, as it is shown."""

    alloy: str
    form: str
    grams: str
    is_short: bool
    paid_per_g: str
    cost_paid: str
    today_per_g: str
    today: str


@dataclass(frozen=True)
class MoveLine:
    """One line of an entry, as it is shown."""

    number: int
    day: str
    what: str
    metal: str
    grams: str
    after: str
    cost: str
    note: str
    is_by_itself: bool


@dataclass(frozen=True)
class DrawerContext:
    """The view: `typed` are the fields as they stand, `beside` faults by field, `asks` what looks like a slip."""

    frame: Frame
    lines: tuple[LyingLine, ...]
    cost_paid: str
    today: str
    mass: str
    moves: tuple[MoveLine, ...]
    moves_left: int
    whats: tuple[tuple[str, str], ...]
    alloys: tuple[tuple[str, str], ...]
    forms: tuple[str, ...]
    money: tuple[str, ...]
    typed: Mapping[str, str]
    beside: Mapping[str, str]
    asks: str


def drawer(request: Request) -> Response:
    """GET /drawer, or with correct=N: what an entry says, to be corrected."""
    workspace: Workspace = request.app.state.workspace
    number = request.query_params.get("correct", "")
    try:
        look, drawer = workspace.look(), read_drawer(workspace.root)
        entries = (move.entry for move in drawer.moves if str(move.entry.number) == number)
        said = next((said_of(entry) for entry in entries if is_by_itself(entry)), None)
        typed = NONE if said is None else {**said, "corrects": number}
        return _page(request, workspace, look, drawer, typed)
    except TroytagError as error:
        return faulty(request, error)


async def add(request: Request) -> Response:
    """POST /drawer: write down what was weighed."""

    def added(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        try:
            entry = typed_entry(typed, look.costing.folder.stated, look.costing.computed)
        except Faults as found:
            beside = {fault.key: f"{fault.problem}. {fault.mend}".strip() for fault in found.faults}
            return _page(request, workspace, look, read_drawer(workspace.root), typed, beside, "", 422)
        slips = (
            ()
            if typed.get("sure") == "yes"
            else tuple(doubts(read_every_entry(workspace.root), entry, workspace.today))
        )
        if slips:
            asks = f"{'. '.join(slips)}. If it is right, say so below."
            return _page(request, workspace, look, read_drawer(workspace.root), typed, NONE, asks, 422)
        kept = write_entry(workspace.root, entry)
        line = entry.lines[0]
        held = read_drawer(workspace.root, max(kept.day, workspace.today)).of(line.alloy, line.form)
        now = "now" if kept.day <= workspace.today else f"on {kept.day}"
        workspace.note(
            f"Entry {kept.number} is written down. There are {minus(look.shown.mass(held.grams))} of {line.form} "
            f"{look.alloy(line.alloy)} {now}."
        )
        return RedirectResponse("/drawer", 303)

    return await with_typed(request, added)


async def strike(request: Request) -> Response:
    """POST /drawer/strike: strike an entry out that was written down by mistake."""

    def struck(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        number = number_typed(typed)
        if number is None:
            return RedirectResponse("/drawer", 303)
        entry = Entry(day=workspace.today, currency=look.shown.currency, corrects=number)
        write_entry(workspace.root, entry)
        workspace.note(f"Entry {number} is struck out: it stays in its file and counts no more.")
        return RedirectResponse("/drawer", 303)

    return await with_typed(request, struck)


def _page(
    request: Request,
    workspace: Workspace,
    look: Look,
    drawer: Drawer,
    typed: Mapping[str, str] = NONE,
    beside: Mapping[str, str] = NONE,
    asks: str = "",
    status: int = 200,
) -> Response:
    stated, shown = look.costing.folder.stated, look.shown
    found = lying(read_drawer(workspace.root, workspace.today), look.costing.computed)  # what is to come lies not there
    moves = drawer.moves[::-1]
    fields = dict.fromkeys(FIELDS, "") | {"what": "bought", "day": workspace.today.isoformat()}
    context = DrawerContext(
        frame=frame(workspace, look, "drawer", "Drawer"),
        lines=tuple(_line(each, look) for each in found),
        cost_paid=minus(shown.money(total([each.held.cost_paid for each in found]))),
        today=minus(shown.money(total([each.today for each in found]))),
        mass=shown.show.mass,
        moves=tuple(_move(move, look) for move in moves[:MOST_MOVES]),
        moves_left=max(0, len(moves) - MOST_MOVES),
        whats=tuple((what, f"{what}: {said}") for what, (said, _) in WHATS.items()),
        alloys=tuple((name, alloy.name) for name, alloy in stated.alloys.items()),
        forms=tuple(FORMS),
        money=tuple(f"{what}: {said}" for what, said in MONEY.items()),
        typed={**fields, **{name: typed[name] for name in fields if name in typed}},
        beside=beside,
        asks=asks,
    )
    return page(request, "drawer.html", context, status)


def _line(each: Lying, look: Look) -> LyingLine:
    shown = look.shown
    return LyingLine(
        look.alloy(each.alloy),
        each.form,
        minus(shown.mass(each.held.grams, unit=False)),
        each.held.grams < 0,
        per_g(each.held.average),
        shown.money(each.held.cost_paid),
        per_g(each.today_per_g),
        shown.money(each.today),
    )


def per_g(amount: float | None) -> str:
    """An amount for a gram, with four digits."""
    return NOTHING if amount is None else f"{amount:,.4f}"


def _move(move: Move, look: Look) -> MoveLine:
    entry, line, shown = move.entry, move.line, look.shown
    cost = move.cost_moved
    told = (f"batch {entry.batch}" if entry.batch else "", f"corrects {entry.corrects}" if entry.corrects else "")
    return MoveLine(
        entry.number,
        entry.day.isoformat(),
        line.what,
        f"{line.form}, {look.alloy(line.alloy)}",
        minus(shown.mass(move.moved_g, unit=False, signed=True)),
        minus(shown.mass(move.after.grams, unit=False)),
        minus(shown.money(cost, signed=True)),
        ", ".join(filter(None, (*told, entry.note))),
        is_by_itself(entry) and line is entry.lines[0],
    )


def is_by_itself(entry: KeptEntry) -> bool:
    """Whether it was typed here or as here: of one line, and not what a batch took."""
    return entry.batch is None and len(entry.lines) == 1
