"""Whether a workshop adds up: its figures held against the week that its maker told, and what a year of it pays.

How many pieces come out good in a year is told ([week]), or follows from the expected sales and the years over which
they are spread. It is shared out over the variants as their expected sales are (a product's over its sizes as they
sell, and over its alloys alike), and over the channels as `sold` says, alike where it does not. What that takes in
hours and flasks, and what it brings, are the engine's figures at the prices that go out. Overhead is taken off as it
is paid, whatever the hours recover of it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from pricing.errors import UsageFault, did_you_mean
from pricing.formulas.engine import Computed
from pricing.model.workshop import MONTHS_IN_A_YEAR, Week
from pricing.records import number
from pricing.studies.month.own_and_overhead import overhead_carried, own_hours, own_pay
from pricing.studies.month.set_takes import with_parts
from pricing.studies.prices_out import PricesOut


@dataclass(frozen=True)
class Sold:
    """One variant in one channel: sets in a year, hours that they take, and what they bring to overhead and maker."""

    sku: str
    alloy: str
    channel: str
    sets: float
    hours: float
    own_hours: float
    brings: float


@dataclass(frozen=True)
class WholeWeek:
    """The figures of a workshop beside the week that was told; hours, flasks and pieces are of a week that is worked.

    `needs_…`, `pieces` (castings begun) and `good` (the share of them that comes through) follow from the figures,
    `has_…` and `told_…` are told (None: not said). Money is of a year: `overhead` to be paid and `recovered` by
    the hours, `sales` net, `pays` what is left for the maker's own `own_hours`. `lasts` are the years for which the
    expected sales last at that pace. `lacking` names products without expected sales, counted as the others' mean.
    """

    weeks: float
    pieces: float
    told_pieces: float | None
    sets: float
    needs_hours: float
    has_hours: float
    needs_flasks: float
    has_flasks: float | None
    good: float | None
    told_good: float | None
    overhead: float
    recovered: float
    sales: float
    pays: float
    own_hours: float
    lasts: float
    rows: tuple[Sold, ...]
    lacking: tuple[str, ...] = ()

    @property
    def an_hour(self) -> float | None:
        """What an hour of the maker's own brings in the end; None where no such hour is spent."""
        return self.pays / self.own_hours if self.own_hours else None

    @property
    def fits(self) -> float:
        """The share of it all for which the hours are enough."""
        return min(1.0, self.has_hours / self.needs_hours) if self.needs_hours else 1.0

    @property
    def pays_if_fitted(self) -> float:
        """What the year pays where only what fits into the hours is made and sold."""
        return (self.pays + self.overhead) * self.fits - self.overhead


def whole_week(
    out: PricesOut, years: float | None = None, sold: Mapping[str, float] | None = None, in_short: bool = False
) -> WholeWeek:
    """The workshop held against its week, at the prices that go out.

    `years` spreads the expected sales in place of the pieces of [week]; `sold` gives channels their parts of what is
    sold, all alike where it is empty; `in_short` leaves out the rows. Raises UsageFault where nobody told how much is
    made, where nothing that is made is sold, and for an unknown channel.
    """
    stated, computed = out.costing.folder.stated, out.computed
    told = stated.workshop.week or Week()
    if years is None and told.pieces is None:
        raise UsageFault(
            "nobody said how much is made in a normal week. Add to workshop.toml [week] with pieces = the castings "
            "begun in it, or say with --years over how many years the expected sales are spread."
        )
    if years is not None and not years > 0:
        raise UsageFault(f"--years {years:g}: write a number above 0.")
    share = _channels(out, sold or {})
    weights, lacking = _weights(out)
    weights = np.where(share.any(axis=1), weights, 0.0)
    a_set = computed.values["castings_per_set"]
    each = np.stack([a_set, a_set * _first_starts(computed), computed.values["flasks_per_set"]], axis=1)
    castings, begun, flasks = with_parts(computed, each).T
    all_good, all_begun = float(weights @ castings), float(weights @ begun)
    if not weights.sum():
        raise UsageFault("nothing that is made has a price in these channels. Publish prices, or name other channels.")
    good = all_good / all_begun if all_begun else None
    if years is not None:
        times = 1 / years
    elif all_good and told.pieces is not None:
        times = told.pieces * told.weeks_a_year * (told.pieces_good or good or 1.0) / all_good
    else:
        raise UsageFault("no piece has a casting, so that the pieces of [week] say nothing. Say --years.")
    sets = (weights * times)[:, None] * share
    hours = computed["labour_hours"][:, None] + computed["order_hours"]
    own, recovered = own_hours(computed), overhead_carried(computed)
    brings = computed["profit"] + own_pay(computed) + recovered
    overhead = stated.workshop.overhead.per_month * MONTHS_IN_A_YEAR

    def over(figure: np.ndarray) -> float:
        return float(np.where(sets > 0, sets * figure, 0.0).sum())

    a_week = 1 / told.weeks_a_year
    return WholeWeek(
        weeks=told.weeks_a_year,
        pieces=all_begun * times * a_week,
        told_pieces=told.pieces,
        sets=float(sets.sum()),
        needs_hours=over(hours) * a_week,
        has_hours=stated.workshop.hours_a_week,
        needs_flasks=float(weights @ flasks) * times * a_week,
        has_flasks=told.flasks,
        good=good,
        told_good=told.pieces_good,
        overhead=overhead,
        recovered=over(recovered),
        sales=over(computed["net_sales"]),
        pays=over(brings) - overhead,
        own_hours=over(own),
        lasts=1 / times,
        rows=() if in_short else tuple(_rows(computed, sets, hours, own, brings)),
        lacking=lacking,
    )


