"""The view of lists: what is downloaded, printed and sent."""

from __future__ import annotations

import re
import tempfile
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from types import MappingProxyType
from typing import Any, Literal
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import QueryParams, UploadFile
from starlette.requests import Request
from starlette.responses import Response

from pricing.days import day
from pricing.errors import TroytagError, UsageFault
from pricing.page.forms.sent import form_of
from pricing.page.framing import frame
from pricing.page.rendering import Frame, page
from pricing.page.views.faults import faulty
from pricing.page.views.list_forms import ListForm, forms
from pricing.page.views.pour import chance_of, planned
from pricing.page.workspace import Look, Workspace
from pricing.questions.option import Refused, chosen
from pricing.questions.subject import chosen_goods
from pricing.studies.prices_out import PricesOut, Wanted

TYPES: Mapping[str, str] = MappingProxyType(
    {
        ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        ".html": "text/html; charset=utf-8",
        ".pdf": "application/pdf",
        ".csv": "text/csv; charset=utf-8",
        ".toml": "application/toml; charset=utf-8",
    }
)
#: Free around a sheet of tags, and between one and the next, in mm.
TAG_MARGIN, TAG_GAP = 8.0, 3.0
#: Fields of one form at most.
MOST_FIELDS = 2000


@dataclass(frozen=True)
class Asking:
    """What was asked for: the folder, the form, the texts of its fields, and the files that came with it."""

    workspace: Workspace
    look: Look
    form: ListForm
    texts: QueryParams
    files: Mapping[str, Path]

    def value(self, name: str) -> Any:
        """What a field says. Raises Refused."""
        return self.form.option(name).value_of(self.texts.getlist(name))

    def lines(self, name: str) -> list[str]:
        """What stands in the lines of a field, blank ones left out."""
        return [line.strip() for line in self.texts.get(name, "").splitlines() if line.strip()]

    def day(self, name: str) -> date | None:
        with beside(name):
            return day(self.texts.get(name, "").strip() or None)

    def channel(self, name: str = "channel") -> str | None:
        """The channel that is named, None where none is. Raises Refused for an unknown one."""
        named = self.value(name)
        if named:
            chosen(name, "channel", [named], self.look.costing.folder.stated.channels)
        return named or None

    def goods(self) -> tuple[tuple[str, ...], tuple[str, ...]]:
        """The skus and alloys that are wanted, all where none is named."""
        skus = [sku.strip() for text in self.value("sku") or () for sku in text.split(",") if sku.strip()]
        folder = self.look.costing.folder
        alloys = chosen("alloy", "alloy", self.value("alloy"), folder.stated.alloys)
        return tuple(chosen_goods("sku", skus, folder)), tuple(alloys)

    def paper(self) -> str | None:
        return self.value("paper") or None

    def habit(self) -> Any:
        from pricing.lists.number_habits import habit

        workshop = self.look.costing.folder.stated.workshop
        with beside("locale"):
            return habit(workshop.currency, workshop.show, self.value("locale") or None)

    def pictures(self) -> Any:
        from pricing.lists.pictures import Pictures

        return None if self.value("no_pictures") else Pictures(self.workspace.root)

    def out(self) -> PricesOut:
        """The prices that were chosen. Raises Refused for what is no edition."""
        named = self.texts.get("prices", "")
        if named in ("", "asked"):
            return self.look.out("asked") if named else self.look.going_out
        if not (named.isascii() and named.isdecimal() and len(named) < 7):
            raise Refused("prices", f'"{named[:40]}" is no edition.')
        with beside("prices"):
            return self.look.out(int(named))

    def laid_out(self, sheet: Any) -> tuple[str, bytes]:
        suffix = ".pdf" if self.texts.get("form") == "pdf" else ".html"
        return suffix, sheet.laid_out(suffix)


Made = Callable[[Asking], tuple[str, bytes]]


@contextmanager
def beside(field: str) -> Iterator[None]:
    """A fault in here is that of one field."""
    try:
        yield
    except TroytagError as error:
        raise Refused(field, str(error)) from None


@dataclass(frozen=True)
class ListsContext:
    """What may be chosen for each download; `sentence` says why that of `at` could not be made of what was `typed`,
    beside the field `field` where it is that of one."""

    frame: Frame
    forms: tuple[ListForm, ...]
    sentence: str
    at: str
    field: str
    typed: Mapping[str, tuple[str, ...]]


