"""How far metal and exchange rates may move within some weeks, from how they moved before.

A moving block bootstrap (Künsch 1989, The jackknife and the bootstrap for general stationary observations, Annals of
Statistics 17, 1217-1241): stretches of the history, a month each, are laid end to end, every one from a day drawn at
random. Within a stretch all metals and rates move as they did together. A trend is not carried on: moves are taken
around their mean, so that today's price stays the middle.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from pricing.errors import UsageFault
from pricing.folder.prices.in_force import in_force_by_day
from pricing.model.quote import Quote
from pricing.model.rows import Resolved
from pricing.shown import metal_named

#: Weeks of one stretch of the history.
BLOCK_WEEKS = 4
#: A price of which less is known stands still: quotes on so many days, over so many weeks.
LEAST_DAYS, LEAST_WEEKS = 6, 26
#: Beyond this the history of a workshop says nothing.
MOST_WEEKS = 104


@dataclass(frozen=True)
class MetalWeeks:
    """Moves of the prices of a resolved workshop's metals, as quoted, and of its exchange rates, in `weeks` weeks.

    `days` holds logarithms of prices by day (each day from the first on) and series: the metals and then the
    currencies, in their order; what stands still is 0. `still` names those of which too little is known.
    """

    weeks: int
    days: np.ndarray
    still: tuple[str, ...] = ()

    @property
    def moves(self) -> bool:
        return bool(self.weeks and len(self.days))

    @property
    def blocks(self) -> tuple[int, ...]:
        """The weeks of each stretch."""
        if not self.moves:
            return ()
        whole, rest = divmod(self.weeks, self.longest)
        return (*[self.longest] * whole, *([rest] if rest else []))

    @property
    def longest(self) -> int:
        """Weeks of the longest stretch: a month, or what a short history has twice."""
        return max(1, min(BLOCK_WEEKS, self.weeks, (len(self.days) - 1) // 14))

    @cached_property
    def stretches(self) -> dict[int, np.ndarray]:
        """By weeks: how far each series moved from every day on, around the mean; by day and series."""
        found = {}
        for weeks in {*self.blocks}:
            moved = self.days[7 * weeks :] - self.days[: -7 * weeks]
            found[weeks] = moved - moved.mean(axis=0)
        return found

    def times(self, shares: np.ndarray) -> np.ndarray:
        """Prices in times today's, by draw and series; `shares` has a number from 0 to 1 by draw and stretch."""
        total = np.zeros((len(shares), self.days.shape[1]))
        for place, weeks in enumerate(self.blocks):
            moved = self.stretches[weeks]
            total += moved[(shares[:, place] * len(moved)).astype(np.intp)]
        return np.asarray(np.exp(total))


def metal_weeks(quotes: Sequence[Quote], resolved: Resolved, weeks: int, strict: bool = False) -> MetalWeeks:
    """The moves in a price history up to the resolved workshop's day.

    A price of which too little is known stands still. Raises UsageFault for such a one where `strict`, and unless
    0 <= weeks <= MOST_WEEKS.
    """
    if not 0 <= weeks <= MOST_WEEKS:
        raise UsageFault(f"--weeks {weeks}: write a number from 0 (metal stands still) to {MOST_WEEKS}.")
    home = resolved.currency
    names = [*(row.name for row in resolved.metals), *(row.name for row in resolved.currencies)]
    events = _events(quotes, resolved)
    told = {name: {day for day, each in events if each[place] is not None} for place, name in enumerate(names)}
    end = resolved.as_of.toordinal()
    known = [quote for quote in quotes if quote.date <= resolved.as_of]
    quoted = {name: {quote.date for quote in known if quote.metal == name} for name in names}
    enough = {
        name
        for name in names
        if len(quoted[name]) >= LEAST_DAYS and told[name] and end - min(told[name]) >= 7 * LEAST_WEEKS
    }
    still = tuple(name for name in names if name != home and name not in enough)
    if weeks and strict and still:
        named = ", ".join(f"{metal_named(name)} {len(quoted[name])}" for name in still)
        raise UsageFault(
            f"the price history is too short to say how metal moves: prices of {named}. Of each {LEAST_DAYS} days of "
            f"quotes over {LEAST_WEEKS} weeks are the least. Pull or add older ones, or take metal as it stands with "
            "--weeks 0."
        )
    if not weeks or not enough:
        return MetalWeeks(weeks, np.zeros((0, len(names))), still)
    start = max(min(told[name]) for name in enough)
    days = np.zeros((end - start + 1, len(names)))
    for place, name in enumerate(names):
        if name in enough:
            logs = np.full(len(days), np.nan)
            for day, prices in events:
                if price := prices[place]:
                    logs[max(day - start, 0)] = np.log(price)
            days[:, place] = logs[np.maximum.accumulate(np.where(np.isfinite(logs), np.arange(len(logs)), 0))]
    return MetalWeeks(weeks, days, still)


def _events(quotes: Sequence[Quote], resolved: Resolved) -> list[tuple[int, list[float | None]]]:
    """Each day with a quote, and what was in force then: metals in the currency that they are quoted in now, rates."""
    found: list[tuple[int, list[float | None]]] = []
    for each in in_force_by_day([quote for quote in quotes if quote.date <= resolved.as_of]):
        line: list[float | None] = []
        for metal in resolved.metals:
            price = each.price_per_g(metal.name, resolved.currency)
            rate = each.rate_of(metal.currency, resolved.currency)
            line.append(None if price is None or rate is None else price / rate)
        for currency in resolved.currencies:
            line.append(each.rate_of(currency.name, resolved.currency))
        found.append((each.as_of.toordinal(), line))
    return found
