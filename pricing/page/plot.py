"""Plots as SVG that a template draws: points worked out here, a title, a description, and a table beside them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta


@dataclass(frozen=True)
class Room:
    """What a plot is drawn in, in its own units: its letters are as large as those of the page on the screen that it
    is for, so a narrow one has fewer words. `name` tells it from the others."""

    name: str
    width: int
    height: int
    left: int
    most_months: int
    right: int = 12
    top: int = 14
    bottom: int = 30


WIDE, NARROW = Room("wide", 720, 260, 64, 6), Room("narrow", 360, 230, 62, 3)


@dataclass(frozen=True)
class Tick:
    """A line across the plot, or a mark at its foot, with its word; `at` is in units of the plot."""

    at: float
    word: str


@dataclass(frozen=True)
class Plot:
    """A stepped line, since a quote holds until the next: `path` for SVG, ticks, where it ends, its room."""

    title: str
    description: str
    path: str
    across: tuple[Tick, ...]
    along: tuple[Tick, ...]
    last_x: float
    last_y: float
    room: Room

    @property
    def right(self) -> int:
        return self.room.width - self.room.right

    @property
    def foot(self) -> int:
        return self.room.height - self.room.bottom


def history(
    title: str, unit: str, first: date, last: date, points: Sequence[tuple[date, float]], room: Room = WIDE
) -> Plot:
    """Quotes by day as a stepped line from `first` to `last`; `points` are ascending, at least one."""
    prices = [price for _, price in points]
    low, high, step = _scale(min(prices), max(prices))
    days = max((last - first).days, 1)

    def across(day: date) -> float:
        return round(room.left + (room.width - room.left - room.right) * max(0, (day - first).days) / days, 1)

    def up(price: float) -> float:
        return round(room.top + (room.height - room.top - room.bottom) * (1 - (price - low) / (high - low)), 1)

    path = f"M{across(points[0][0])} {up(points[0][1])}"
    for day, price in points[1:]:
        path += f"H{across(day)}V{up(price)}"
    path += f"H{across(last)}"
    ticks, at = [], low
    while at <= high + step / 1e6:
        ticks.append(Tick(up(at), _word(at, step)))
        at += step
    lowest, highest = min(points, key=lambda each: each[1]), max(points, key=lambda each: each[1])
    description = (
        f"From {points[0][0]} to {last}: {points[0][1]:,.6g} at first, {points[-1][1]:,.6g} at last, "
        f"lowest {lowest[1]:,.6g} on {lowest[0]}, highest {highest[1]:,.6g} on {highest[0]}, in {unit}."
    )
    months = tuple(_months(first, last, across, room.most_months))
    return Plot(title, description, path, tuple(ticks), months, across(last), up(prices[-1]), room)


def _scale(low: float, high: float) -> tuple[float, float, float]:
    """Round ends and a round step for about four lines."""
    if high - low < abs(high) * 1e-6:
        low, high = low - abs(low) * 0.05 - 1e-9, high + abs(high) * 0.05 + 1e-9
    raw = (high - low) / 4
    size = 10.0 ** math.floor(math.log10(raw))
    step = next(size * times for times in (1, 2, 2.5, 5, 10) if size * times >= raw)
    return math.floor(low / step) * step, math.ceil(high / step) * step, step


def _word(at: float, step: float) -> str:
    digits = max(0, -math.floor(math.log10(step) + 1e-9))
    digits += round(step * 10**digits, 6) != round(step * 10**digits)  # 2.5 needs one more
    return f"{at:,.{digits}f}"


def _months(first: date, last: date, across: Callable[[date], float], most: int) -> list[Tick]:
    """The first days of months, so few that their words do not touch."""
    days, found = [], []
    day = (first.replace(day=1) + timedelta(days=32)).replace(day=1)
    while day <= last:
        days.append(day)
        day = (day + timedelta(days=32)).replace(day=1)
    every = max(1, math.ceil(len(days) / most))
    for day in days[::every]:
        found.append(Tick(across(day), day.strftime("%Y-%m")))
    return found


@dataclass(frozen=True)
class PlotStep:
    """One step of a waterfall: a bar from `x` over `width`, `kind` "whole", "up" or "down"."""

    word: str
    amount: str
    kind: str
    x: float
    width: float
    y: int


@dataclass(frozen=True)
class Waterfall:
    """How one amount became another, step by step, from the top down."""

    title: str
    description: str
    steps: tuple[PlotStep, ...]
    width: int
    height: int
    rows: tuple[tuple[str, str], ...]


REACH_WIDTH, REACH_ROW, REACH_HEAD = 460, 40, 26
REACH_LEFT, REACH_RIGHT = 4, 8
#: So many times today's price are drawn at most; what reaches further goes to the edge.
REACH_MOST = 4.0


@dataclass(frozen=True)
class ReachLine:
    """How far a price of metal may go: `least` and `nothing` in times today's, None where it never gets there."""

    word: str
    least: float | None
    nothing: float | None
    told: str


