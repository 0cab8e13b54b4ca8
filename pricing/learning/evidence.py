"""What batches say of figures in the files: so many trials came out so, a step took so long, so much was lost.

One `Seen` is one observation. Of a fraction good its `value` is the share that came out and its `count` the trials;
of everything else `value` is the figure as this batch has it, and `count` how much of an observation it is: where two
products share a flask or a card's minutes, each has its part of one. What is done by the flask is tried by the flask:
a flask that fails takes all its castings with it, so sixteen castings lost with one flask are one failure and not
sixteen. Of a flask of which a part is lost that part of a trial has failed.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from pricing.batches.balance import balance_of
from pricing.batches.matching import MOST_GAINED
from pricing.batches.model import Batch, Flask, Pieces
from pricing.costing import Costing
from pricing.model.rows import StepRow, VariantRow
from pricing.words import whole_tolerance

GOOD, MINUTES, SPRUE_RATIO, MELT_LOSS = "good", "minutes", "sprue_ratio", "melt_loss"


class Figure(NamedTuple):
    """A figure by its key, and the step that it is of; the step is empty for one of a product or an alloy."""

    step: str
    key: str


@dataclass(frozen=True)
class Seen:
    """One observation of a figure, of one product in one alloy."""

    figure: Figure
    sku: str
    alloy: str
    batch: int
    on: date
    value: float
    count: float
    made: float = 0.0
    took: float = 0.0
    #: castings and attended minutes of a step, for the learning curve; 0 where a card's minutes are of several products


@dataclass(frozen=True)
class Evidence:
    """All observations, and what of the log says nothing of the folder as it is now."""

    seen: tuple[Seen, ...]
    notes: tuple[str, ...]


def evidence(costing: Costing, batches: Sequence[Batch]) -> Evidence:
    """What the batches say of the figures of this folder."""
    reading = _Reading(costing)
    seen = [each for batch in batches for each in reading.of(batch)]
    return Evidence(tuple(seen), tuple(dict.fromkeys(reading.notes)))


@dataclass(frozen=True)
class _Line:
    """The castings of one product in one flask: its variant, and how many entered each of its steps and were spoiled.

    `share` is their part of the flask.
    """

    pieces: Pieces
    row: VariantRow
    place: int
    share: float
    through: tuple[tuple[StepRow, float, float], ...]

    def step(self, name: str) -> StepRow | None:
        return next((step for step, _, _ in self.through if step.name == name), None)

    def entered(self, name: str) -> float:
        return next(entered for step, entered, _ in self.through if step.name == name)


class _Reading:
    def __init__(self, costing: Costing):
        self.computed = costing.computed
        self.places = {(row.called): place for place, row in enumerate(self.computed.resolved.variants)}
        variants = self.computed.resolved.variants
        self.by_piece: dict[tuple[str, str | None, str], VariantRow] = {
            (row.sku, None, row.alloy): row
            for row in variants  # of a size that has a price of its own, its sku
        }
        self.by_piece.update({(row.product, row.size, row.alloy): row for row in variants})
        self.flasks = {row.name: row for row in self.computed.resolved.flasks}
        self.densities = {row.name: row.density for row in self.computed.resolved.alloys}
        self.notes: list[str] = []

    def of(self, batch: Batch) -> Iterator[Seen]:
        by_flask = [(flask, list(self.lines(batch, flask))) for flask in batch.flasks]
        for flask, lines in by_flask:
            yield from self.fractions(batch, flask, lines)
            yield from self.metal(batch, flask, lines)
        yield from self.times(batch, [line for _, lines in by_flask for line in lines])

    def lines(self, batch: Batch, flask: Flask) -> Iterator[_Line]:
        """The products in a flask that the folder still makes so."""
        started = sum(each.started for each in flask.pieces)
        for pieces in flask.pieces:
            row = self.by_piece.get((pieces.sku, pieces.size, flask.alloy)) or self.by_piece.get(
                (pieces.sku, None, flask.alloy)
            )
            if row is None:
                self.notes.append(
                    f"batch {batch.number}: {pieces.sku} in {flask.alloy} is not made any more, and says nothing"
                )
                continue
            through = self.through(batch, pieces, row)
            yield _Line(pieces, row, self.places[row.called], pieces.started / started, tuple(through))

    def through(self, batch: Batch, pieces: Pieces, row: VariantRow) -> Iterator[tuple[StepRow, float, float]]:
        """The steps that the castings went through, how many entered each, how many were spoiled there."""
        names = [step.name for step in row.steps]
        metal = next((index for index, step in enumerate(row.steps) if step.is_metal_step), 0)
        named = [name for name in (pieces.since, pieces.up_to, *pieces.rejected) if name is not None]
        for name in named:
            if name not in names:
                self.notes.append(
                    f'batch {batch.number}: {row.sku} has no step "{name}" any more: nothing is learned from its counts'
                )
                return
        first = names.index(pieces.since) if pieces.since else metal
        last = names.index(pieces.up_to) if pieces.up_to else len(names) - 1
        left = float(pieces.started)
        for step in row.steps[first : last + 1]:
            spoiled = float(pieces.rejected.get(step.name, 0))
            if not step.is_design:
                yield step, left, spoiled
            left -= spoiled

    def fractions(self, batch: Batch, flask: Flask, lines: Sequence[_Line]) -> Iterator[Seen]:
        for line in lines:
            for step, entered, spoiled in line.through:
                if entered > 0 and step.from_g == 0:
                    per_set = float(self.computed["castings_per_set"][line.place])
                    trials = line.share if step.is_flask else entered if step.is_piece else entered / per_set
                    yield self.seen(batch, line, Figure(step.name, GOOD), 1 - spoiled / entered, trials)

    def metal(self, batch: Batch, flask: Flask, lines: Sequence[_Line]) -> Iterator[Seen]:
        """The sprue ratio of each product, and the melt loss of the alloy, of one flask."""
        lines = [line for line in lines if line.row.takes == "cast"]
        started, good = (sum(getattr(each, key) for each in flask.pieces) for key in ("started", "good"))
        unweighed = flask.rejected_g == 0 and good < started  # spoiled ones, taken to weigh as the good ones do
        poured = flask.castings_g * started / max(good, 1) if unweighed else flask.castings_g + flask.rejected_g
        if poured <= 0 or not lines or unweighed and not good:
            return
        button = max(
            self.flasks[line.row.flask].button_cm3 * self.densities[flask.alloy] if line.row.flask else 0.0
            for line in lines
        )
        sprues = flask.back_g - button
        stated = sum(line.share * line.row.sprue_ratio for line in lines)
        if sprues > 0 and len(lines) == len(flask.pieces):
            for line in lines:
                ratio = sprues / poured
                value = line.row.sprue_ratio * ratio / stated if stated > 0 else ratio
                if value > 0:
                    yield self.seen(batch, line, Figure("", SPRUE_RATIO), value, line.share)
        if not unweighed:
            lost = balance_of(flask.alloy, [flask], None).missing_share
            if lost < -MOST_GAINED:
                self.notes.append(
                    f"batch {batch.number}: more came out than went in, so it says nothing of melt losses"
                )
                return
            for line in lines:
                yield self.seen(batch, line, Figure("", MELT_LOSS), lost, line.share * flask.charge_g)

    def times(self, batch: Batch, lines: Sequence[_Line]) -> Iterator[Seen]:
        for line in lines:
            for name, took in line.pieces.minutes.items():
                yield from self.minutes(batch, name, took, [line])
        for name, took in batch.minutes.items():
            yield from self.minutes(batch, name, took, [line for line in lines if name not in line.pieces.minutes])

    def minutes(self, batch: Batch, name: str, took: float, lines: Sequence[_Line]) -> Iterator[Seen]:
        """Attended minutes each time, of a step that these lines went through together; mending is taken off first."""
        having = [(line, step) for line in lines if (step := line.step(name)) is not None]
        if lines and not having:
            self.notes.append(f'batch {batch.number}: minutes of "{name}", which none of its castings went through')
        unpaid = [line.row.sku for line, step in having if step.role is None]
        if unpaid:
            said = f'minutes of "{name}", a step of {unpaid[0]} that states no labour: they say nothing until it does'
            self.notes.append(f"batch {batch.number}: {said}")
        done = [(line, step) for line, step in having if line.entered(name) > 0 and step.role is not None]
        if took <= 0 or not done:
            return
        units = [self.units(line, step) for line, step in done]
        loads = sum(unit / step.together for unit, (_, step) in zip(units, done, strict=True))
        whole = math.ceil(loads - whole_tolerance) / loads if any(self.is_whole(step) for _, step in done) else 1.0
        weights, mending = [], 0.0
        for unit, (line, step) in zip(units, done, strict=True):
            effort = float(self.computed["mean_effort"][line.place]) if step.is_piece else 1.0
            times = unit / step.together * (whole if self.is_whole(step) else 1.0)
            weights.append(times * effort)
            mending += unit * step.rework * step.rework_minutes * effort
        expected = [weight * step.step_minutes for weight, (_, step) in zip(weights, done, strict=True)]
        told = sum(expected) if all(expected) else 0.0
        shares = expected if told else weights
        left = took - mending if mending < took / 2 else took * (told / (told + mending) if told else 0.5)
        for share, (line, step) in zip(shares, done, strict=True):
            value = left * (step.step_minutes / told if told else 1 / sum(weights))
            alone = len(done) == 1
            yield self.seen(
                batch, line, Figure(name, MINUTES), value, share / sum(shares),
                line.entered(name) if alone else 0.0, took if alone else 0.0,
            )  # fmt: skip

    def units(self, line: _Line, step: StepRow) -> float:
        """How many of what a step is counted by these castings are."""
        if step.is_flask:
            return line.share
        per_set = 1.0 if step.is_piece else float(self.computed["castings_per_set"][line.place])
        return line.entered(step.name) / per_set

    @staticmethod
    def is_whole(step: StepRow) -> bool:
        """Whether its loads are not filled up with other work."""
        return not step.shared and (step.together > 1 or step.is_flask)

    @staticmethod
    def seen(
        batch: Batch, line: _Line, figure: Figure, value: float, count: float, made: float = 0.0, took: float = 0.0
    ) -> Seen:
        return Seen(figure, line.row.product, line.row.alloy, batch.number, batch.day, value, count, made, took)
