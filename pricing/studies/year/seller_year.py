"""A seller's year: a history of metal replayed on the folder with its own reprice rules, price by price.

All but metal is as today: hours, fees, exchange rates of the channels. The year begins with what the policies ask; on
every day of a look each price is held or moved as `reprice` would publish it, with the channel's own rules, the ladder
and one price for all of retail. What it pays is counted day by day at the metal price of the day, and beside it what
would have been paid with the asked price always in force, and with the first one never changed.
"""

from __future__ import annotations

from calendar import monthrange
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

import numpy as np

from pricing.costing import Costing
from pricing.editions.chain import Edition
from pricing.errors import UsageFault
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import again, rerun
from pricing.records import decimal_price, number
from pricing.studies.break_even.reach import least_margins
from pricing.studies.metal_history.moves import History
from pricing.studies.month.own_and_overhead import own_pay
from pricing.studies.month.there_is import Sales
from pricing.studies.repricing.deciding import MARGIN_NOISE, PRICE_NOISE
from pricing.studies.repricing.reprice import reprice

#: The ways of the same year: by the rules of the folder, asked every day, never changed.
RULES, ASKED, NEVER = range(3)
#: A month has so many days, on the mean.
DAYS_IN_A_MONTH = 365.25 / 12


@dataclass(frozen=True)
class PriceYear:
    """One variant in one channel over the year; money in the workshop's currency, prices in the channel's.

    `sets` are those sold in the year. `paid`, `if_asked`, `if_never` are what they bring: profit, with the maker's own
    hours not yet paid. `margins` has a margin for each month, None where nothing is sold for money; `below` are the
    places of the months whose margin is under `least`.
    """

    sku: str
    alloy: str
    channel: str
    sets: float
    first: float
    last: float
    changes: int
    paid: float
    if_asked: float
    if_never: float
    margins: tuple[float | None, ...]
    least: float | None
    below: tuple[int, ...]


@dataclass(frozen=True)
class Year:
    """A year, its `months` as 2026-03, and what each of them paid, by the three ways: rules, asked, never."""

    first: date
    last: date
    months: tuple[str, ...]
    by_month: tuple[tuple[float, float, float], ...]
    prices: tuple[PriceYear, ...]
    looks: int

    @property
    def days(self) -> tuple[int, ...]:
        """Days of each month that are counted: all of it, of the last one as far as the history goes."""
        whole = [monthrange(int(name[:4]), int(name[5:]))[1] for name in self.months]
        return (*whole[:-1], self.last.day)

    @property
    def paid(self) -> tuple[float, float, float]:
        """What the whole year pays, by the three ways."""
        sums = np.array(self.by_month).sum(axis=0)
        return float(sums[0]), float(sums[1]), float(sums[2])


def seller_year(
    costing: Costing,
    history: History,
    months: int = 12,
    look_every: int = 7,
    sales: Sequence[Sales] = (),
    progress: Callable[[float], None] = lambda share: None,
) -> Year:
    """The last `months` calendar months of a history replayed, the last one as far as it goes.

    One set of each variant a month sells in each channel, or as many as the last of `sales` says that has its names.
    Raises UsageFault where the history does not cover the months, and for names that there are not.
    """
    if not 1 <= look_every <= 366:
        raise UsageFault(f"--look-every {look_every}: write a number of days from 1 to 366.")
    names, first = check_covered(history, months)
    replay = _Replay(costing, history, first, look_every, _sold_a_month(costing.computed, sales))
    return replay.year(names, progress)


