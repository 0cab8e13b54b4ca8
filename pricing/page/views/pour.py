"""The view of a pour: wants typed or counted in a list, the flasks as they fill, what to weigh, the card to print."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from string import ascii_uppercase
from urllib.parse import quote

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response

from pricing.drawer.on_hand import on_hand
from pricing.errors import TroytagError, UsageFault
from pricing.page.framing import frame
from pricing.page.rendering import Frame, page
from pricing.page.stamps import Stamp, stamp_of
from pricing.page.views.faults import faulty
from pricing.page.views.log import address_of_card
from pricing.page.workspace import Look, Workspace
from pricing.pouring import told
from pricing.pouring.designs import Design
from pricing.pouring.figures import Flask, Plan
from pricing.pouring.plan import SURE, plan
from pricing.pouring.wants import Want, want_of
from pricing.shown import Shown, hours, percent

#: So many variants are listed to be counted; others are typed.
MOST_LISTED = 80
#: So many letters are typed at most, and so long a packing is looked for, in seconds.
MOST_LETTERS, SECONDS = 20_000, 4.0
#: So much is planned at once while a page waits for it.
MOST_WANTS, MOST_WANTED = 200, 5_000
#: Shades of the alloy's colour for the designs on one tree; letters tell them apart.
SHADES = 4
#: The flask as it is drawn: where its inside begins, and how high it is.
TOP, HEIGHT = 8.0, 80.0


@dataclass(frozen=True)
class Listed:
    """A variant that may be counted: the name of its field, and what it is."""

    field: str
    name: str
    alloy: str


@dataclass(frozen=True)
class Level:
    """One design in a drawn flask: where its level begins and how high it is, its shade, its letter, and what it is."""

    start: float
    height: float
    shade: int
    letter: str
    word: str
    missing: str


@dataclass(frozen=True)
class FlaskInWords:
    """A flask as it is drawn, and what goes on the scale for it: `charge` first, then the other `figures`."""

    numbers: str
    alloy: str
    stamp: Stamp
    flask: str
    load: str
    full: str
    told: str
    levels: tuple[Level, ...]
    charge: str
    figures: tuple[tuple[str, str], ...]
    logged: str


@dataclass(frozen=True)
class PourContext:
    """What was wanted, what to make for it, the flasks; `sentence` says why there is no plan of what was typed."""

    frame: Frame
    listed: tuple[Listed, ...]
    more: int
    typed: str
    sure: str
    sentence: str
    summary: str
    heads: Mapping[str, str]
    lines: tuple[tuple[str, ...], ...]
    flasks: tuple[FlaskInWords, ...]
    loads: tuple[tuple[str, ...], ...]
    metal: tuple[tuple[str, ...], ...]
    taken: tuple[tuple[str, ...], ...]
    to_buy: str
    notes: tuple[str, ...]
    caution: str
    cards: str


def pour(request: Request, sentence: str = "", status: int = 200) -> Response:
    """GET /pour?wants=thimble:sterling=12&n:thimble:sterling=3&sure=90"""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    asked, made, typed = request.query_params, None, request.query_params.get("wants", "")[:MOST_LETTERS]
    if not sentence:
        try:
            wants = _wants(asked)
            typed = "\n".join(f"{want.named}={want.quantity}" for want in wants)
            made = planned(look, wants, chance_of(asked.get("sure", ""))) if wants else None
        except TroytagError as error:
            sentence, status = str(error), 422
    return page(request, "pour.html", _context(workspace, look, made, typed, asked, sentence), status)


def cards(request: Request) -> Response:
    """GET /pour/cards?wants=…: a page for each pour, as PDF."""
    workspace: Workspace = request.app.state.workspace
    try:
        from pricing.lists.number_habits import habit
        from pricing.lists.pour_card import pour_card

        look = workspace.look()
        made = planned(look, _wants(request.query_params), chance_of(request.query_params.get("sure", "")))
        if not made.flasks:
            raise UsageFault("nothing of this is poured.")
        workshop = look.costing.folder.stated.workshop
        sheet = pour_card(look.costing, made, habit(workshop.currency, workshop.show, None))
        content = sheet.laid_out(".pdf")
    except TroytagError as error:
        return pour(request, str(error), 422)
    name = quote(f"{workspace.root.resolve().name}-pour-cards.pdf")
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{name}"}
    return Response(content, media_type="application/pdf", headers=headers)


def _wants(asked: QueryParams) -> list[Want]:
    """What was typed, a line each, and what was counted in the list; the same thing once."""
    lines = [line.strip() for line in asked.get("wants", "")[:MOST_LETTERS].replace(",", "\n").splitlines()]
    lines += [
        f"{name.removeprefix('n:')}={count.strip()}"
        for name, count in asked.multi_items()
        if name.startswith("n:") and count.strip() not in ("", "0")
    ]
    found: dict[tuple[str, str, str], int] = {}
    for line in filter(None, lines):
        want = want_of(line)
        key = (want.sku, want.alloy, want.size)
        found[key] = found.get(key, 0) + want.quantity
    if len(found) > MOST_WANTS or sum(found.values()) > MOST_WANTED:
        raise UsageFault(
            f"that is more than {MOST_WANTS} things or {MOST_WANTED:,} pieces at once. Plan them with troytag pour."
        )
    return [Want(*key, quantity) for key, quantity in found.items()]


def chance_of(typed: str) -> float | None:
    """How sure; None on the mean. Raises UsageFault for what is no chance."""
    typed = typed.strip()
    if typed == "mean":
        return None
    if not typed:
        return SURE
    if typed not in CHANCES:
        raise UsageFault(f'"{typed}" is none of the chances: {", ".join(CHANCES)}.')
    return float(typed) / 100


#: The chances that are offered, in percent.
CHANCES = ("75", "90", "95", "99")


def planned(look: Look, wants: list[Want], sure: float | None) -> Plan:
    """The plan of what is wanted, out of the drawer. Raises UsageFault where nothing is."""
    if not wants:
        raise UsageFault("nothing is wanted: write what, or count it in the list.")
    return plan(look.costing, wants, sure, on_hand(look.costing.folder.root, look.costing.asked.as_of) or None, SECONDS)


def _context(
    workspace: Workspace, look: Look, made: Plan | None, typed: str, asked: QueryParams, sentence: str
) -> PourContext:
    variants = look.costing.computed.resolved.variants
    titles = {name: alloy.name for name, alloy in look.costing.folder.stated.alloys.items()}
    order = [row for row in look.by_name.tolist() if variants[row].castings]
    listed = tuple(
        Listed(f"n:{each.sku}:{each.alloy}", look.products[each.sku].name, titles[each.alloy])
        for each in (variants[row] for row in order[:MOST_LISTED])
    )
    shown = look.shown
    has_drawer = made is not None and made.has_drawer
    return PourContext(
        frame=frame(workspace, look, "pour", "Pour"),
        listed=listed,
        more=max(0, len(order) - MOST_LISTED),
        typed=typed,
        sure=asked.get("sure", "") or "90",
        sentence=sentence,
        summary=told.summary(made) if made else "",
        heads=told.HEADS,
        lines=tuple(_lines(look, made, titles)) if made else (),
        flasks=tuple(_flask(look, numbers, flask, made) for numbers, flask in told.alike(made.flasks)) if made else (),
        loads=tuple(_loads(made, shown)) if made else (),
        metal=tuple(_metal(made, titles, shown)) if made else (),
        taken=tuple(_taken(look, made, titles)) if made else (),
        to_buy="to buy" if has_drawer else "fresh",
        notes=made.notes if made else (),
        caution=told.CAUTION if made and made.flasks else "",
        cards=f"/pour/cards?wants={quote(typed)}&sure={quote(asked.get('sure', ''))}" if made and made.flasks else "",
    )


def _lines(look: Look, made: Plan, titles: dict[str, str]) -> Iterator[tuple[str, ...]]:
    for line in made.lines:
        design = line.design
        yield (
            _called(look, design),
            titles[design.alloy],
            f"{design.quantity:,}{told.of_each(design.chain.per_set * design.chain.castings)}",
            f"{line.expected_starts:,.1f}",
            f"{line.patterns:,}",
            f"{line.on_trees:,}" if design.takes == "cast" else "",
            percent(line.attained, 1) if line.attained == line.attained else "",
        )


def _called(look: Look, design: Design) -> str:
    """`Stacking band M`, `Hare for Gift set`: a design by the names of what it is and of what it becomes a part of."""
    whole = f" for {look.called(design.of, design.alloy)[0]}" if design.of else ""
    return f"{design.name}{f' {design.size}' if design.size else ''}{design.casting_names}{whole}"


def _flask(look: Look, numbers: str, flask: Flask, made: Plan) -> FlaskInWords:
    alloy, shown = look.costing.folder.stated.alloys[flask.alloy], look.shown
    figures = [
        ("fresh" if made.has_drawer else "fresh, at least", shown.mass(flask.fresh_g)),
        ("returned" if made.has_drawer else "returned, at most", shown.mass(flask.returned_g)),
        ("castings", shown.mass(flask.castings_g)),
        ("sprues, button", shown.mass(flask.sprue_g + flask.button_g)),
        ("melt loss", shown.mass(flask.melt_lost_g)),
    ]
    if flask.powder_g is not None and flask.water_g is not None:
        figures += [("powder", f"{flask.powder_g:,.0f} g"), ("water", f"{flask.water_g:,.0f} g")]
    figures += [("pour at", shown.temperature(flask.pour_c))] if flask.pour_c is not None else []
    figures += [("flask at", shown.temperature(flask.flask_c))] if flask.flask_c is not None else []
    return FlaskInWords(
        numbers=numbers,
        alloy=alloy.name,
        stamp=stamp_of(alloy),
        flask=flask.flask,
        load=str(flask.load or ""),
        full=percent(flask.room),
        told=", ".join(f"{each.castings} {_called(look, each.design)}" for each in flask.holds),
        levels=tuple(_levels(look, flask)),
        charge=shown.mass(flask.charge_g),
        figures=tuple(figures),
        logged=address_of_card(
            flask.alloy,
            {"fresh_g": flask.fresh_g, "returned_g": flask.returned_g},
            [(each.design.sku, each.castings) for each in flask.holds],
        ),
    )


def _levels(look: Look, flask: Flask) -> Iterator[Level]:
    """The designs of a tree from the bottom up, each as high as its share of the tree."""
    bottom = TOP + HEIGHT
    for place, each in enumerate(flask.holds):
        height = HEIGHT * each.units * each.design.share
        bottom -= height
        yield Level(
            round(bottom, 2),
            round(height, 2),
            place % SHADES,
            ascii_uppercase[place % len(ascii_uppercase)],
            f"{each.castings} {_called(look, each.design)}",
            look.shown.mass(each.missing_g),
        )


def _loads(made: Plan, shown: Shown) -> Iterator[tuple[str, ...]]:
    for load in made.loads:
        yield (
            str(load.number),
            f"{load.machine}, {load.step}",
            told.ranges(load.flasks),
            hours(load.minutes / 60),
            percent(load.share),
            f"{load.kwh:,.1f}",
            shown.money(load.cost),
        )


def _metal(made: Plan, titles: dict[str, str], shown: Shown) -> Iterator[tuple[str, ...]]:
    for total in made.alloys:
        grams = (total.charge_g, total.returned_g, total.to_buy_g)
        yield titles[total.alloy], *(shown.mass(each) for each in grams), shown.money(total.cost)


def _taken(look: Look, made: Plan, titles: dict[str, str]) -> Iterator[tuple[str, ...]]:
    for each in made.taken:
        design = each.line.design
        how = "cut" if design.takes == "cut" else "bought as castings"
        yield _called(look, design), titles[design.alloy], how, f"{each.line.on_trees:,}", look.shown.mass(each.metal_g)