def lists(request: Request) -> Response:
    """GET /lists."""
    return _page(request)


def _page(
    request: Request, at: str = "", sentence: str = "", field: str = "", texts: QueryParams | None = None
) -> Response:
    """The view; after a mistake with what was typed, and the sentence beside its field, or its form."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    every = forms(look)
    typed = {name: tuple(texts.getlist(name)) for name in texts} if texts is not None else {}
    if sentence and not field and at in every:
        field = _meant(every[at], typed, sentence)
    context = ListsContext(
        frame(workspace, look, "lists", "Lists"), tuple(every.values()), sentence, at, field, MappingProxyType(typed)
    )
    return page(request, "lists.html", context, 422 if sentence else 200)


def _meant(form: ListForm, typed: Mapping[str, tuple[str, ...]], sentence: str) -> str:
    """The field that a sentence is about: the one whose text it repeats; "" where none is, or more than one."""
    said = [
        each.name
        for each in form.fields
        if any(f'"{text.strip()}"' in sentence for text in typed.get(each.name, ()) if text.strip())
    ]
    return said[0] if len(said) == 1 else ""


def workbook(request: Request) -> Response:
    """GET /lists/workbook: the live workbook."""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.learning.posteriors import posteriors
        from pricing.questions.map import maps_named
        from pricing.studies.doubt.in_doubt import in_doubt
        from pricing.workbook.sheets import write_workbook

        out, costing = asked.out(), asked.look.costing
        wanted: Wanted = out.edition.number if out.edition else "asked" if out.is_wanted else None
        sides = {name: asked.value(name) or None for name in ("across", "down")}
        try:
            maps = maps_named(costing, asked.lines("map"), sides, wanted)
        except Refused as refused:
            raise Refused(refused.option if refused.option in sides else "map", str(refused)) from None
        doubt = in_doubt(out, posteriors(costing), shares=False) if asked.value("sure") else None
        with tempfile.TemporaryDirectory(dir=asked.workspace.scratch()) as folder:
            path = Path(folder) / "workbook.xlsx"
            write_workbook(costing, path, wanted=wanted, maps=maps, doubt=doubt)
            return ".xlsx", path.read_bytes()

    return _download(request, made)


def template(request: Request) -> Response:
    """GET /lists/template: the empty sheet for new products."""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.workbook.template.sheet import write_template

        with tempfile.TemporaryDirectory(dir=asked.workspace.scratch()) as folder:
            path = Path(folder) / "products.xlsx"
            write_template(asked.look.costing.folder, path)
            return ".xlsx", path.read_bytes()

    return _download(request, made)


def price_list(request: Request) -> Response:
    """GET /lists/price-list?audience=shops&form=html."""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.lists.price_list import ListAsked
        from pricing.lists.price_list import price_list as list_of

        audience: Literal["buyers", "shops"] = "buyers" if asked.texts.get("audience") == "buyers" else "shops"
        retail = asked.channel("retail")
        if retail and audience == "buyers":
            raise Refused("retail", "a suggested retail price is for a list for shops; for buyers name the channel.")
        wanted = ListAsked(audience, *asked.goods(), asked.channel(), retail, asked.day("valid_until"), asked.paper())
        habit, out = asked.habit(), asked.out()
        with beside("valid_until") if wanted.valid_until and wanted.valid_until < out.since else _anywhere():
            return asked.laid_out(list_of(out, wanted, habit, asked.pictures()))

    return _download(request, made)


def quotation(request: Request) -> Response:
    """GET /lists/quotation?sku=…&channel=…&alloy=…&quantities=10+25&customer=…&extras=sizing%3D15"""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.lists.quotation import quotation as quote_of
        from pricing.lists.quoted import QUANTITIES, QuoteAsked, extras_of, number_by_clock, quantities_of, quoted
        from pricing.parcels.customer import metal_of

        texts, discounts = asked.texts, asked.value("discounts")
        said = (word.rstrip(",") for word in texts.get("quantities", "").split())
        with beside("quantities"):
            quantities = quantities_of(said, "1 5", () if discounts else QUANTITIES)
        with beside("extras"):
            extras = extras_of(asked.lines("extras"))
        with beside("metal"):
            metal = metal_of(brought, "the customer's metal") if (brought := texts.get("metal", "").strip()) else None
        wanted = QuoteAsked(
            texts.get("sku", ""),
            quantities,
            tuple(dict.fromkeys(texts.getlist("alloy"))),
            asked.channel(),
            asked.value("charge_design"),
            texts.get("customer"),
            texts.get("reference"),
            asked.day("valid_until"),
            asked.paper(),
            texts.get("number", "").strip() or number_by_clock(datetime.now()),
            texts.get("delivery"),
            extras,
            metal,
            discounts,
        )
        out, habit = asked.look.going_out, asked.habit()
        found = quoted(out, wanted)
        with beside("valid_until") if wanted.valid_until and wanted.valid_until < out.since else _anywhere():
            return asked.laid_out(quote_of(out, wanted, found, habit, asked.pictures()))

    return _download(request, made)


def price_tags(request: Request) -> Response:
    """GET /lists/tags?kind=swing&channel=…: swing tags, ring tags or stall cards, as a PDF to be cut."""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.lists.catalogue import channel_for
        from pricing.lists.cut_sheets import cutting, paper_size
        from pricing.lists.stall import SIZE, CardsAsked, stall_cards
        from pricing.lists.tags import SIZES, TagsAsked, tags
        from pricing.studies.stall.bargaining import FRIENDLY_SHARE

        kind, habit, out = asked.texts.get("kind", "swing"), asked.habit(), asked.out()
        named = asked.channel()
        channel = channel_for(asked.look.costing, None if named else "retail", named)
        usual = SIZE if kind == "card" else SIZES.get(kind)
        if usual is None:
            raise Refused("kind", f'"{kind[:40]}" is no kind of tag.')
        width, height, margin, gap = (asked.value(name) for name in ("width", "height", "margin", "gap"))
        size = (usual[0] if width is None else width, usual[1] if height is None else height)
        with beside("sheet"):
            paper = paper_size(asked.value("sheet") or habit.paper)
        cut = cutting(paper, size, TAG_MARGIN if margin is None else margin, TAG_GAP if gap is None else gap)
        skus, alloys = asked.goods()
        if kind == "card":
            friendly, hour = asked.value("friendly"), asked.value("hour")
            cards = CardsAsked(channel, skus, alloys, hour, FRIENDLY_SHARE if friendly is None else friendly)
            return ".pdf", stall_cards(out, cards, cut, habit).laid_out(".pdf")
        of: Literal["swing", "ring"] = "ring" if kind == "ring" else "swing"
        wanted = TagsAsked(of, channel, skus, alloys, asked.value("copies"), asked.value("skip"))
        return ".pdf", tags(out, wanted, cut, habit).laid_out(".pdf")

    return _download(request, made)


async def upload_sheet(request: Request) -> Response:
    """GET or POST /lists/upload-sheet?channel=…, with the files of columns and of an earlier sheet."""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.lists.upload_sheet import columns_from
        from pricing.lists.upload_sheet import upload_sheet as sheet_of

        channels = asked.texts.getlist("channel")
        if not channels:
            raise Refused("channel", "no channel is ticked: tick those whose prices go into the sheet.")
        channels = chosen("channel", "channel", channels, asked.look.costing.folder.stated.channels)
        since = asked.texts.get("changed_since", "").strip()
        if since and not (since.isascii() and since.isdecimal() and len(since) < 7):
            raise Refused(
                "changed_since", f'"{since}" is no edition: write its number, or leave it empty for all prices.'
            )
        earlier = asked.files.get("earlier")
        if since and earlier:
            raise Refused("changed_since", "an edition and an earlier sheet: say which of the two.")
        with beside("columns"):
            columns = columns_from(asked.files.get("columns"))
        skus, alloys = map(frozenset, asked.goods())
        variants = asked.look.costing.computed.resolved.variants
        rows = [row for row, each in enumerate(variants) if each.sku in skus and each.alloy in alloys]
        return ".csv", sheet_of(asked.out(), rows, channels, columns, int(since) if since else earlier)

    return await _with_files(request, made)


def upload_columns(request: Request) -> Response:
    """GET /lists/upload-columns: the built-in columns of the upload sheet, to be changed."""
    from pricing.resources import templates

    return _file(request, ".toml", (templates() / "upload_columns.toml").read_bytes())


async def job_cards(request: Request) -> Response:
    """POST /lists/cards: a page for each pour of what is wanted, or a card for each order of a list."""

    def made(asked: Asking) -> tuple[str, bytes]:
        from pricing.lists.order_card import order_cards
        from pricing.lists.pour_card import pour_card
        from pricing.pouring.told import all_poured
        from pricing.pouring.wants import orders_of_file, want_of, wants_of_file

        with beside("want"):
            wants = [want_of(line) for line in asked.lines("want")]
        with beside("wants"):
            wants += wants_of_file(asked.files["wants"]) if "wants" in asked.files else []
        with beside("for_list"):
            orders = orders_of_file(asked.files["for_list"]) if "for_list" in asked.files else []
        costing, habit, paper = asked.look.costing, asked.habit(), asked.paper()
        if asked.texts.get("kind") == "order":
            if not orders:
                raise Refused("for_list", "a card for each order needs a list of orders.")
            return asked.laid_out(order_cards(costing, orders, habit, paper))
        wants += [order.want for order in orders]
        if not wants:
            raise Refused("want", "nothing is wanted: write what, as thimble:sterling=12.")
        with beside("sure"):
            sure = chance_of(asked.texts.get("sure", ""))
        mixed = chosen("mix", "alloy", mix, costing.folder.stated.alloys) if (mix := asked.value("mix")) else []
        plan = planned(asked.look, wants, sure)
        with beside("mix"):
            all_poured(mixed, plan)
        if not plan.flasks:
            raise UsageFault("nothing of this is poured: what is cut or bought needs no pour card.")
        return asked.laid_out(pour_card(costing, plan, habit, mixed, paper))

    return await _with_files(request, made)


@contextmanager
def _anywhere() -> Iterator[None]:
    """A fault in here is of no field in particular."""
    yield


async def _with_files(request: Request, made: Made) -> Response:
    """The download of a form that may bring files along."""
    if request.method == "GET":
        return await run_in_threadpool(_download, request, made)
    workspace: Workspace = request.app.state.workspace
    with tempfile.TemporaryDirectory(dir=workspace.scratch()) as folder:
        files, texts = {}, []
        async with form_of(request, MOST_FIELDS, most_files=4) as form:
            for place, (name, value) in enumerate(form.multi_items()):
                if isinstance(value, UploadFile):
                    if value.filename:
                        (Path(folder) / str(place)).mkdir()
                        files[name] = Path(folder) / str(place) / _file_name(value.filename)
                        files[name].write_bytes(await value.read())
                else:
                    texts.append((name, value))
        return await run_in_threadpool(_download, request, made, QueryParams(texts), files)


def _file_name(sent: str) -> str:
    """The name of a file that was sent, of letters that every system takes."""
    return re.sub(r"[^\w.-]+", "-", sent).strip(".-")[-60:] or "file"


def _download(
    request: Request, made: Made, texts: QueryParams | None = None, files: Mapping[str, Path] = MappingProxyType({})
) -> Response:
    workspace: Workspace = request.app.state.workspace
    kind = request.url.path.rsplit("/", 1)[-1]
    texts = request.query_params if texts is None else texts
    try:
        look = workspace.look()
        suffix, content = made(Asking(workspace, look, forms(look)[kind], texts, files))
    except TroytagError as error:
        sentence = str(error)
        for path in files.values():  # told by its own name, wherever it lies just now
            sentence = sentence.replace(str(path), path.name)
        return _page(request, kind, sentence, error.option if isinstance(error, Refused) else "", texts)
    return _file(request, suffix, content)


def _file(request: Request, suffix: str, content: bytes) -> Response:
    workspace: Workspace = request.app.state.workspace
    name = f"{workspace.root.resolve().name}-{request.url.path.rsplit('/', 1)[-1]}{suffix}"
    headers = {"Content-Disposition": f"attachment; filename*=UTF-8''{quote(name)}"}
    return Response(content, media_type=TYPES[suffix], headers=headers)