def _rows(computed: Computed, sets: np.ndarray, *figures: np.ndarray) -> list[Sold]:
    variants = computed.resolved.variants
    return [
        Sold(
            variants[row].sku,
            variants[row].alloy,
            variants[row].prices[column].channel,
            float(sets[row, column]),
            *(float(sets[row, column] * figure[row, column]) for figure in figures),
        )
        for row, column in np.argwhere(sets > 0).tolist()
    ]


def _channels(out: PricesOut, sold: Mapping[str, float]) -> np.ndarray:
    """The part of each variant that is sold in each channel where it has a price; each line adds up to 1 or is 0."""
    names = [row.name for row in out.computed.resolved.channels]
    for name in sold:
        if name not in names:
            raise UsageFault(f'--sold {name}: no channel "{name}". {did_you_mean(name, names)}')
    parts = np.array([sold.get(name, 0.0) if sold else 1.0 for name in names])
    taken = np.where(out.computed.sold_places, parts, 0.0)
    sums = taken.sum(axis=1, keepdims=True)
    return np.asarray(np.divide(taken, sums, out=np.zeros_like(taken), where=sums > 0))


def _weights(out: PricesOut) -> tuple[np.ndarray, tuple[str, ...]]:
    """Sets of each variant that sell by itself over the life of its design, and products that do not say how many."""
    folder, resolved = out.costing.folder, out.computed.resolved
    products = folder.products
    said: dict[tuple[str, str], float | None] = {}
    for row in resolved.variants:
        product = products[row.product]
        said[row.product, row.alloy] = folder.applied.figures_of(product, row.alloy).expected_sales
    known = [sales for sales in said.values() if sales is not None]
    mean = sum(known) / len(known) if known else 1.0
    lacking = tuple(dict.fromkeys(sku for (sku, _), sales in said.items() if sales is None)) if known else ()
    found = []
    for row in resolved.variants:
        product, sales = products[row.product], said[row.product, row.alloy]
        part = 1 / len(product.alloys or (row.alloy,))
        if row.size is not None and product.sizes is not None:
            sizes = product.sizes
            part *= sizes.weight(row.size) / sum(sizes.weight(each) for each in sizes.made)
        found.append((mean if sales is None else sales) * part)
    return np.maximum(np.array(found) - _in_others(out.computed, np.array(found)), 0.0), lacking


def _in_others(computed: Computed, weights: np.ndarray) -> np.ndarray:
    """Sets of each variant that go into others as a part."""
    resolved = computed.resolved
    places = {(row.sku, row.alloy): place for place, row in enumerate(resolved.variants)}
    pieces, sets = computed.columns.keys["part", "piece"], computed.values["part_sets"]
    taken = np.zeros(len(weights))
    every = resolved.all_variants
    for row, variant in enumerate(resolved.variants):
        for column in range(len(variant.parts) if variant.sold_places else 0):
            piece = every[int(pieces[row, column])]
            place = places.get((piece.sku, piece.alloy))
            if place is not None:
                taken[place] += weights[row] * float(sets[row, column])
    return taken


def _first_starts(computed: Computed) -> np.ndarray:
    """Sets' worth begun at the first step of each variant, hidden ones too; 1 where there is no step."""
    starts = computed.values["starts"]
    return starts[:, 0] if starts.shape[1] else np.ones(len(starts))


def week_records(found: WholeWeek) -> list[dict[str, Any]]:
    """A flat record for each variant in each channel: sets, hours and what they bring, of a year."""
    return [
        {
            "sku": row.sku,
            "alloy": row.alloy,
            "channel": row.channel,
            "sets_a_year": number(row.sets),
            "hours_a_year": number(row.hours),
            "own_hours_a_year": number(row.own_hours),
            "brings_a_year": number(row.brings),
        }
        for row in found.rows
    ]
