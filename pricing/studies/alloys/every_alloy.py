"""One design in every alloy that the workshop has: what it weighs, costs and leaves, and where two change places.

Alloys in which the product is not made are tried on a copy of it, through the checks and the resolving of the folder
itself: whatever it states for every alloy, for one alloy and in its process holds for the copy too.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import asdict, dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from pricing.costing import MeasureForPrice, cost_folder
from pricing.errors import Faults, UsageFault, did_you_mean
from pricing.folder.checks.products import product_faults
from pricing.folder.checks.steps import left_out_warnings
from pricing.folder.gathered import Parts
from pricing.folder.inherit import findings_of, parts_of, pieces
from pricing.folder.read import Folder
from pricing.folder.rows.resolve import Asked
from pricing.formulas.engine import Computed
from pricing.formulas.worlds import at_times
from pricing.model.product import Product
from pricing.records import decimal_price, margins_of_sizes, number
from pricing.studies.break_even.reach import COST_NOISE, bends, times_of
from pricing.studies.prices_out import PricesOut, Wanted, prices_out

if TYPE_CHECKING:
    from pricing.meshes import VolumeAndArea


@dataclass(frozen=True)
class InAlloy:
    """A piece in an alloy: grams, and the workshop's currency for costs.

    `size` is one size of what has one price for all of them, None for the piece as it sells. `is_made` says whether
    the product states the alloy. `prices` and `margins` are by channel, in its currency; `published` the channels where
    the price is one in force, and not asked. `without` are findings that others of its alloys have and this one has
    not.
    """

    sku: str
    alloy: str
    size: str | None
    is_made: bool
    finished_g: float
    metal_cost: float
    unit_cost: float
    prices: Mapping[str, float]
    margins: Mapping[str, float | None]
    published: frozenset[str]
    without: tuple[str, ...]


@dataclass(frozen=True)
class Change:
    """The price of a metal, all else as it is, at which an alloy costs what the next cheaper one does.

    It is the dearer alloy's leading metal, or the cheaper one's where the dearer stays dearer at every price of its
    own. As quoted: `currency` for one `per`. `then`, its `times` of today's and `cost_then`, the cost of both, are None
    where neither metal does it.
    """

    sku: str
    dearer: str
    cheaper: str
    metal: str
    now: float
    then: float | None
    times: float | None
    cost_then: float | None
    currency: str
    per: str


@dataclass(frozen=True)
class EveryAlloy:
    """A product in every alloy that its process and its findings allow; `left_out` says why the others are not there.

    Alloys by rising unit cost; each is followed by its sizes.
    """

    out: PricesOut
    found: tuple[InAlloy, ...]
    changes: tuple[Change, ...]
    left_out: Mapping[str, str]


def in_every_alloy(folder: Folder, sku: str, asked: Asked, wanted: Wanted = None) -> EveryAlloy:
    """A product, or one size of it that has a price of its own, in every alloy.

    Raises UsageFault where there is no such product, Faults where its own alloys cannot be costed.
    """
    known = pieces(folder.products)
    product = folder.products.get(sku) or (known[sku].product if sku in known else None)
    if product is None:
        raise UsageFault(f'no product "{sku}". {did_you_mean(sku, folder.goods)}')
    measure = lru_cache(maxsize=None)(measured)
    left_out: dict[str, str] = {}
    made = tuple(product.alloys or ())
    allowed = list(made)
    for alloy in folder.stated.alloys:
        if alloy not in made:
            against = _against(folder, product, alloy, asked, measure)
            if against is None:
                allowed.append(alloy)
            else:
                left_out[alloy] = against
    out = prices_out(cost_folder(alone_in(folder, product, allowed), asked, measure), wanted)
    rows = [
        row
        for row, variant in enumerate(out.computed.resolved.variants)
        if variant.product == product.sku and (variant.sku == sku or sku == product.sku)
    ]
    place = {name: at for at, name in enumerate(dict.fromkeys(out.computed.resolved.variants[row].sku for row in rows))}
    costs = out.computed["unit_cost"]
    rows.sort(key=lambda row: (place[out.computed.resolved.variants[row].sku], costs[row]))
    return EveryAlloy(out, tuple(_lines(out, rows, product)), tuple(changes(out.computed, rows)), left_out)


def measured(path: Path) -> VolumeAndArea:
    """A mesh measured as a price needs it."""
    from pricing.meshes import volume_and_area

    return volume_and_area(path, thorough=True)


def alone_in(folder: Folder, product: Product, alloys: Iterable[str]) -> Folder:
    """The folder with only this product, made in these alloys, and with what is joined to it."""
    whole, known = folder.products, pieces(folder.products)
    wanted = {product.sku: product.model_copy(update={"alloys": tuple(alloys), "like": None})}
    waiting = [product]
    while waiting:
        for finding in waiting.pop().findings or ():
            part = known[finding.product].product if finding.product in known else None
            if part is not None and part.sku not in wanted:
                wanted[part.sku] = whole[part.sku].model_copy(update={"like": None})
                waiting.append(part)
    return replace(folder, stated=folder.stated.model_copy(update={"products": wanted}))


def parts_of_folder(folder: Folder, products: Mapping[str, Product]) -> Parts:
    """What the checks of a folder look at, with these products instead of its own."""
    stated = folder.stated
    parts = Parts(
        folder.documents,
        stated.workshop,
        dict(stated.alloys),
        dict(stated.processes),
        dict(stated.channels),
        stated.ladder,
        dict(products),
    )
    parts.names_in_files()
    return parts


def _against(folder: Folder, product: Product, alloy: str, asked: Asked, measure: MeasureForPrice) -> str | None:
    """Why a product cannot be made or costed in an alloy that it does not state; None where it can."""
    if lacking := _lacks_findings(product, alloy):
        return f"each of its alloys has findings of its own ({', '.join(lacking)}), and this one has none"
    trial = alone_in(folder, product, [alloy])
    parts = parts_of_folder(folder, trial.stated.products)
    faults = [*product_faults(parts)]
    faults += left_out_warnings(parts, folder.product_file(product.sku), trial.products[product.sku], set())
    if faults:
        return faults[0].problem
    try:
        cost_folder(trial, asked, measure)
    except Faults as found:
        fault = found.faults[0]
        return f"{fault.key}: {fault.problem}" if fault.key else fault.problem
    return None


def _of_some_alloys(product: Product, alloy: str) -> list[str]:
    """Findings, bought or made here, that are for some alloys only, and go on the product in this one."""
    used = [*findings_of(product, alloy), *parts_of(product, alloy)]
    return [finding.name or finding.product or "" for finding in used if finding.alloys is not None]


def _lacks_findings(product: Product, alloy: str) -> list[str]:
    """The findings of the stated alloys, where each of them has some of its own and this alloy has none."""
    own = [_of_some_alloys(product, each) for each in product.alloys or ()]
    if not own or not all(own) or _of_some_alloys(product, alloy):
        return []
    return list(dict.fromkeys(name for names in own for name in names))


def _lines(out: PricesOut, rows: Iterable[int], product: Product) -> Iterator[InAlloy]:
    computed, sold_places = out.computed, out.asked.computed.sold_places
    resolved, margins = computed.resolved, margins_of_sizes(computed)
    for row in rows:
        variant = resolved.variants[row]
        columns = {variant.prices[column].channel: column for column in np.flatnonzero(sold_places[row]).tolist()}
        is_made = variant.alloy in (product.alloys or ())
        names = {name for each in product.alloys or () for name in _of_some_alloys(product, each)}
        without = () if is_made else tuple(sorted(names - set(_of_some_alloys(product, variant.alloy))))
        places: dict[int, str | None] = {row: None}
        for place, hidden in enumerate(resolved.hidden, len(resolved.variants)):
            if hidden.of == variant.called and not hidden.links:
                places[place] = hidden.size
        for place, size in places.items():
            yield InAlloy(
                sku=variant.sku,
                alloy=variant.alloy,
                size=size,
                is_made=is_made,
                **{name: float(computed.values[name][place]) for name in ("finished_g", "metal_cost", "unit_cost")},
                prices={name: float(computed["price"][row, column]) for name, column in columns.items()},
                margins={name: number(margins[place, column]) for name, column in columns.items()},
                published=frozenset(
                    name for name in columns if (variant.sku, variant.alloy, name) in out.published
                ),
                without=without,
            )  # fmt: skip


def changes(computed: Computed, rows: Iterable[int]) -> Iterator[Change]:
    """For each variant and the next, both of one sku and by rising cost, where the two change places."""
    rows, resolved = list(rows), computed.resolved
    lines: dict[int, tuple[np.ndarray, np.ndarray]] = {}
    for low, high in zip(rows, rows[1:], strict=False):
        cheaper, dearer = resolved.variants[low], resolved.variants[high]
        leading = [leading_metal(computed, each.alloy) for each in (dearer, cheaper)]
        metals = list(dict.fromkeys(metal for metal in leading if metal is not None))
        if cheaper.sku != dearer.sku or not metals:
            continue
        metal, times = metals[0], None
        for each in metals:
            if each not in lines:
                lines[each] = _costs_along(computed, each)
            knots, costs = lines[each]
            times = _nearest_root(knots, costs[:, high] - costs[:, low], COST_NOISE * float(costs[:, high].max()))
            if times is not None:
                metal = each
                break
        quote, cost_then = resolved.metals[metal], None
        if times is not None:
            there = at_times(computed, times_of(_only(computed, metal), np.array([times])), ["unit_cost"])
            cost_then = float(there["unit_cost"][0, high])
        yield Change(
            sku=dearer.sku,
            dearer=dearer.alloy,
            cheaper=cheaper.alloy,
            metal=quote.name,
            now=quote.quote_price,
            then=None if times is None else times * quote.quote_price,
            times=times,
            cost_then=cost_then,
            currency=quote.currency,
            per=quote.quoted_per,
        )


def leading_metal(computed: Computed, alloy: str) -> int | None:
    """The place of the metal that most of an alloy's value is, among the metals; None where none has a price."""
    places = {metal.name: place for place, metal in enumerate(computed.resolved.metals)}
    prices = computed["spot_per_g"]
    (contents,) = (row.contents for row in computed.resolved.alloys if row.name == alloy)
    worth = {places[each.metal]: each.mass_fraction * prices[places[each.metal]] for each in contents if each.metal}
    return max(worth, key=lambda place: float(worth[place])) if worth else None


