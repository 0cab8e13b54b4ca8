"""The first view: every design once, its alloys as lines: what each is made of, what it fetches, what that earns."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from starlette.requests import Request
from starlette.responses import Response

from pricing.advice import advice_in_words
from pricing.errors import TroytagError
from pricing.made_of import contents_of, own_grams
from pricing.model.product import sold_together
from pricing.page.framing import frame
from pricing.page.rendering import Frame, is_part, moved, page
from pricing.page.stamps import Stamp, stamp_of
from pricing.page.views.catalogue_choice import (
    ORDERS,
    WANTS,
    Choice,
    by_design,
    in_order,
    matching,
    wanting,
)
from pricing.page.views.cost_bar import LEGEND, Bar, Legend, cost_bar
from pricing.page.views.faults import faulty
from pricing.page.workspace import Look, Workspace
from pricing.shown import NOTHING, percent

#: Designs on one page.
PAGE_DESIGNS = 24
#: With more channels than this a line has no room for all of them beside each other.
MOST_BESIDE = 6


@dataclass(frozen=True)
class PriceCell:
    """A variant in one channel: the price in force with what it earns, and `asked` where the policy asks another.

    Where no edition is in force `price` is what is asked; where this price is not published, it is a dash. `by` is how
    far the asked one lies from it, `is_more` whether above.
    """

    price: str
    margin: str
    hour: str
    asked: str
    by: str = ""
    is_more: bool = True


@dataclass(frozen=True)
class AlloyLine:
    """One variant as the catalogue shows it; `cells` has None where it is not sold."""

    sku: str
    alloy: str
    alloy_name: str
    size: str
    others: str
    mass: str
    cost: str
    bar: Bar
    stamp: Stamp
    cells: tuple[PriceCell | None, ...]


@dataclass(frozen=True)
class Design:
    """One product: `about` its collection and how it is sold, `sku` and `alloy` of its picture, a line an alloy.

    `never` are the places of the channels in which none of the lines is sold.
    """

    sku: str
    name: str
    about: str
    alloy: str
    lines: tuple[AlloyLine, ...]
    never: frozenset[int]


@dataclass(frozen=True)
class Head:
    """A head that sorts: `address` sorts by it, `now` is "ascending", "descending" or "none"; by `channel`'s prices."""

    word: str
    address: str
    now: str
    channel: str = ""


@dataclass(frozen=True)
class Want:
    """A filter for what wants a look: its name, its words, how many variants fit it, whether it is chosen."""

    name: str
    word: str
    count: int
    chosen: bool


