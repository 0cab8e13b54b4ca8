"""The view of lists: what is downloaded, printed and sent."""

from __future__ import annotations

import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal
from urllib.parse import quote

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import Response

from pricing.days import day
from pricing.editions.chain import numbers
from pricing.errors import TroytagError, UsageFault
from pricing.page.framing import frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import faulty
from pricing.page.workspace import Look, Workspace
from pricing.studies.prices_out import PricesOut, Wanted

TYPES: Mapping[str, str] = MappingProxyType(
    {
        ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        ".html": "text/html; charset=utf-8",
        ".pdf": "application/pdf",
        ".csv": "text/csv; charset=utf-8",
    }
)
#: Free around a sheet of tags, and between one and the next, in mm.
TAG_MARGIN, TAG_GAP = 8.0, 3.0


@dataclass(frozen=True)
class ListsContext:
    """What may be chosen for each download; `sentence` says why that of `at` could not be made of what was `typed`."""

    frame: Frame
    products: tuple[tuple[str, str], ...]
    alloys: tuple[tuple[str, str], ...]
    channels: tuple[str, ...]
    wholesale: tuple[str, ...]
    retail: tuple[str, ...]
    prices: tuple[tuple[str, str], ...]
    sentence: str
    at: str
    typed: Mapping[str, tuple[str, ...]]


