"""The batch log: every batch with its mass balance, one of them whole, and a card to fill in."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any
from urllib.parse import urlencode

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response

from pricing.batches.adding import computed_on, prepared, write_batch
from pricing.batches.balance import balances, missing_in_all
from pricing.batches.cards import fitting, shared, shares
from pricing.batches.in_words import in_a_sentence, minutes_in_all
from pricing.batches.matching import products_of, steps_in
from pricing.batches.model import Batch, Card
from pricing.batches.read import read_log
from pricing.drawer.on_hand import read_drawer
from pricing.drawer.read import STOCK
from pricing.errors import Faults, Place, TroytagError
from pricing.folder.typed_values import built, count, day_typed, mass
from pricing.kept.chain import numbers
from pricing.model.stated import Stated
from pricing.page.framing import frame
from pricing.page.rendering import Frame, minus, page
from pricing.page.views.faults import faulty
from pricing.page.views.typed import number_typed, with_typed
from pricing.page.workspace import Look, Workspace
from pricing.shown import percent
from pricing.studies.actual.variance import COLUMNS, in_words, variances

NONE: Mapping[str, str] = MappingProxyType({})
#: So many of the newest batches are shown; so many products can stand on one card here.
MOST_BATCHES, MOST_PIECES = 60, 4
#: What is weighed of a flask, and what each is called.
WEIGHED: Mapping[str, str] = MappingProxyType(
    {
        "fresh_g": "Fresh metal in",
        "returned_g": "Returned metal in",
        "back_g": "Button and sprues back",
        "castings_g": "Good castings, as cast",
        "rejected_g": "Spoiled castings",
        "lemel_g": "Filings swept up",
    }
)
OF_PIECES = ("sku", "started", "rejected")
#: What a card may say of castings, and this form does not ask.
NOT_TYPED = ("size", "since", "up_to", "castings_g", "finished_g", "minutes")


@dataclass(frozen=True)
class BatchLine:
    """One alloy of a batch, as it is shown."""

    number: int
    day: str
    alloy: str
    charge: str
    castings: str
    back: str
    rejected: str
    missing: str
    share: str
    expected: str
    money: str


@dataclass(frozen=True)
class WholeBatch:
    """One batch with all that was written down of it."""

    number: int
    day: str
    note: str
    flasks: tuple[tuple[str, ...], ...]
    pieces: tuple[tuple[str, ...], ...]
    minutes: tuple[tuple[str, str], ...]
    sentences: tuple[str, ...]
    can_be_typed: bool


@dataclass(frozen=True)
class LogContext:
    """The view: `typed` are the fields of the card as they stand, `beside` faults by field, `asks` what looks like a
    slip; `has_drawer` whether a metal drawer is kept, from which the charge is taken."""

    frame: Frame
    batches: tuple[BatchLine, ...]
    batches_left: int
    sentences: tuple[str, ...]
    mass: str
    columns: tuple[str, ...]
    variance: tuple[tuple[str, tuple[str, ...]], ...]
    left_out: tuple[str, ...]
    chosen: WholeBatch | None
    alloys: tuple[tuple[str, str], ...]
    weighed: Mapping[str, str]
    products: tuple[tuple[str, str], ...]
    places: tuple[int, ...]
    steps: tuple[str, ...]
    typed: Mapping[str, str]
    beside: Mapping[str, str]
    asks: str
    has_drawer: bool


def log(request: Request) -> Response:
    """GET /log?batch=N, or with correct=N: the card of that batch, to be corrected; or with fields of a new card."""
    workspace: Workspace = request.app.state.workspace
    chosen = request.query_params.get("correct", "") or request.query_params.get("batch", "")
    try:
        typed = NONE
        if begun := {name: text[:400] for name, text in request.query_params.items() if name in field_names()}:
            typed = {**begun, "corrects": "", "stock": "yes"}
        if request.query_params.get("correct"):
            found = (fields_of(batch) for batch in read_log(workspace.root) if str(batch.number) == chosen)
            typed = next((fields for fields in found if fields is not None), NONE)
        return _page(request, workspace, workspace.look(), chosen, typed)
    except TroytagError as error:
        return faulty(request, error)


async def add(request: Request) -> Response:
    """POST /log: write a filled card down."""

    def added(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        folder = look.costing.folder
        try:
            card = typed_card(typed, folder.stated)
        except Faults as found:
            beside: dict[str, str] = {}
            for fault in found.faults:
                beside.setdefault(_field(fault.key), f"{fault.problem}. {fault.mend}".strip())
            return _page(request, workspace, look, "", typed, beside, "", 422)
        of_day = card.day == look.costing.asked.as_of
        computed = look.costing.computed if of_day else computed_on(folder, card.day)
        ready = prepared(folder, card, typed.get("stock") == "yes", workspace.today, computed)
        if ready.doubts and typed.get("sure") != "yes":
            asks = f"{'. '.join(ready.doubts)}. If it is right, say so below."
            return _page(request, workspace, look, "", typed, NONE, asks, 422)
        batch, entry = write_batch(workspace.root, card, look.shown.currency, ready.metal, ready.draws)
        drew = "" if entry is None else " Its metal was taken from the drawer."
        workspace.note(f"Batch {batch.number} is written down.{drew}")
        return RedirectResponse(f"/log?batch={batch.number}", 303)

    return await with_typed(request, added, most_fields=60)


async def strike(request: Request) -> Response:
    """POST /log/strike: strike a batch out that was written down by mistake."""

    def struck(workspace: Workspace, look: Look, typed: Mapping[str, str]) -> Response:
        number = number_typed(typed)
        if number is None:
            return RedirectResponse("/log", 303)
        card = Card(day=workspace.today, corrects=number)
        _, entry = write_batch(workspace.root, card, look.shown.currency, {}, draws=False)
        back = "" if entry is None else ", and its metal lies in the drawer again"
        workspace.note(f"Batch {number} is struck out{back}.")
        return RedirectResponse("/log", 303)

    return await with_typed(request, struck, most_fields=60)


def typed_card(typed: Mapping[str, str], stated: Stated) -> Card:
    """The card of one flask that these fields say. Raises Faults whose keys are paths in the card."""
    pieces = []
    for place in range(MOST_PIECES):
        said = {name: typed.get(f"pieces-{place}-{name}", "").strip() for name in OF_PIECES}
        if any(said.values()):
            rejected, started = shares(said["rejected"]), count(said["started"])
            each: dict[str, Any] = {"sku": said["sku"], "rejected": rejected, "started": started}
            numbers = [number for number in rejected.values() if isinstance(number, int)]
            each["good"] = max(0, started - sum(numbers)) if isinstance(started, int) else 0
            pieces.append({name: value for name, value in each.items() if value is not None})
    flask: dict[str, Any] = {"alloy": typed.get("alloy", "").strip(), "pieces": pieces}
    for name in WEIGHED:
        grams = mass(typed.get(name, ""))
        if grams is not None:
            flask[name] = grams
    said = shares(typed.get("minutes", ""))
    minutes = {step: float(spent) if isinstance(spent, int) else spent for step, spent in said.items()}
    day = day_typed(typed.get("day", ""))
    values: dict[str, Any] = {"flasks": [flask], "minutes": minutes, "note": typed.get("note", "").strip()}
    for name, value in (("day", day), ("corrects", count(typed.get("corrects", "")))):
        if value is not None:
            values[name] = value
    card = built(Card, values)
    return fitting(card, stated, lambda path: Place("what was typed"))


def field_names() -> list[str]:
    """The names of all fields of the form."""
    names = ["alloy", "day", "note", "minutes", "corrects", *WEIGHED]
    return [*names, *(f"pieces-{place}-{name}" for place in range(MOST_PIECES) for name in OF_PIECES)]


def address_of_card(alloy: str, weighed: Mapping[str, float], pieces: Sequence[tuple[str, int]]) -> str:
    """The address of a card on which stands what was planned for one flask: grams, and castings by sku; "" where they
    are more than the form has room for."""
    if len(pieces) > MOST_PIECES:
        return ""
    fields = {"alloy": alloy} | {name: f"{grams:.2f}" for name, grams in weighed.items() if round(grams, 2)}
    for place, (sku, castings) in enumerate(pieces):
        fields |= {f"pieces-{place}-sku": sku, f"pieces-{place}-started": str(castings)}
    return f"/log?{urlencode(fields)}#card-head"


def fields_of(batch: Batch) -> dict[str, str] | None:
    """A batch as the fields of the form; None where they cannot say all that was written down of it."""
    if len(batch.flasks) != 1 or len(batch.flasks[0].pieces) > MOST_PIECES:
        return None
    (flask,) = batch.flasks
    if any(getattr(each, name) for each in flask.pieces for name in NOT_TYPED):
        return None
    fields = {"alloy": flask.alloy, "day": batch.day.isoformat(), "note": batch.note, "minutes": shared(batch.minutes)}
    fields |= {name: f"{grams:.15g}" for name in WEIGHED if (grams := getattr(flask, name))}
    for place, each in enumerate(flask.pieces):
        said = {"sku": each.sku, "started": str(each.started), "rejected": shared(each.rejected)}
        fields |= {f"pieces-{place}-{name}": text for name, text in said.items()}
    return {**fields, "stock": "yes", "corrects": str(batch.number)}


def _field(key: str) -> str:
    """The field that a fault of the card stands beside."""
    parts = key.replace("[", ".").replace("]", "").split(".")
    if parts[0] == "flasks":
        parts = parts[2:]
    if parts and parts[0] == "pieces" and len(parts) > 1:
        name = parts[2] if len(parts) > 2 and parts[2] in OF_PIECES else "started"
        return f"pieces-{parts[1]}-{name}"
    return parts[0] if parts and parts[0] in (*WEIGHED, "alloy", "minutes", "day", "note") else "fresh_g"


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
    stated, shown = look.costing.folder.stated, look.shown
    batches = read_log(workspace.root)[::-1]
    found = variances(batches[:MOST_BATCHES], read_drawer(workspace.root), look.costing.computed)
    products = {sku: each for sku, each in products_of(stated).items() if each.castings}
    steps = dict.fromkeys(
        step.name for product in products.values() for alloy in product.alloys or () for step in
        steps_in(stated, product, alloy)
    )  # fmt: skip
    fields = dict.fromkeys(field_names(), "") | {"day": workspace.today.isoformat(), "stock": "" if typed else "yes"}
    context = LogContext(
        frame=frame(workspace, look, "log", "Log"),
        batches=tuple(line for batch in batches[:MOST_BATCHES] for line in _lines(batch, look)),
        batches_left=max(0, len(batches) - MOST_BATCHES),
        sentences=tuple(
            in_a_sentence(replace(each, alloy=look.alloy(each.alloy)), shown)
            for each in missing_in_all(batches)
        ),
        mass=shown.show.mass,
        columns=COLUMNS,
        variance=tuple((name, tuple(map(minus, amounts))) for name, amounts in in_words(found, shown, look.alloy)),
        left_out=found.left_out,
        chosen=next((_whole(batch, look) for batch in batches if str(batch.number) == chosen), None),
        alloys=tuple((name, alloy.name) for name, alloy in stated.alloys.items()),
        weighed=WEIGHED,
        products=tuple(sorted((sku, f"{each.name} ({sku})") for sku, each in products.items())),
        places=tuple(range(MOST_PIECES)),
        steps=tuple(steps),
        typed={**fields, **{name: typed[name] for name in fields if name in typed}},
        beside=beside,
        asks=asks,
        has_drawer=bool(numbers(workspace.root, STOCK)),
    )  # fmt: skip
    return page(request, "log.html", context, status)


def _lines(batch: Batch, look: Look) -> Sequence[BatchLine]:
    shown = look.shown
    return [
        BatchLine(
            number=batch.number,
            day=batch.day.isoformat(),
            alloy=look.alloy(each.alloy),
            charge=shown.mass(each.charge_g, unit=False),
            castings=shown.mass(each.castings_g, unit=False),
            back=shown.mass(each.back_g, unit=False),
            rejected=shown.mass(each.rejected_g, unit=False),
            missing=minus(shown.mass(each.missing_g, unit=False)),
            share=minus(percent(each.missing_share, 1)),
            expected=shown.mass(each.expected_g, unit=False),
            money=minus(shown.money(each.missing_money)),
        )
        for each in balances(batch)
    ]


def _whole(batch: Batch, look: Look) -> WholeBatch:
    shown = look.shown
    return WholeBatch(
        batch.number,
        batch.day.isoformat(),
        batch.note,
        tuple(
            (str(place), look.alloy(flask.alloy), *(shown.mass(grams, unit=False) for grams in
             (flask.fresh_g, flask.returned_g, flask.castings_g, flask.back_g, flask.rejected_g, flask.lemel_g)))
            for place, flask in enumerate(batch.flasks, 1)
        ),
        tuple(
            (str(place), ", ".join(filter(None, (look.called(each.sku, "")[0], each.size))), str(each.started),
             str(each.good), ", ".join(f"{number} at {step}" for step, number in each.rejected.items() if number))
            for place, flask in enumerate(batch.flasks, 1)
            for each in flask.pieces
        ),
        tuple((step, f"{spent:g}") for step, spent in minutes_in_all(batch).items()),
        tuple(in_a_sentence(replace(each, alloy=look.alloy(each.alloy)), shown) for each in balances(batch)),
        fields_of(batch) is not None,
    )  # fmt: skip
