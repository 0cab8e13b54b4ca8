"""A history of metal prices as moves: each price in times the one in force today.

From the kept price history, or from a table of somebody else's (an index, another currency, daily or monthly): only
the moves of that are used, so that neither its unit nor its level matters.
"""

from __future__ import annotations

import csv
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta
from pathlib import Path
from types import MappingProxyType

import numpy as np

from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.folder.prices.history import COLUMNS, PriceLines, read_quotes
from pricing.folder.prices.in_force import in_force_by_day
from pricing.folder.toml.text import read_text
from pricing.model.metals import PRECIOUS
from pricing.model.quote import Quote
from pricing.model.rows import Resolved

#: A price that leaps by this and leaps back at once is a slip; and by so many times its usual daily move.
LEAP, LEAP_TIMES = 0.10, 8.0
#: So many prices, and so many days (two years, a few weeks of grace), tell something about how often to reprice.
LEAST_QUOTES, LEAST_DAYS = 250, 700
#: Words that stand where there is no figure.
NOTHING = frozenset({"", "na", "n/a", "nan", "null", "none", "-", ".", "..", "…"})
#: What tables have between their columns where it is no comma.
OTHERWISE_APART: Mapping[str, str] = MappingProxyType({";": "semicolons", "\t": "tabs"})
MONTH = re.compile(r"(\d{4})[M-](\d{1,2})", re.ASCII)


#: A study looks at so many years of moves.
MOST_YEARS = 40
MOST_DAYS = round(MOST_YEARS * 365.25)


@dataclass(frozen=True)
class History:
    """Moves of some metals: `times` has a row for each of `days` (ascending, as numbers of days) and a column for each
    metal of the resolved workshop; a metal that the history lacks stands at 1. `quotes` counts the prices in it,
    `notes` say what was mended.
    """

    days: np.ndarray
    times: np.ndarray
    moved: tuple[str, ...]
    notes: tuple[str, ...] = ()
    quotes: int = 0

    @property
    def first(self) -> date:
        return date.fromordinal(int(self.days[0]))

    @property
    def last(self) -> date:
        return date.fromordinal(int(self.days[-1]))


def kept_history(quotes: Sequence[Quote], resolved: Resolved, of_metals: Sequence[str] = ()) -> History:
    """The moves in the workshop's own price history, exchange rates included, up to the resolved workshop's day.

    It begins on the first day on which every metal has a price; with `of_metals` only these move. Raises UsageFault
    where that leaves less than two days.
    """
    every = [metal.name for metal in resolved.metals]
    metals = [name for name in every if not of_metals or name in of_metals]
    exchanged = {each.name for each in resolved.currencies}
    counting = [
        each for each in quotes if (each.metal in exchanged) == (each.per == "unit") and each.date <= resolved.as_of
    ]
    counting = [each for each in counting if each.metal in {*metals, *exchanged}]
    days, rows = [], []
    for found in in_force_by_day(counting):
        spots = [found.price_per_g(name, resolved.currency) for name in metals]
        if None not in spots:
            days.append(found.as_of.toordinal())
            rows.append(spots)
    if len(days) < 2:
        raise UsageFault("the price history tells no day on which metal moved. Name a file with --history.")
    prices = np.array(rows, dtype=float)
    times = np.ones((len(days), len(every)))
    times[:, [every.index(name) for name in metals]] = prices / prices[-1]
    return _recent(History(np.array(days), times, tuple(metals), _unmoved(every, metals), len(counting)))


def _recent(history: History) -> History:
    """The last decades of it; what is left out is told. A study walks through every day, and prices of long ago say
    little about those to come."""
    first = int(history.days[-1]) - MOST_DAYS
    if history.days[0] >= first:
        return history
    kept = history.days >= first
    note = f"the days before {date.fromordinal(first)} are left out: a study looks at {MOST_YEARS} years"
    return replace(history, days=history.days[kept], times=history.times[kept], notes=(*history.notes, note))


def _unmoved(metals: Iterable[str], moved: Iterable[str]) -> tuple[str, ...]:
    still = [metal for metal in metals if metal not in set(moved)]
    return (f"not in the file, taken as unmoved: {', '.join(still)}",) if still else ()


