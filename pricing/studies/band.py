"""How repricing bands and review intervals would have fared over a history of metal prices.

All but metal is as today. On every review day each policy looks at every price as `reprice` would: it holds what
earns within the band and moves the rest, by largest_step at most, and at once what earns below least_margin. A price
starts at what is asked on the first day. Each price is looked at by itself, without the ladder holding it to others;
the review interval takes the place of days_between.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np

from pricing.costing import Costing
from pricing.formulas.by_itself import by_itself
from pricing.formulas.engine import Computed
from pricing.studies.deciding import Grid, Terms, decide, terms_of
from pricing.studies.history import History
from pricing.studies.market import Market, Selling, State, markets

BANDS = (0.0, 0.005, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10)
INTERVALS = (1, 2, 7, 14, 28, 42, 56, 91, 182, 365)
DAYS_PER_YEAR = 365.25


@dataclass(frozen=True)
class Fared:
    """How one policy fared, for the mean price.

    `shortfall` is the mean by which the margin earned lay below the margin asked, `worst_month` the highest that a
    calendar month had; `days_below` are days a year below least_margin.
    """

    keep_within: float
    interval: int
    changes_per_year: float
    changes: int
    shortfall: float
    worst_month: float
    days_below: float


def back_test(
    costing: Costing,
    history: History,
    channels: Sequence[str],
    bands: Sequence[float] = BANDS,
    intervals: Sequence[int] = INTERVALS,
    progress: Callable[[float], None] = lambda share: None,
) -> list[Fared]:
    """How every band with every interval fared on the prices of these channels; fixed prices are left out.

    Empty where there is no other price. `progress` is told the share that is done.
    """
    totals = {interval: _Totals(len(bands), history) for interval in intervals}
    rows, before = 0, 0.0
    for done, computed, market in markets(costing, history, channels):
        rows += len(market.channels)
        run = _Run(costing, computed, market, np.array(bands))
        for place, interval in enumerate(intervals):
            run.through(interval, totals[interval])
            progress(before + (done - before) * (place + 1) / len(intervals))
        before = done
    years = (history.days[-1] - history.days[0]) / DAYS_PER_YEAR
    return (
        [fared for interval in intervals for fared in totals[interval].fared(bands, interval, rows, years)]
        if rows
        else []
    )


def frontier(results: Sequence[Fared]) -> list[Fared]:
    """The policies that none beats in both changes and shortfall, from the fewest changes on."""
    best: list[Fared] = []
    for each in sorted(results, key=lambda fared: (fared.changes_per_year, fared.shortfall)):
        if not best or each.shortfall < best[-1].shortfall - 1e-12:
            best.append(each)
    return best


def recommended(results: Sequence[Fared], most_changes: float | None = None) -> Fared:
    """The bend of the frontier: from there on a further change a year saves less than it did on average.

    With `most_changes` a year, the bend of what needs no more of them (or else what needs the fewest). There must be
    results.
    """
    allowed = [each for each in results if most_changes is None or each.changes_per_year <= most_changes + 1e-9]
    edge = frontier(allowed or [min(results, key=lambda fared: fared.changes_per_year)])
    many = max(each.changes_per_year for each in edge) - edge[0].changes_per_year or 1.0
    much = edge[0].shortfall - edge[-1].shortfall or 1.0
    return min(edge, key=lambda fared: fared.changes_per_year / many + fared.shortfall / much)


class _Totals:
    """What adds up over the prices, by band."""

    def __init__(self, bands: int, history: History):
        months = [(day.year - 1) * 12 + day.month for day in (history.first, history.last)]
        self.first_month = months[0]
        self.changes = np.zeros(bands)
        self.short = np.zeros((months[1] - months[0] + 1, bands))  # shortfall × days, by month
        self.days = np.zeros(months[1] - months[0] + 1)  # days of a price, by month
        self.below = np.zeros(bands)

    def fared(self, bands: Sequence[float], interval: int, rows: int, years: float) -> Iterator[Fared]:
        by_month = self.short / np.where(self.days > 0, self.days, 1)[:, None]
        for place, band in enumerate(bands):
            yield Fared(
                keep_within=float(band),
                interval=int(interval),
                changes_per_year=float(self.changes[place] / rows / years),
                changes=int(self.changes[place]),
                shortfall=float(self.short[:, place].sum() / self.days.sum()),
                worst_month=float(by_month[:, place].max()),
                days_below=float(self.below[place] / rows / years),
            )


class _Run:
    """All bands on one market; states have the axes (row, band)."""

    def __init__(self, costing: Costing, computed: Computed, market: Market, bands: np.ndarray):
        self.market, self.bands = market, bands
        self.grid = Grid.of(computed, market.channels)
        self.selling = Selling(computed, market.variants, market.channels)
        self.profit, self.margin = (by_itself(name, computed.graph) for name in ("profit", "margin"))
        stated = costing.folder.stated.channels
        own = terms_of(stated[channel.name] for channel in computed.resolved.channels)
        with np.errstate(all="ignore"):
            falls = np.where(own.stated & (own.keep_within > 0), own.falling / own.keep_within, 1.0)[market.channels]
        self.keep = np.broadcast_to(bands, (len(market.channels), len(bands)))
        self.fall = falls[:, None] * bands  # as much wider as the channel's own policy is
        self.least = own.least_margin[market.channels][:, None]
        self.largest = own.largest_step[market.channels][:, None]

    def through(self, interval: int, totals: _Totals) -> None:
        """Go through the history with a review every `interval` days."""
        days, market = self.market.days, self.market
        reviews = np.arange(days[0], days[-1], interval)
        starts = np.unique(np.concatenate([reviews, days[:-1], _month_starts(days[0], days[-1])]))
        lengths = np.diff(np.append(starts, days[-1]))
        events = np.searchsorted(days, starts, side="right") - 1
        months = _months(starts) - totals.first_month
        pieces = np.searchsorted(starts, np.append(reviews, days[-1]))
        state = self.selling.at(np.repeat(market.asked[0][:, None], len(self.bands), axis=1))
        for review in range(len(reviews)):
            first, last = pieces[review], pieces[review + 1]
            if review:
                state = self._reviewed(state, events[first], totals)
            self._count(state, slice(first, last), events, lengths, months, totals)

    def _reviewed(self, state: State, event: int, totals: _Totals) -> State:
        market = self.market
        cost, asked = market.cost[event][:, None], market.asked[event][:, None]
        would = market.would_earn[event][:, None]
        earned = self._earned(state, cost)
        gap = np.where(asked > state.price, would - earned, earned - would)
        band = np.where(asked > state.price, self.keep, self.fall)
        open_to_move = (np.abs(asked - state.price) > 1e-9) & ((gap > band) | (earned < self.least))
        if not open_to_move.any():
            return state
        rows, places = np.nonzero(open_to_move)
        terms = Terms(
            np.ones(len(rows), dtype=bool),
            self.keep[rows, places],
            self.fall[rows, places],
            self.least[rows, 0],
            self.largest[rows, 0],
            np.zeros(len(rows)),
        )
        found = decide(
            held=state.price[rows, places],
            asked=asked[rows, 0],
            earned=earned[rows, places],
            would_earn=would[rows, 0],
            days=np.full(len(rows), np.inf),
            fixed=np.zeros(len(rows), dtype=bool),
            terms=terms,
            grid=self.grid.take(rows),
        )
        moved = np.abs(found.to - state.price[rows, places]) > 1e-9
        totals.changes += np.bincount(places[moved], minlength=len(self.bands))
        return self.selling.moved(state, rows[moved], places[moved], found.to[moved])

    def _earned(self, state: State, cost: np.ndarray) -> np.ndarray:
        """The margin of every price once a set costs so much."""
        return self.margin(profit=self.profit(net_receipts=state.receipts, unit_cost=cost), net_sales=state.sales)

    def _count(self, state: State, piece: slice, events: Any, lengths: Any, months: Any, totals: _Totals) -> None:
        cost = self.market.cost[events[piece]][:, :, None]
        would = self.market.would_earn[events[piece]][:, :, None]
        earned = self._earned(state, cost)
        short = np.maximum(0.0, would - earned).sum(axis=1)
        weights = lengths[piece].astype(float)
        if piece.stop - piece.start == 1:
            totals.short[months[piece.start]] += short[0] * weights[0]
            totals.days[months[piece.start]] += weights[0] * len(state.price)
        else:
            np.add.at(totals.short, months[piece], short * weights[:, None])
            np.add.at(totals.days, months[piece], weights * len(state.price))
        totals.below += ((earned < self.least - 1e-12).sum(axis=1) * weights[:, None]).sum(axis=0)


EPOCH = date(1970, 1, 1).toordinal()


def _months(days: np.ndarray) -> np.ndarray:
    """Months counted from the year 1, of days counted as `date.toordinal` does."""
    return (days - EPOCH).astype("datetime64[D]").astype("datetime64[M]").astype(int) + 1969 * 12 + 1


def _month_starts(first: int, last: int) -> np.ndarray:
    """The first days of months after `first` and before `last`."""
    ends = np.array([first - EPOCH, last - EPOCH]).astype("datetime64[D]").astype("datetime64[M]").astype(int)
    months = np.arange(ends[0], ends[1] + 1).astype("datetime64[M]")
    starts = months.astype("datetime64[D]").astype(int) + EPOCH
    return starts[(starts > first) & (starts < last)]
