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
from pricing.engine import NUMPY_WORDS, Computed, compute
from pricing.rerun import under_prices
from pricing.studies.deciding import Grid, Terms, decide, terms_of
from pricing.studies.history import History
from pricing.words import bind

BANDS = (0.0, 0.005, 0.01, 0.02, 0.03, 0.04, 0.05, 0.06, 0.08, 0.10)
INTERVALS = (1, 2, 7, 14, 28, 42, 56, 91, 182, 365)
DAYS_PER_YEAR = 365.25
#: So many days × variants are computed at once: about a hundred bytes each in all that is kept of them.
AT_ONCE = 400_000


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


@dataclass(frozen=True)
class Market:
    """What each price would have asked and earned: by event day and row (a variant in a channel)."""

    days: np.ndarray
    cost: np.ndarray
    asked: np.ndarray
    would_earn: np.ndarray
    channels: np.ndarray


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
    rows = 0
    parts = list(_markets(costing, history, channels))
    for done, (computed, market) in enumerate(parts):
        rows += len(market.channels)
        run = _Run(costing, computed, market, np.array(bands))
        for place, interval in enumerate(intervals):
            run.through(interval, totals[interval])
            progress((done + (place + 1) / len(intervals)) / len(parts))
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


def _markets(costing: Costing, history: History, channels: Sequence[str]) -> Iterator[tuple[Computed, Market]]:
    """The market of some variants at a time."""
    whole = costing.computed.resolved
    chosen = np.array([channel.name in channels for channel in whole.channels], dtype=bool)
    size = max(1, AT_ONCE // len(history.days))
    for start in range(0, len(whole.variants), size):
        part = whole.model_copy(update={"variants": whole.variants[start : start + size]})
        computed = costing.computed if len(part.variants) == len(whole.variants) else compute(part)
        looked_at = computed["sold"].astype(bool) & ~computed["is_fixed"].astype(bool) & chosen
        variants, places = np.nonzero(looked_at)
        if not len(variants):
            continue
        quotes = computed["quote_price"] * history.times
        rates = np.tile(computed["exchange_rate"], (len(history.days), 1))
        found = under_prices(computed, quotes, rates, ["unit_cost", "price", "margin"])
        yield (
            computed,
            Market(
                history.days,
                found["unit_cost"][:, variants],
                found["price"][:, variants, places],
                found["margin"][:, variants, places],
                places,
            ),
        )


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
        self.selling = _Selling(computed, market.channels)
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

    def _reviewed(self, state: _State, event: int, totals: _Totals) -> _State:
        market = self.market
        cost, asked = market.cost[event][:, None], market.asked[event][:, None]
        would = market.would_earn[event][:, None]
        earned = (state.receipts - cost) / state.sales
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

    def _count(self, state: _State, piece: slice, events, lengths, months, totals: _Totals) -> None:
        cost = self.market.cost[events[piece]][:, :, None]
        would = self.market.would_earn[events[piece]][:, :, None]
        earned = (state.receipts - cost) / state.sales
        short = np.maximum(0.0, would - earned).sum(axis=1)
        weights = lengths[piece].astype(float)
        if piece.stop - piece.start == 1:
            totals.short[months[piece.start]] += short[0] * weights[0]
            totals.days[months[piece.start]] += weights[0] * len(state.price)
        else:
            np.add.at(totals.short, months[piece], short * weights[:, None])
            np.add.at(totals.days, months[piece], weights * len(state.price))
        totals.below += ((earned < self.least - 1e-12).sum(axis=1) * weights[:, None]).sum(axis=0)


@dataclass(frozen=True)
class _State:
    """Prices in force, what a sale brings at them after fees, and net sales."""

    price: np.ndarray
    receipts: np.ndarray
    sales: np.ndarray


class _Selling:
    """What a price brings, by the cost model's own formulas, for rows that each have a channel."""

    def __init__(self, computed: Computed, channels: np.ndarray):
        names = ("ex_tax_price", "net_sales", "selling_fees", "net_receipts")
        self.formulas = {name: bind(computed.graph.quantities[name].function, NUMPY_WORDS) for name in names}
        by_channel = ("list_tax", "discount", "postage_income", "order_cost")
        self.channel = {name: computed[name][channels] for name in by_channel}
        by_fee = ("fee_slope", "fee_start", "fee_low", "fee_high", "fee_flat")
        self.fees = {name: computed[name][channels] for name in by_fee}

    def at(self, price: np.ndarray) -> _State:
        """What every row brings at prices by (row, band)."""
        rows = np.arange(len(price))[:, None] + np.zeros(price.shape, dtype=int)
        receipts, sales = self._brings(price, rows)
        return _State(price, receipts, sales)

    def moved(self, state: _State, rows: np.ndarray, places: np.ndarray, price: np.ndarray) -> _State:
        """The state with some prices moved."""
        receipts, sales = self._brings(price, rows)
        made = _State(state.price.copy(), state.receipts.copy(), state.sales.copy())
        for array, values in ((made.price, price), (made.receipts, receipts), (made.sales, sales)):
            array[rows, places] = values
        return made

    def _brings(self, price: np.ndarray, rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        own = {name: values[rows] for name, values in self.channel.items()}
        fees = {name: values[rows] for name, values in self.fees.items()}
        without_tax = self.formulas["ex_tax_price"](price=price, list_tax=own["list_tax"])
        sales = self.formulas["net_sales"](ex_tax_price=without_tax, discount=own["discount"])
        taken = self.formulas["selling_fees"](price=price[..., None], **fees)[..., 0]
        receipts = self.formulas["net_receipts"](
            net_sales=sales, postage_income=own["postage_income"], selling_fees=taken, order_cost=own["order_cost"]
        )
        return receipts, sales


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