def read_history(path: Path, resolved: Resolved, columns: Mapping[str, str], mend: bool = False) -> History:
    """The moves in a table: its first column a day (2012-12-31) or a month (2012-12, 2012M12), then a column a metal.

    A table in the form of the price history of a folder is read as one.

    `columns` name a metal's column where it is called otherwise. Days without a figure take the one before, and that
    is told. A figure that leaps away and back, one that is no price, a day out of order are refused with their line;
    with `mend` such days are left out, and that is told. Raises UsageFault and Faults.
    """
    if not path.exists():
        raise UsageFault(f"{path}: there is no such file.")
    records = list(csv.reader(read_text(path.parent, path.name).splitlines()))
    heads = [head.strip() for head in records[0]] if records else []
    if set(heads) == set(COLUMNS):
        return _own_form(path, resolved)
    if len(heads) == 1 and (apart := next((sign for sign in OTHERWISE_APART if sign in heads[0]), None)):
        raise UsageFault(
            f"{path}: its columns stand apart by {OTHERWISE_APART[apart]}. Save it with commas between them, and with "
            "points in its figures."
        )
    metals = [metal.name for metal in resolved.metals]
    for metal in columns:
        if metal not in metals:
            raise UsageFault(f'--column {metal}: no piece has "{metal}" in it. {did_you_mean(metal, metals)}')
    found = {metal: _place(path, heads, columns.get(metal, metal), metal in columns) for metal in metals}
    places = {metal: place for metal, place in found.items() if place is not None}
    if not places:
        known = ", ".join(f'"{head}"' for head in heads[1:])
        moves = next((metal for metal in PRECIOUS if metal in metals), metals[0] if metals else "Ag")
        example = f"{moves}={heads[1] if len(heads) > 1 else 'NAME'}"
        raise UsageFault(
            f"{path}: no column is called by a metal in your pieces ({', '.join(metals)}). "
            f"Its columns are {known or 'none'}; name one with --column {example}."
        )
    table = _Table(path, records, mend)
    kept = table.kept_days()
    series = {metal: table.series(metal, place, kept) for metal, place in places.items()}
    if table.faults:
        raise Faults(table.faults)
    start = max(int(np.argmax(np.isfinite(figures))) for figures in series.values())
    days = np.array([day.toordinal() for row in kept if (day := table.days[row]) is not None])[start:]
    if len(days) < 2:
        raise UsageFault(f"{path}: there are not two days with a price.")
    times = np.ones((len(days), len(metals)))
    for metal, figures in series.items():
        filled = table.filled(metal, figures[start:])
        times[:, metals.index(metal)] = filled / filled[-1]
    notes = [*table.notes, *_unmoved(metals, series)]
    counted = sum(int(np.isfinite(figures).sum()) for figures in series.values())
    return _recent(History(days, times, tuple(series), tuple(notes), counted))


def check_long_enough(history: History) -> None:
    """Raise UsageFault where a history is too short to recommend anything by: what it has, and what is lacking."""
    span = int(history.days[-1] - history.days[0])
    if history.quotes < LEAST_QUOTES or span < LEAST_DAYS:
        raise UsageFault(
            f"the history has {history.quotes:,} prices from {history.first} to {history.last}, and what fared well "
            f"over that is chance: {LEAST_QUOTES} prices and two years are the least. Name a longer one with --history."
        )


def _own_form(path: Path, resolved: Resolved) -> History:
    quotes, faults = read_quotes(PriceLines(read_text(path.parent, path.name)))
    if faults:
        raise Faults([replace(fault, place=replace(fault.place, file=path.name)) for fault in faults])
    return kept_history(quotes, resolved, [quote.metal for quote in quotes if quote.per != "unit"])


def _place(path: Path, heads: list[str], name: str, is_named: bool) -> int | None:
    found = [place for place, head in enumerate(heads) if place and head.casefold() == name.casefold()]
    if not found and is_named:
        raise UsageFault(f'{path}: there is no column "{name}". {did_you_mean(name, heads[1:])}')
    return found[0] if found else None