@dataclass(frozen=True)
class ReachBar:
    """The bars of one line: from 0 to `least_x` the least margin is left, from there to `nothing_x` something is."""

    word: str
    y: int
    start: float
    least_x: float
    nothing_x: float
    reaches_on: bool


@dataclass(frozen=True)
class Reaches:
    """Bars by channel on a scale of today's price: `now` is where today's stands."""

    title: str
    description: str
    bars: tuple[ReachBar, ...]
    along: tuple[Tick, ...]
    now: float
    width: int
    height: int
    head: int = REACH_HEAD


def reaches(title: str, lines: Sequence[ReachLine]) -> Reaches:
    """How far the price of metal may go, a bar for each line; at least one."""
    far = max([2.0, *(times for line in lines for times in (line.least, line.nothing) if times is not None)])
    most = min(far * 1.05, REACH_MOST)

    def at(times: float) -> float:
        inside = min(max(times, 0.0), most)
        return round(REACH_LEFT + (REACH_WIDTH - REACH_LEFT - REACH_RIGHT) * inside / most, 1)

    bars = []
    for place, line in enumerate(lines):
        nothing = line.nothing if line.nothing is not None else 0.0
        least = line.least if line.least is not None else 0.0
        y = REACH_HEAD + place * REACH_ROW
        bars.append(ReachBar(line.word, y, at(0), at(min(least, nothing)), at(nothing), nothing > most))
    step = 0.5 if most <= 3 else 1.0
    along = [Tick(at(step * place), f"× {step * place:g}") for place in range(int(most / step) + 1)]
    height = REACH_HEAD + len(lines) * REACH_ROW + 22
    told = "; ".join(line.told for line in lines)
    return Reaches(title, told, tuple(bars), tuple(along), at(1.0), REACH_WIDTH, height)


FALL_WIDTH, FALL_ROW = 460, 30
FALL_LEFT = 130
FALL_RIGHT = 74


def waterfall(
    title: str,
    before: tuple[str, float],
    parts: Sequence[tuple[str, float]],
    after: tuple[str, float],
    write: Callable[..., str],
) -> Waterfall:
    """From `before` to `after` (words and amounts) by `parts`; `write(amount, signed)` puts amounts in words."""
    marks, running = [before[1]], before[1]
    for _, part in parts:
        running += part
        marks.append(running)
    marks.append(after[1])
    low, high = min(0.0, *marks), max(0.0, *marks)  # from zero, so that a bar is as long as its amount is large
    high = high if high > low else low + 1.0

    def at(amount: float) -> float:
        return round(FALL_LEFT + (FALL_WIDTH - FALL_LEFT - FALL_RIGHT) * (amount - low) / (high - low), 1)

    def whole(named: tuple[str, float]) -> PlotStep:
        begin, end = sorted((at(0.0), at(named[1])))
        return PlotStep(named[0], write(named[1]), "whole", begin, round(end - begin, 1), 0)

    steps = [whole(before)]
    running = before[1]
    for word, part in parts:
        begin, end = sorted((running, running + part))
        running += part
        steps.append(
            PlotStep(
                word,
                write(part, True),
                "up" if part > 0 else "down",
                at(begin),
                round(max(at(end) - at(begin), 1.5), 1),
                0,
            )
        )
    steps.append(whole(after))
    placed = tuple(
        PlotStep(each.word, each.amount, each.kind, each.x, each.width, place * FALL_ROW)
        for place, each in enumerate(steps)
    )
    told = ", ".join(f"{each.word} {each.amount}" for each in placed)
    rows = tuple((each.word, each.amount) for each in placed)
    return Waterfall(title, told, placed, FALL_WIDTH, len(placed) * FALL_ROW, rows)