@dataclass(frozen=True)
class CatalogueContext:
    """`designs` of one page; of `total` variants `count` match, in `designs_found` of `designs_total` designs; the
    choices as they stand; `before`, `after` are addresses of the pages around, "" at the ends; `edition` which one is
    in force; `week` a sentence on whether the figures add up; `beside` whether channels have room beside each other."""

    frame: Frame
    designs: tuple[Design, ...]
    legend: tuple[Legend, ...]
    channels: tuple[Head, ...]
    collections: tuple[str, ...]
    alloys: tuple[tuple[str, str], ...]
    wants: tuple[Want, ...]
    orders: tuple[tuple[str, str], ...]
    query: str
    alloy: str
    collection: str
    channel: str
    sort: str
    heads: Mapping[str, Head]
    count: int
    total: int
    designs_found: int
    designs_total: int
    number: int
    pages: int
    before: str
    after: str
    beside: bool
    edition: str
    week: str
    advice: tuple[str, ...]


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
    wants = wanting(look)
    rows = in_order(look, choice, matching(look, choice, wants))
    found = by_design(look, rows.tolist())
    pages = max(1, -(-len(found) // PAGE_DESIGNS))
    number = min(max(1, choice.number), pages)
    here = found[(number - 1) * PAGE_DESIGNS : number * PAGE_DESIGNS]
    words = {"name": "Design", "mass": "Finished", "cost": f"Costs you, {look.shown.currency}"}
    return CatalogueContext(
        frame=around,
        designs=tuple(_design(look, own) for _, own in here),
        legend=LEGEND,
        channels=tuple(
            _head(choice, "price", look.shown.channel(channel.name), channel.name) for channel in resolved.channels
        ),
        collections=look.collections,
        alloys=tuple((name, alloy.name) for name, alloy in stated.alloys.items()),
        wants=tuple(
            Want(name, word, count, name in choice.wants)
            for name, word in WANTS.items()
            if (count := int(wants[name].sum())) or name in choice.wants
        ),
        orders=tuple((name, word) for name, (word, _) in ORDERS.items()),
        query=choice.query,
        alloy=choice.alloy,
        collection=choice.collection,
        channel=choice.channel,
        sort=choice.sort,
        heads={sort: _head(choice, sort, word) for sort, word in words.items()},
        count=len(rows),
        total=len(resolved.variants),
        designs_found=len(found),
        designs_total=len({each.product for each in resolved.variants}),
        number=number,
        pages=pages,
        before=choice.address(number=number - 1) if number > 1 else "",
        after=choice.address(number=number + 1) if number < pages else "",
        beside=len(resolved.channels) <= MOST_BESIDE,
        edition=f"edition {look.edition.number} of {look.edition.as_of} in force" if look.edition else "",
        week=look.week,
        advice=_advice(look, (row for _, own in here for row in own)),
    )


def _advice(look: Look, rows: Iterable[int]) -> tuple[str, ...]:
    """What deserves a word about the variants that are shown and about the whole, each kind once."""
    shown = set(rows)
    return tuple(advice_in_words((hint for hint in look.advice if hint.row is None or hint.row in shown), look.shown))


def _head(choice: Choice, sort: str, word: str, channel: str = "") -> Head:
    is_now = choice.sort == sort and channel in ("", choice.channel)
    first = ORDERS[sort][1]
    other = "descending" if choice.way == "ascending" else "ascending"
    more = {"channel": channel} if channel else {}
    address = choice.address(sort=sort, way=other if is_now else first, number=1, **more)
    return Head(word, address, choice.way if is_now else "none", channel)


def _design(look: Look, rows: list[int]) -> Design:
    """One product with the lines of its variants, in the order of its alloys where nothing else is asked."""
    first = look.costing.computed.resolved.variants[rows[0]]
    product = look.products[first.sku]
    whole = look.products.get(first.product, product)
    together = sold_together(product)
    sold_places = look.going_out.computed.sold_places[rows] | look.costing.computed.sold_places[rows]
    about = [product.collection or "", f"sold as a {together}" if together else ""]
    return Design(
        sku=first.sku,
        name=whole.name,
        about=" · ".join(filter(None, about)),
        alloy=first.alloy,
        lines=tuple(line(look, row) for row in rows),
        never=frozenset(np.flatnonzero(~sold_places.any(axis=0)).tolist()),
    )


def line(look: Look, row: int) -> AlloyLine:
    """One variant's line."""
    computed = look.costing.computed
    variant = computed.resolved.variants[row]
    alloy = look.costing.folder.stated.alloys[variant.alloy]
    return AlloyLine(
        sku=variant.sku,
        alloy=variant.alloy,
        alloy_name=alloy.name,
        size=variant.size or "" if variant.sku != variant.product else "",
        others=_others(look, row),
        mass=look.shown.mass(own_grams(computed, row)),
        cost=look.shown.money(float(computed["unit_cost"][row])),
        bar=cost_bar(computed, row, look.shown),
        stamp=stamp_of(alloy),
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


def _cell(look: Look, row: int, column: int) -> PriceCell:
    out, shown = look.going_out, look.shown
    channel = out.computed.resolved.channels[column].name
    computed, asked = out.computed, float(out.asked.computed["price"][row, column])
    if not computed.sold_places[row, column]:
        return PriceCell(NOTHING, NOTHING, NOTHING, shown.price(channel, asked), "not published")
    price = float(computed["price"][row, column])
    differs = out.differs(row, column) and price != 0
    return PriceCell(
        price=shown.price(channel, price),
        margin=percent(_defined(computed["margin"][row, column])),
        hour=shown.money(_defined(computed["earned_per_hour"][row, column])),
        asked=shown.price(channel, asked) if differs else "",
        by=moved(asked / price - 1) if differs else "",
        is_more=asked > price,
    )


def _defined(value: Any) -> float | None:
    return None if np.isnan(value) else float(value)