def lists(request: Request, sentence: str = "", at: str = "", status: int = 200) -> Response:
    """GET /lists; after a mistake with what was typed, and the sentence beside its form."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    stated = look.costing.folder.stated
    kinds = {name: channel.audience for name, channel in stated.channels.items()}
    context = ListsContext(
        frame=frame(workspace, look, "lists", "Lists"),
        products=_sold(look),
        alloys=tuple((name, alloy.name) for name, alloy in stated.alloys.items()),
        channels=tuple(stated.channels),
        wholesale=tuple(name for name, kind in kinds.items() if kind == "wholesale"),
        retail=tuple(name for name, kind in kinds.items() if kind == "retail"),
        prices=_prices(look),
        sentence=sentence,
        at=at,
        typed={name: tuple(request.query_params.getlist(name)) for name in request.query_params} if at else {},
    )
    return page(request, "lists.html", context, status)


def _sold(look: Look) -> tuple[tuple[str, str], ...]:
    """What is sold at all, each size that has its own price for itself: sku and name."""
    variants = look.costing.computed.resolved.variants
    sold = dict.fromkeys(each.sku for each in variants if each.sold_places)
    return tuple((sku, look.products[sku].name) for sku in sold)


def _prices(look: Look) -> tuple[tuple[str, str], ...]:
    """Which prices may go out: those in force first, then those of earlier editions, and what is asked now."""
    edition = look.going_out.edition
    if edition is None:
        return (("", "as asked now: nothing is published yet"),)
    earlier = reversed([number for number in numbers(look.costing.folder.root) if number != edition.number])
    return (
        ("", f"in force: edition {edition.number} of {edition.as_of}"),
        *((str(number), f"of edition {number}") for number in earlier),
        ("asked", "as asked now"),
    )


def _out(look: Look, asked: QueryParams) -> PricesOut:
    """The prices that were chosen. Raises UsageFault for what is no edition."""
    chosen = asked.get("prices", "")
    if chosen in ("", "asked"):
        return look.out("asked") if chosen else look.going_out
    if not (chosen.isascii() and chosen.isdecimal() and len(chosen) < 7):
        raise UsageFault(f'"{chosen}" is no edition.')
    return look.out(int(chosen))


def _wanted(look: Look, asked: QueryParams) -> Wanted:
    out = _out(look, asked)
    return out.edition.number if out.edition else "asked" if out.is_wanted else None


def workbook(request: Request) -> Response:
    """GET /lists/workbook: the live workbook."""

    def made(workspace: Workspace, look: Look) -> tuple[str, bytes]:
        from pricing.workbook.sheets import write_workbook

        with tempfile.TemporaryDirectory(dir=workspace.scratch()) as folder:
            path = Path(folder) / "workbook.xlsx"
            write_workbook(look.costing, path, wanted=_wanted(look, request.query_params))
            return ".xlsx", path.read_bytes()

    return _download(request, made)


def price_list(request: Request) -> Response:
    """GET /lists/price-list?audience=shops&form=html."""

    def made(workspace: Workspace, look: Look) -> tuple[str, bytes]:
        from pricing.lists.pictures import Pictures
        from pricing.lists.price_list import ListAsked
        from pricing.lists.price_list import price_list as list_of

        asked = request.query_params
        stated = look.costing.folder.stated
        audience: Literal["buyers", "shops"] = "buyers" if asked.get("audience") == "buyers" else "shops"
        wanted = ListAsked(audience, tuple(stated.products), tuple(stated.alloys), asked.get("channel") or None)
        sheet = list_of(_out(look, asked), wanted, _habit(look), Pictures(workspace.root))
        return _laid_out(sheet, asked)

    return _download(request, made)


def quotation(request: Request) -> Response:
    """GET /lists/quotation?sku=…&channel=…&alloy=…&quantities=10+25&customer=…&extras=sizing%3D15"""

    def made(workspace: Workspace, look: Look) -> tuple[str, bytes]:
        from pricing.lists.pictures import Pictures
        from pricing.lists.quotation import quotation as quote_of
        from pricing.lists.quoted import QUANTITIES, QuoteAsked, extras_of, number_by_clock, quantities_of, quoted
        from pricing.parcels.customer import metal_of

        asked = request.query_params
        discounts = asked.get("discounts") == "yes"
        usual = () if discounts else QUANTITIES
        wanted = QuoteAsked(
            asked.get("sku", ""),
            quantities_of((word.rstrip(",") for word in asked.get("quantities", "").split()), "1 5", usual),
            tuple(dict.fromkeys(asked.getlist("alloy"))),
            asked.get("channel") or None,
            asked.get("charge_design") == "yes",
            asked.get("customer"),
            asked.get("reference"),
            day(asked.get("valid_until", "").strip() or None),
            None,
            asked.get("number", "").strip() or number_by_clock(datetime.now()),
            asked.get("delivery"),
            extras_of(asked.get("extras", "").splitlines()),
            metal_of(brought, "the customer's metal") if (brought := asked.get("metal", "").strip()) else None,
            discounts,
        )
        out = look.going_out
        found = quoted(out, wanted)
        return _laid_out(quote_of(out, wanted, found, _habit(look), Pictures(workspace.root)), asked)

    return _download(request, made)


def price_tags(request: Request) -> Response:
    """GET /lists/tags?kind=swing&channel=…: swing tags, ring tags or stall cards, as a PDF to be cut."""

    def made(workspace: Workspace, look: Look) -> tuple[str, bytes]:
        from pricing.lists.catalogue import channel_for
        from pricing.lists.cut_sheets import cutting, paper_size
        from pricing.lists.stall import SIZE, CardsAsked, stall_cards
        from pricing.lists.tags import SIZES, TagsAsked, tags

        asked = request.query_params
        stated, habit, out = look.costing.folder.stated, _habit(look), _out(look, asked)
        channel = asked.get("channel") or None
        channel = channel_for(look.costing, None if channel else "retail", channel)
        kind = asked.get("kind", "swing")
        size = SIZE if kind == "card" else SIZES.get(kind)
        if size is None:
            raise UsageFault(f'"{kind}" is no kind of tag.')
        cut = cutting(paper_size(habit.paper), size, TAG_MARGIN, TAG_GAP)
        skus, alloys = tuple(stated.products), tuple(stated.alloys)
        if kind == "card":
            return ".pdf", stall_cards(out, CardsAsked(channel, skus, alloys), cut, habit).laid_out(".pdf")
        wanted = TagsAsked("ring" if kind == "ring" else "swing", channel, skus, alloys)
        return ".pdf", tags(out, wanted, cut, habit).laid_out(".pdf")

    return _download(request, made)


def upload_sheet(request: Request) -> Response:
    """GET /lists/upload-sheet?channel=…"""

    def made(workspace: Workspace, look: Look) -> tuple[str, bytes]:
        from pricing.lists.upload_sheet import columns_from
        from pricing.lists.upload_sheet import upload_sheet as sheet_of

        known = look.costing.folder.stated.channels
        channels = [name for name in request.query_params.getlist("channel") if name in known]
        if not channels:
            raise UsageFault("no channel is ticked: tick those whose prices go into the sheet.")
        since = request.query_params.get("changed_since", "").strip()
        if since and not (since.isascii() and since.isdecimal() and len(since) < 7):
            raise UsageFault(f'"{since}" is no edition: write its number, or leave it empty for all prices.')
        rows = range(len(look.costing.computed.resolved.variants))
        return ".csv", sheet_of(
            _out(look, request.query_params), rows, channels, columns_from(None), int(since) if since else None
        )

    return _download(request, made)


def _habit(look: Look) -> Any:
    from pricing.lists.number_habits import habit

    workshop = look.costing.folder.stated.workshop
    return habit(workshop.currency, workshop.show, None)


def _laid_out(sheet: Any, asked: Mapping[str, str]) -> tuple[str, bytes]:
    suffix = ".pdf" if asked.get("form") == "pdf" else ".html"
    return suffix, sheet.laid_out(suffix)


def _download(request: Request, made: Callable[..., Any]) -> Response:
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
        suffix, content = made(workspace, look)
    except TroytagError as error:
        return lists(request, str(error), request.url.path.rsplit("/", 1)[-1], 422)
    kind = request.url.path.rsplit("/", 1)[-1]
    name = f"{workspace.root.resolve().name}-{kind}{suffix}"
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type=TYPES[suffix], headers=headers)
