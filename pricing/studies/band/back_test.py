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

import numpy as np

from pricing.costing import Costing
from pricing.formulas.by_itself import by_itself
from pricing.formulas.engine import Computed
from pricing.studies.band.market import Market, Selling, State, markets
from pricing.studies.metal_history.moves import History
from pricing.studies.repricing.deciding import Grid, Terms, decide, terms_of

BANDS = (0.0, 0.005, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10)
INTERVALS = (1, 2, 7, 14, 28, 42, 56, 91, 182, 365)
DAYS_PER_YEAR = 365.25
#: So many stretches between two days on which something may change are counted at once.
COUNTED_AT_ONCE = 32
#: How far it is, is told after so many days.
DAYS_TOLD = 256


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
        run = _Run(costing, computed, market, np.array(bands), len(intervals))
        for share in run.through([_Path(run, interval, totals[interval]) for interval in intervals]):
            progress(before + (done - before) * share)
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
    """All bands on one market; states have the axes (row, band), those of up to `at_once` paths side by side."""

    def __init__(self, costing: Costing, computed: Computed, market: Market, bands: np.ndarray, at_once: int):
        self.market, self.bands = market, bands
        self.grid = Grid.of(computed, market.channels)
        self.selling = Selling(computed, market.variants, market.channels)
        self.profit, self.margin = (by_itself(name, computed.graph) for name in ("profit", "margin"))
        stated = costing.folder.stated.channels
        own = terms_of(stated[channel.name] for channel in computed.resolved.channels)
        with np.errstate(all="ignore"):
            falls = np.where(own.stated & (own.keep_within > 0), own.falling / own.keep_within, 1.0)[market.channels]
        of_all = np.tile(bands, at_once)
        self.keep = np.broadcast_to(of_all, (len(market.channels), len(of_all)))
        self.fall = falls[:, None] * of_all  # as much wider as the channel's own policy is
        self.least = own.least_margin[market.channels][:, None]
        self.largest = own.largest_step[market.channels][:, None]
        self.begins = self.selling.at(np.repeat(market.asked[0][:, None], len(bands), axis=1))

    def through(self, paths: Sequence[_Path]) -> Iterator[float]:
        """Go through the history with all intervals at once: those that have a review on one day decide together.

        Gives the share of the days that is done, again and again.
        """
        first, last = self.market.days[0], self.market.days[-1]
        events = np.searchsorted(self.market.days, np.arange(first, last), side="right") - 1
        for day, event in enumerate(events.tolist()):
            if due := [path for path in paths if path.has_review(day, event)]:
                for path, state in zip(due, self._reviewed(due, event), strict=True):
                    path.goes_on(day, event, state)
            if day % DAYS_TOLD == 0:
                yield day / len(events)
        for path in paths:
            path.count(len(path.starts))
        yield 1.0

    def _reviewed(self, paths: Sequence[_Path], event: int) -> list[State]:
        """The state of each path after a review; the same one where nothing moves."""
        before = [path.states[-1] for path in paths]
        state = _side_by_side(before) if len(paths) > 1 else before[0]
        beside = len(paths) * len(self.bands)
        keep, fall = self.keep[:, :beside], self.fall[:, :beside]
        market = self.market
        cost, asked = market.cost[event][:, None], market.asked[event][:, None]
        would = market.would_earn[event][:, None]
        earned = self._earned(state.receipts, state.sales, cost)
        raising, more = asked > state.price, would - earned
        gap, band = np.where(raising, more, -more), np.where(raising, keep, fall)
        open_to_move = (np.abs(asked - state.price) > 1e-9) & ((gap > band) | (earned < self.least))
        if not open_to_move.any():
            return before
        rows, places = np.nonzero(open_to_move)
        terms = Terms(
            np.ones(len(rows), dtype=bool),
            keep[rows, places],
            fall[rows, places],
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
        changes = np.bincount(places[moved], minlength=keep.shape[1]).reshape(len(paths), len(self.bands))
        after = self.selling.moved(state, rows[moved], places[moved], found.to[moved])
        for place, path in enumerate(paths):
            path.totals.changes += changes[place]
            if changes[place].any():
                own = slice(place * len(self.bands), (place + 1) * len(self.bands))
                before[place] = State(after.price[:, own], after.receipts[:, own], after.sales[:, own])
        return before

    def _earned(self, receipts: np.ndarray, sales: np.ndarray, cost: np.ndarray) -> np.ndarray:
        """The margin of every price once a set costs so much."""
        return self.margin(profit=self.profit(net_receipts=receipts, unit_cost=cost), net_sales=sales)

    def count(self, path: _Path, piece: slice) -> None:
        """Add up some stretches of days of a path."""
        cost = self.market.cost[path.events[piece]][:, :, None]
        would = self.market.would_earn[path.events[piece]][:, :, None]
        states = path.states_in(piece)
        receipts = np.stack([state.receipts for state in states])
        sales = np.stack([state.sales for state in states])
        earned = self._earned(receipts, sales, cost)
        short = np.ones(len(self.least)) @ np.maximum(0.0, would - earned)
        below = (earned < self.least - 1e-12).reshape(len(cost), -1)
        weights, months, totals = path.lengths[piece].astype(float), path.months[piece], path.totals
        np.add.at(totals.short, months, short * weights[:, None])
        np.add.at(totals.days, months, weights * len(self.market.channels))
        totals.below += (weights @ below).reshape(earned.shape[1:]).sum(axis=0)


class _Path:
    """A review every `interval` days of a market: what was in force when, counted some stretches of days at a time.

    A stretch lasts until a metal or the month may be another one, or a review is due. Of `states`, those not counted
    yet, `in_force` holds the place of each stretch's.
    """

    def __init__(self, run: _Run, interval: int, totals: _Totals):
        self.run, self.interval, self.totals = run, interval, totals
        days = run.market.days
        reviews = np.arange(days[0], days[-1], interval)
        self.starts = np.unique(np.concatenate([reviews, days[:-1], _month_starts(days[0], days[-1])]))
        self.lengths = np.diff(np.append(self.starts, days[-1]))
        self.events = np.searchsorted(days, self.starts, side="right") - 1
        self.months = _months(self.starts) - totals.first_month
        self.reviewed_at = np.searchsorted(self.starts, reviews)
        self.states, self.in_force = [run.begins], np.zeros(len(self.starts), dtype=int)
        self.since = self.counted = 0
        self.settled = -1  # the event at which a review has moved nothing: until the next one none will

    def has_review(self, day: int, event: int) -> bool:
        """Whether something may move so many days after the first, under the prices of this event."""
        return day > 0 and day % self.interval == 0 and event != self.settled

    def goes_on(self, day: int, event: int, state: State) -> None:
        """From this day on another state is in force, or still the same."""
        if state is self.states[-1]:
            self.settled = event
            return
        stretch = int(self.reviewed_at[day // self.interval])
        self.in_force[self.since : stretch] = len(self.states) - 1
        if stretch - self.counted >= COUNTED_AT_ONCE:
            self.count(stretch)
        self.states.append(state)
        self.since = stretch

    def states_in(self, piece: slice) -> list[State]:
        """The state of each of some stretches, or one that is in force in all of them."""
        places: list[int] = self.in_force[piece].tolist()
        return [self.states[place] for place in (places if places[0] != places[-1] else places[:1])]

    def count(self, end: int) -> None:
        """Count the stretches up to this one, and forget what was in force then."""
        self.in_force[self.since : end] = len(self.states) - 1
        for start in range(self.counted, end, 2 * COUNTED_AT_ONCE):
            self.run.count(self, slice(start, min(start + 2 * COUNTED_AT_ONCE, end)))
        self.states, self.since, self.counted = self.states[-1:], end, end
        self.in_force[end:] = 0


def _side_by_side(states: Sequence[State]) -> State:
    return State(
        np.concatenate([state.price for state in states], axis=1),
        np.concatenate([state.receipts for state in states], axis=1),
        np.concatenate([state.sales for state in states], axis=1),
    )


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