def check_covered(history: History, months: int) -> tuple[tuple[str, ...], date]:
    """The calendar months that are replayed, and their first day.

    Raises UsageFault with what is lacking where no price is known on that day, or a month has none.
    """
    if not 1 <= months <= 480:
        raise UsageFault(f"--months {months}: write a number from 1 to 480.")
    count = history.last.year * 12 + history.last.month - 1 - (months - 1)
    first = date(count // 12, count % 12 + 1, 1)
    names = tuple(f"{each // 12}-{each % 12 + 1:02d}" for each in range(count, count + months))
    known = {date.fromordinal(int(day)).isoformat()[:7] for day in history.days}
    lacking = [name for name in names if name not in known]
    if history.first > first:
        lacking = [name for name in lacking if name >= history.first.isoformat()[:7]]
        early = f"none on or before {first}"
    else:
        early = ""
    if not early and not lacking:
        return names, first
    told = [each for each in (early, f"none in {_listed(lacking)}" if lacking else "") if each]
    raise UsageFault(
        f"{months} months to {history.last} need a price of metal on their first day and in each of them, and the "
        f"history, which begins on {history.first}, has {' and '.join(told)}. Name a longer one with --history, or ask "
        "for fewer with --months."
    )


def _listed(names: Sequence[str]) -> str:
    return ", ".join(names[:6]) + (f" and {len(names) - 6} more" if len(names) > 6 else "")


def _sold_a_month(computed: Computed, sales: Sequence[Sales]) -> np.ndarray:
    """Sets a month, by variant and channel."""
    resolved = computed.resolved
    sets = np.where(computed.sold_places, 1.0, 0.0)
    for each in sales:
        of = np.array(
            [
                [
                    all(name in (row.sku, row.product, row.alloy, channel.name) for name in each.names)
                    for channel in resolved.channels
                ]
                for row in resolved.variants
            ],
            dtype=bool,
        )
        if not (of & computed.sold_places).any():
            raise UsageFault(f"{':'.join(each.names)}: nothing that is sold has all of these names.")
        sets = np.where(of & computed.sold_places, each.sets, sets)
    return sets


@dataclass(frozen=True)
class _Stretch:
    """Days on which nothing changes: the month, how many, the figures of the day, and prices by the rules."""

    month: str
    days: int
    computed: Computed
    held: np.ndarray


class _Replay:
    """One walk through the history; arrays are by variant and channel."""

    def __init__(self, costing: Costing, history: History, first: date, look_every: int, sets: np.ndarray):
        self.costing, self.history, self.first, self.look_every, self.sets = costing, history, first, look_every, sets
        self.quotes = costing.computed["quote_price"]
        resolved = costing.computed.resolved
        self.names = [[(row.sku, row.alloy, price.channel) for price in row.prices] for row in resolved.variants]
        self.sold_places = costing.computed.sold_places
        self.changes = np.zeros(self.sold_places.shape, dtype=int)
        self.looks = 0
        self.at_event: tuple[int, Computed] | None = None

    def year(self, names: Sequence[str], progress: Callable[[float], None]) -> Year:
        paid = np.zeros((len(names), 3, *self.sold_places.shape))
        sales, profit = (np.zeros((len(names), *self.sold_places.shape)) for _ in range(2))
        never: np.ndarray | None = None
        held = np.zeros(self.sold_places.shape)
        own = own_pay(self.costing.computed)
        total = max(1, (self.history.last - self.first).days)
        done = 0
        for stretch in self.stretches():
            held, asked = stretch.held, stretch.computed["price"]
            never = asked if never is None else never
            place = names.index(stretch.month)
            for way, prices in ((RULES, held), (ASKED, asked), (NEVER, never)):
                brings = rerun(stretch.computed, {"price": prices}, ["profit", "net_sales"])
                paid[place, way] += stretch.days * np.where(self.sold_places, brings["profit"] + own, 0.0)
                if way == RULES:
                    sales[place] += stretch.days * brings["net_sales"]
                    profit[place] += stretch.days * brings["profit"]
            done += stretch.days
            progress(done / total)
        paid *= self.sets / DAYS_IN_A_MONTH
        with np.errstate(all="ignore"):
            margins = profit / sales
        by_month = tuple(
            (float(each[RULES].sum()), float(each[ASKED].sum()), float(each[NEVER].sum())) for each in paid
        )
        assert never is not None
        found = tuple(self.prices(never, held, paid.sum(axis=0), margins, done / DAYS_IN_A_MONTH))
        return Year(self.first, self.history.last, tuple(names), by_month, found, self.looks)

    def prices(
        self, first: np.ndarray, last: np.ndarray, paid: np.ndarray, margins: np.ndarray, months: float
    ) -> Iterator[PriceYear]:
        floors = least_margins(self.costing)
        for row, column in np.argwhere(self.sold_places).tolist():
            least, own = floors[column], [number(each) for each in margins[:, row, column]]
            below = [
                place
                for place, margin in enumerate(own)
                if least is not None and margin is not None and margin < least - MARGIN_NOISE
            ]
            yield PriceYear(
                *self.names[row][column],
                sets=float(self.sets[row, column]) * months,
                first=float(first[row, column]),
                last=float(last[row, column]),
                changes=int(self.changes[row, column]),
                paid=float(paid[RULES, row, column]),
                if_asked=float(paid[ASKED, row, column]),
                if_never=float(paid[NEVER, row, column]),
                margins=tuple(own),
                least=least,
                below=tuple(below),
            )

    def stretches(self) -> Iterator[_Stretch]:
        """The days from the first to the last of the history, looked at again on every day of a look."""
        begin, end = self.first.toordinal(), int(self.history.days[-1]) + 1
        looks = set(range(begin, end, self.look_every))
        starts = {begin} | looks | {int(day) for day in self.history.days if begin <= day < end}
        starts |= {day for day in range(begin, end) if date.fromordinal(day).day == 1}
        edition, held = None, None
        ordered = sorted(starts)
        for start, after in zip(ordered, [*ordered[1:], end], strict=True):
            day, computed = date.fromordinal(start), self.of_day(start)
            if start in looks:
                edition, held = self.look(day, computed, edition)
                self.looks += 1
            assert held is not None
            yield _Stretch(day.isoformat()[:7], after - start, computed, held)

    def of_day(self, day: int) -> Computed:
        """All figures with the metal of a day."""
        event = int(np.searchsorted(self.history.days, day, side="right")) - 1
        if self.at_event is None or self.at_event[0] != event:
            moved = {"quote_price": self.quotes * self.history.times[event]}
            self.at_event = event, again(self.costing.computed, moved)
        return self.at_event[1]

    def look(self, day: date, computed: Computed, before: Edition | None) -> tuple[Edition, np.ndarray]:
        """Every price held or moved on a day, as an edition that is published nowhere, and as an array."""
        resolved = computed.resolved.model_copy(update={"as_of": day})
        costing = replace(
            self.costing, computed=replace(computed, resolved=resolved), asked=replace(self.costing.asked, as_of=day)
        )
        prices = reprice(costing, before).prices
        published = [] if before is None else before.content["prices"]
        old = {(row["sku"], row["alloy"], row["channel"]): row for row in published}
        number_now = 1 if before is None else before.number + 1
        rows = []
        for row, column in np.argwhere(self.sold_places).tolist():
            name, price = self.names[row][column], decimal_price(float(prices[row, column]))
            known = old.get(name)
            if known is not None and abs(known["price"] - prices[row, column]) <= PRICE_NOISE:
                rows.append(known)
                continue
            self.changes[row, column] += known is not None
            rows.append(
                {
                    "sku": name[0],
                    "alloy": name[1],
                    "channel": name[2],
                    "price": price,
                    "set_on": day.isoformat(),
                    "set_in": number_now,
                }
            )
        content = {"as_of": day.isoformat(), "currency": resolved.currency, "prices": rows}
        return Edition(number_now, "", content), prices


def year_records(found: Year) -> list[dict[str, Any]]:
    """A flat record for each price; its months under the least margin as words, and each month's margin."""
    return [
        {
            "sku": each.sku,
            "alloy": each.alloy,
            "channel": each.channel,
            "sets": each.sets,
            "first": decimal_price(each.first),
            "last": decimal_price(each.last),
            "changes": each.changes,
            "paid": each.paid,
            "if_asked": each.if_asked,
            "if_never": each.if_never,
            "least_margin": each.least,
            "months_below": ", ".join(found.months[place] for place in each.below),
            **{f"margin_{month}": margin for month, margin in zip(found.months, each.margins, strict=True)},
        }
        for each in found.prices
    ]
