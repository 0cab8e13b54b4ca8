"""The first view: every variant, what it is made of, what it fetches; sorted, searched and paged here, not there."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

import numpy as np
from starlette.requests import Request
from starlette.responses import Response

from pricing.advice import advice_in_words
from pricing.errors import TroytagError
from pricing.formulas.engine import Computed
from pricing.made_of import contents_of
from pricing.model.product import sold_together
from pricing.page.framing import frame
from pricing.page.rendering import Frame, is_part, moved, page
from pricing.page.stamps import Stamp, stamp_of
from pricing.page.views.cost_bar import LEGEND, Bar, Legend, cost_bar
from pricing.page.views.faults import faulty
from pricing.page.workspace import Look, Workspace
from pricing.shown import NOTHING, percent

#: Variants on one page.
PAGE_ROWS = 40
SORTS = ("name", "mass", "cost", "price", "margin", "hour", "drift")


@dataclass(frozen=True)
class PriceCell:
    """A variant in one channel: the price in force with what it earns, and `asked` where the policy asks another.

    Where no edition is in force `price` is what is asked; where this price is not published, it is a dash.
    """

    price: str
    margin: str
    hour: str
    asked: str


@dataclass(frozen=True)
class AlloyLine:
    """One variant as the catalogue shows it; `cells` has None where it is not sold."""

    sku: str
    name: str
    sold_as: str
    alloy: str
    alloy_name: str
    others: str
    mass: str
    cost: str
    bar: Bar
    stamp: Stamp
    cells: tuple[PriceCell | None, ...]


@dataclass(frozen=True)
class Head:
    """A head that sorts: `address` sorts by it, `now` is "ascending", "descending" or "none"."""

    word: str
    address: str
    now: str


@dataclass(frozen=True)
class CatalogueContext:
    """`lines` of one page; `count` that match of `total`; the choices as they stand; `before`, `after` are addresses of
    the pages around, "" at the ends; `mass_unit` what masses are in; `edition` which one is in force."""

    frame: Frame
    lines: tuple[AlloyLine, ...]
    legend: tuple[Legend, ...]
    channels: tuple[str, ...]
    channel_heads: tuple[str, ...]
    collections: tuple[str, ...]
    alloys: tuple[tuple[str, str], ...]
    query: str
    alloy: str
    collection: str
    channel: str
    sort: str
    way: str
    heads: dict[str, Head]
    count: int
    total: int
    number: int
    pages: int
    before: str
    after: str
    mass_unit: str
    edition: str
    advice: tuple[str, ...]


@dataclass(frozen=True)
class Choice:
    """What was asked of the catalogue; whatever makes no sense is as if it had not been asked."""

    query: str = ""
    alloy: str = ""
    collection: str = ""
    channel: str = ""
    sort: str = "name"
    way: str = "ascending"
    number: int = 1

    @classmethod
    def of(cls, request: Request, look: Look) -> Choice:
        asked = request.query_params
        stated = look.costing.folder.stated
        number = asked.get("number", "1")
        channel = asked.get("channel", "")
        return cls(
            query=asked.get("query", "").strip()[:120],
            alloy=asked.get("alloy", "") if asked.get("alloy") in stated.alloys else "",
            collection=asked.get("collection", "")[:120],
            channel=channel if channel in stated.channels else next(iter(stated.channels), ""),
            sort=asked.get("sort", "name") if asked.get("sort") in SORTS else "name",
            way="descending" if asked.get("way") == "descending" else "ascending",
            number=int(number) if number.isascii() and number.isdigit() and len(number) < 7 else 1,
        )

    def address(self, **other: str | int) -> str:
        """The address of the same choice with something else."""
        asked = {**{name: getattr(self, name) for name in self.__dataclass_fields__}, **other}
        return "/?" + urlencode({name: value for name, value in asked.items() if value != ""})


def catalogue(request: Request) -> Response:
    """GET /: the catalogue, or only its lines for htmx."""
    workspace: Workspace = request.app.state.workspace
    try:
        look = workspace.look()
    except TroytagError as error:
        return faulty(request, error)
    choice = Choice.of(request, look)
    context = _context(look, choice, frame(workspace, look, "catalogue", "Catalogue"))
    return page(request, "catalogue_lines.html" if is_part(request) else "catalogue.html", context)


def _context(look: Look, choice: Choice, around: Frame) -> CatalogueContext:
    stated, resolved = look.costing.folder.stated, look.costing.computed.resolved
    rows = _sorted(look, choice, _matching(look, choice))
    pages = max(1, -(-len(rows) // PAGE_ROWS))
    number = min(max(1, choice.number), pages)
    here = rows[(number - 1) * PAGE_ROWS : number * PAGE_ROWS]
    return CatalogueContext(
        frame=around,
        lines=tuple(line(look, int(row)) for row in here),
        legend=LEGEND,
        channels=tuple(channel.name for channel in resolved.channels),
        channel_heads=tuple(look.shown.channel(channel.name) for channel in resolved.channels),
        collections=look.collections,
        alloys=tuple((name, alloy.name) for name, alloy in stated.alloys.items()),
        query=choice.query,
        alloy=choice.alloy,
        collection=choice.collection,
        channel=choice.channel,
        sort=choice.sort,
        way=choice.way,
        heads={sort: _head(choice, sort) for sort in SORTS},
        count=len(rows),
        total=len(resolved.variants),
        number=number,
        pages=pages,
        before=choice.address(number=number - 1) if number > 1 else "",
        after=choice.address(number=number + 1) if number < pages else "",
        mass_unit=look.shown.show.mass,
        edition=f"edition {look.edition.number} of {look.edition.as_of} in force" if look.edition else "",
        advice=_advice(look, here),
    )


def _advice(look: Look, rows: Iterable[int]) -> tuple[str, ...]:
    """What deserves a word about the variants that are shown and about the whole, each kind once."""
    shown = {int(row) for row in rows}
    return tuple(advice_in_words((hint for hint in look.advice if hint.row is None or hint.row in shown), look.shown))


def _head(choice: Choice, sort: str) -> Head:
    words = {
        "name": "Piece",
        "mass": "Finished",
        "cost": "Costs",
        "price": "price",
        "margin": "margin",
        "hour": "an hour",
        "drift": "drift",
    }
    now = choice.way if choice.sort == sort else "none"
    way = (
        "descending" if now == "ascending" or (now == "none" and sort not in ("name", "mass", "cost")) else "ascending"
    )
    return Head(words[sort], choice.address(sort=sort, way=way, number=1), now)


def _matching(look: Look, choice: Choice) -> np.ndarray:
    """The rows of the variants that are asked for, in the order of their names."""
    words = choice.query.casefold().split()
    if not (words or choice.alloy or choice.collection):
        return look.by_name
    variants, texts = look.costing.computed.resolved.variants, look.texts
    found = [
        row
        for row in look.by_name.tolist()
        if (not choice.alloy or variants[row].alloy == choice.alloy)
        and (not choice.collection or look.products[variants[row].sku].collection == choice.collection)
        and all(word in texts[row] for word in words)
    ]
    return np.array(found, dtype=np.intp)


def _sorted(look: Look, choice: Choice, rows: np.ndarray) -> np.ndarray:
    computed, out = look.costing.computed, look.going_out
    if choice.sort == "name":
        return rows[::-1] if choice.way == "descending" else rows
    column = [row.name for row in computed.resolved.channels].index(choice.channel) if choice.channel else None
    values = {
        "price": "price",
        "margin": "margin",
        "hour": "earned_per_hour",
    }
    if choice.sort == "mass":
        keys = np.array([_own_grams(computed, row) for row in rows.tolist()])
    elif choice.sort == "cost":
        keys = computed["unit_cost"][rows]
    elif column is None:
        return rows
    else:
        at_them = out.computed[values.get(choice.sort, "price")]
        found = computed["price"] / at_them - 1 if choice.sort == "drift" else at_them
        keys = np.where(computed.sold_places[:, column], found[:, column], np.nan)[rows]
    keys = -keys if choice.way == "descending" else keys
    return rows[np.argsort(keys, kind="stable")]  # what cannot be told comes last


def line(look: Look, row: int) -> AlloyLine:
    """One variant's line."""
    computed = look.costing.computed
    variant = computed.resolved.variants[row]
    product = look.products[variant.sku]
    return AlloyLine(
        sku=variant.sku,
        name=product.name,
        sold_as=f"sold as a {together}" if (together := sold_together(product)) else "",
        alloy=variant.alloy,
        alloy_name=look.costing.folder.stated.alloys[variant.alloy].name,
        others=_others(look, row),
        mass=look.shown.mass(_own_grams(computed, row)),
        cost=look.shown.money(float(computed["unit_cost"][row])),
        bar=cost_bar(computed, row, look.shown),
        stamp=stamp_of(look.costing.folder.stated.alloys[variant.alloy]),
        cells=tuple(
            _cell(look, row, column) if is_sold else None for column, is_sold in enumerate(computed.sold_places[row])
        ),
    )