def _only(computed: Computed, metal: int) -> np.ndarray:
    moved: np.ndarray = np.arange(len(computed.resolved.metals)) == metal
    return moved


def _costs_along(computed: Computed, metal: int) -> tuple[np.ndarray, np.ndarray]:
    """Every place where some cost bends as one metal moves, in times its price, and the costs there: lines between."""
    moved = _only(computed, metal)
    knots = bends(computed, moved)
    return knots, at_times(computed, times_of(moved, knots), ["unit_cost"])["unit_cost"]


def _nearest_root(knots: np.ndarray, apart: np.ndarray, noise: float) -> float | None:
    """Where a line with bends, which goes on beyond the last as it ends, is 0 above 0, the place nearest to 1."""
    found = []
    for place, (start, end) in enumerate(zip(knots, knots[1:], strict=False)):
        rise = apart[place + 1] - apart[place]
        if abs(rise) <= noise:
            continue
        root = start - apart[place] / rise * (end - start)
        if root > 0 and start <= root and (root <= end or place == len(knots) - 2):
            found.append(float(root))
    return min(found, key=lambda times: abs(times - 1), default=None)


def alloy_records(every: EveryAlloy, channels: Iterable[str]) -> Iterator[dict[str, Any]]:
    """A flat record for each piece, alloy and channel, with where it changes places with the next cheaper alloy.

    A piece that is sold in none of these channels has one record without a price; one size of those at one price has no
    change of places of its own.
    """
    told = {(each.sku, each.dearer): asdict(each) for each in every.changes}
    wanted = list(channels)
    for each in every.found:
        change = told.get((each.sku, each.alloy), {}) if each.size is None else {}
        sold_in: list[str | None] = [name for name in wanted if name in each.prices]
        for name in sold_in or [None]:
            yield {
                "sku": each.sku,
                "alloy": each.alloy,
                "size": each.size,
                "is_made": each.is_made,
                "finished_g": each.finished_g,
                "metal_cost": each.metal_cost,
                "unit_cost": each.unit_cost,
                "channel": name,
                "price": decimal_price(each.prices[name]) if name else None,
                "margin": each.margins[name] if name else None,
                "is_published": name in each.published,
                **{key: change.get(key) for key in ("cheaper", "metal", "now", "then", "cost_then", "currency", "per")},
            }