class _Table:
    """A table of prices on the way to series: collects faults and what was mended."""

    def __init__(self, path: Path, records: list[list[str]], mend: bool):
        self.path, self.mend = path, mend
        self.rows = [(number, record) for number, record in enumerate(records[1:], 2) if any(map(str.strip, record))]
        self.lines = [",".join(record) for record in records]
        self.days: list[date | None] = [_day(record[0].strip()) for _, record in self.rows]
        self.faults: list[Fault] = []
        self.notes: list[str] = []

    def wrong(self, row: int, key: str, problem: str) -> None:
        """A fault, or, where the maker wants it mended, a note."""
        number = self.rows[row][0]
        if self.mend:
            self.notes.append(f"line {number} left out: {problem}")
            return
        place = Place(self.path.name, number, 1, self.lines[number - 1])
        mend = "Correct it, or leave such days out with --mend."
        self.faults.append(Fault(place, key, problem, mend))

    def kept_days(self) -> list[int]:
        """The rows whose day is one and comes after the one before."""
        kept: list[int] = []
        before: date | None = None
        for row, day in enumerate(self.days):
            if day is None:
                self.wrong(row, "", f'"{self.rows[row][1][0].strip()}" is no day and no month')
            elif before is not None and day <= before:
                self.wrong(row, "", f"{day} does not come after {before}")
            else:
                kept.append(row)
                before = day
        return kept

    def series(self, metal: str, place: int, kept: list[int]) -> np.ndarray:
        """The figures of a metal, NaN where there is none."""
        figures = np.full(len(kept), math.nan)
        for position, row in enumerate(kept):
            record = self.rows[row][1]
            text = record[place].strip() if place < len(record) else ""
            if text.casefold() in NOTHING:
                continue
            try:
                figure = float(text)
            except ValueError:
                figure = math.nan
            if math.isfinite(figure) and figure > 0:
                figures[position] = figure
            else:
                self.wrong(row, metal, f'"{text}" is no price')
        for position in _leaps(figures):
            before, figure, after = _around(figures, position)
            problem = f"{figure:g} leaps away from {before:g} and back to {after:g}"
            self.wrong(kept[position], metal, problem)
            figures[position] = math.nan
        return figures

    def filled(self, metal: str, figures: np.ndarray) -> np.ndarray:
        """The figures with the last one in place of none."""
        there = np.isfinite(figures)
        if not there.any():
            raise UsageFault(f"{self.path}: there is no price of {metal} in it.")
        if (lacking := int((~there).sum())) > 0:
            plural = "days have" if lacking > 1 else "day has"
            self.notes.append(f"{lacking} {plural} no price of {metal}: the one before counts on")
        return figures[np.maximum.accumulate(np.where(there, np.arange(len(figures)), 0))]


def _day(text: str) -> date | None:
    try:
        if month := MONTH.fullmatch(text):
            first = date(int(month[1]), int(month[2]), 1)
            return (first + timedelta(days=31)).replace(day=1) - timedelta(
                days=1
            )  # a month's price is known at its end
        return date.fromisoformat(text)
    except ValueError:
        return None


def _leaps(figures: np.ndarray) -> list[int]:
    """Places of figures that leap far away from their neighbours, which are close to each other."""
    places = np.flatnonzero(np.isfinite(figures))
    moves = np.diff(np.log(figures[places]))
    if len(moves) < 3:
        return []
    far = max(LEAP, LEAP_TIMES * 1.4826 * float(np.median(np.abs(moves))))
    there, back = moves[:-1], moves[1:]
    smaller = np.minimum(np.abs(there), np.abs(back))
    slip = (smaller > far) & (there * back < 0) & (np.abs(there + back) < smaller / 2)
    return [int(place) for place in places[1:-1][slip]]


def _around(figures: np.ndarray, position: int) -> tuple[float, float, float]:
    known = np.flatnonzero(np.isfinite(figures))
    here = int(np.searchsorted(known, position))
    before, figure, after = (float(figures[place]) for place in known[here - 1 : here + 2])
    return before, figure, after