def _others(look: Look, row: int) -> str:
    """`with Sterling silver 2.84 g`: the metals of a piece that are not its own."""
    alloys, variant = look.costing.folder.stated.alloys, look.costing.computed.resolved.variants[row]
    found = contents_of(look.costing.computed, row).metals
    others = [
        f"{alloys[each.alloy].name} {look.shown.mass(each.grams)}" for each in found if each.alloy != variant.alloy
    ]
    return f"with {', '.join(others)}" if others else ""


def _own_grams(computed: Computed, row: int) -> float:
    """Its own metal; of what has none, all metal of the pieces that it is joined of."""
    own = float(computed["finished_g"][row])
    return own if computed.resolved.variants[row].castings else contents_of(computed, row).all_metals_g


def _cell(look: Look, row: int, column: int) -> PriceCell:
    out, shown = look.going_out, look.shown
    channel = out.computed.resolved.channels[column].name
    computed, asked = out.computed, float(out.asked.computed["price"][row, column])
    if not computed.sold_places[row, column]:
        return PriceCell(NOTHING, NOTHING, NOTHING, f"asked {shown.price(channel, asked)}, not published")
    price = float(computed["price"][row, column])
    return PriceCell(
        price=shown.price(channel, price),
        margin=percent(_defined(computed["margin"][row, column])),
        hour=shown.money(_defined(computed["earned_per_hour"][row, column])),
        asked=f"asked {shown.price(channel, asked)}, {moved(asked / price - 1)}"
        if out.differs(row, column) and price
        else "",
    )


def _defined(value: Any) -> float | None:
    return None if np.isnan(value) else float(value)
