"""What is known of a figure that stands in one place, once all that was seen of it is held against what is stated.

A product whose own figure lies clearly apart from the one that the others share, its whole range outside theirs, is a
row of its own, and its batches say nothing of the shared one. Of what too few batches speak nothing is proposed.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import groupby
from typing import NamedTuple

import numpy as np

from pricing.learning import fractions_good, measured_means
from pricing.learning.curve import Curve, fitted
from pricing.learning.evidence import GOOD, MELT_LOSS, MINUTES, Figure, Seen
from pricing.learning.measured_means import Batches
from pricing.learning.rows import Learned, Own, rounded, step_of
from pricing.workbook.back.layered import Slot, Variant

#: Of fewer trials, or fewer batches, nothing is proposed; both are counted as they fade.
LEAST_TRIALS, LEAST_BATCHES = 5.0, 2.5
#: How far batches usually lie apart: as a share for minutes and ratios, of the stated loss and at least so much of a
#: charge for melts. Where the log says otherwise it is believed more and more.
SPREAD_OF_MINUTES, SPREAD_OF_RATIOS = 0.30, 0.20
SPREAD_OF_LOSSES, LEAST_SPREAD_OF_LOSSES = 0.5, 0.004
#: A stated figure of 0 is no mean that logarithms could be taken of: what the log says counts alone, with this spread.
LEAST_STATED = 1e-9


class FigurePlace(NamedTuple):
    """Where a figure stands: its file, its name as `doubts.toml` has it, and what people call it."""

    file: str
    name: str
    words: str


#: What was seen of one product in one alloy, and what each counts by now.
Cell = Sequence[tuple[Seen, float]]


@dataclass(frozen=True)
class KnownFigure:
    """What is known of a figure, and of the own ones of those that share it."""

    count: float
    seen: float
    mean: float
    low: float
    high: float
    own: tuple[Own, ...] = ()


@dataclass
class Group:
    """The observations of a figure that stands in one place."""

    figure: Figure
    place: FigurePlace
    takers: Sequence[Variant]
    stated: float
    doubt: tuple[float, float] | None
    kept: float
    faded: Sequence[tuple[Seen, float]]
    own_place: Callable[[Slot], FigurePlace]

    def __post_init__(self) -> None:
        self.cells: dict[Variant, list[tuple[Seen, float]]] = {}
        for each, weight in self.faded:
            self.cells.setdefault(Variant(each.sku, each.alloy), []).append((each, weight))

    @property
    def is_silent(self) -> bool:
        """Whether there is nothing to learn: a step of which nobody says that it spoils, and that never did."""
        never = self.figure.key == GOOD and self.stated == 1 and all(each.value == 1 for each, _ in self.faded)
        return never or all(weight == 0 for _, weight in self.faded)

    def rows(self) -> Iterator[Learned]:
        """The row of the figure, and one for each product apart."""
        cells: dict[Variant, Cell] = dict(self.cells)
        known = self.known(cells)
        apart: list[Own] = []
        while out := [own for own in known.own if self.is_apart(own, cells)]:
            farthest = max(out, key=lambda own: abs(own.mean - self.stated))
            apart.append(farthest)
            del cells[_variant(farthest)]
            known = self.known(cells)
        yield self.row(self.place, tuple(self.takers), [each for seen in cells.values() for each in seen], known)
        for own in apart:
            has_other_alloys = sum(each.sku == own.sku for each in self.takers) > 1
            place = self.own_place(Slot(own.sku, own.alloy if has_other_alloys else None))
            alone = KnownFigure(own.count, own.seen, own.mean, own.low, own.high)
            row = self.row(place, (_variant(own),), self.cells[_variant(own)], alone)
            yield replace(row, shared_by=self.place.name, shared_words=self.place.words)

    def is_apart(self, own: Own, cells: Mapping[Variant, Cell]) -> bool:
        """Whether a product's own figure is clearly another one than that which the others share."""
        if not self.is_enough(own.count, _batches(self.cells[_variant(own)])):
            return False
        others = self.known({variant: cell for variant, cell in cells.items() if variant != _variant(own)})
        return own.low > others.high or own.high < others.low

    def is_enough(self, count: float, batches: int) -> bool:
        least = LEAST_TRIALS if self.figure.key == GOOD else LEAST_BATCHES
        return count >= least and batches >= 2

    def known(self, cells: Mapping[Variant, Cell]) -> KnownFigure:
        """What is known of the figure, and of each product's own one where several share it."""
        return self.fraction(cells) if self.figure.key == GOOD else self.mean(cells)

    def fraction(self, cells: Mapping[Variant, Cell]) -> KnownFigure:
        before = fractions_good.prior(self.stated)
        if self.doubt:
            before = fractions_good.faded(fractions_good.doubted_prior(self.stated, *self.doubt), self.kept)
        trials = np.array([sum(weight * each.count for each, weight in seen) for seen in cells.values()])
        good = np.array([sum(weight * each.count * each.value for each, weight in seen) for seen in cells.values()])
        alike = fractions_good.alikeness(good, trials) if len(self.takers) > 1 else 0.0
        after = fractions_good.shared_after(before, good, trials, alike)
        own: list[Own] = []
        if alike > 0 and len(cells) > 1:
            apart = fractions_good.own_after(before, good, trials, alike)
            shares = np.divide(good, trials, out=np.ones_like(good), where=trials > 0)
            columns = (trials, shares, apart.mean, *apart.points())
            own = [Own(*variant, *map(float, figures)) for variant, *figures in zip(cells, *columns, strict=True)]
        low, high = (float(each) for each in after.points())
        return KnownFigure(
            float(trials.sum()), float(good.sum() / trials.sum()), float(after.mean), low, high, tuple(own)
        )

    def mean(self, cells: Mapping[Variant, Cell]) -> KnownFigure:
        is_log = self.figure.key != MELT_LOSS
        before = self.prior(cells)
        batches = [self.batches(seen, is_log) for seen in cells.values()]
        ratio = measured_means.variance_ratio(batches) if len(self.takers) > 1 and is_log else 0.0
        after = measured_means.shared_after(before, batches, ratio)
        own = []
        if ratio > 0 and len(cells) > 1:
            for place, (variant, some) in enumerate(zip(cells, batches, strict=True)):
                each = measured_means.own_after(before, batches, ratio, place)
                own.append(Own(*variant, some.count, float(np.exp(some.mean)), each.mean, *each.points()))
        count = sum(each.count for each in batches)
        seen = sum(each.count * each.mean for each in batches) / count
        mean, (low, high) = after.mean, after.points()
        if not is_log:  # a loss below 0 is a slip of the scale, and not what a melt brings
            return KnownFigure(count, seen, max(mean, 0.0), max(low, 0.0), max(high, 0.0))
        return KnownFigure(count, float(np.exp(seen)), mean, low, high, tuple(own))

    def prior(self, cells: Mapping[Variant, Cell]) -> measured_means.KnownMean:
        """The stated figure, how sure it is, and how far batches usually lie apart."""
        if self.figure.key == MELT_LOSS:
            spread = max(SPREAD_OF_LOSSES * self.stated, LEAST_SPREAD_OF_LOSSES)
            return measured_means.faded(measured_means.prior(self.stated, spread, False, self.doubt), self.kept)
        spread = SPREAD_OF_MINUTES if self.figure.key == MINUTES else SPREAD_OF_RATIOS
        if self.stated > LEAST_STATED:
            return measured_means.faded(measured_means.prior(self.stated, spread, True, self.doubt), self.kept)
        seen = [each.value for some in cells.values() for each, _ in some]
        return replace(measured_means.prior(float(np.mean(seen)), spread, True), worth=LEAST_STATED)

    def batches(self, cell: Cell, is_log: bool) -> Batches:
        """The observations of one product, faded; of melts each counts by its charge, one on average."""
        counts = np.array([each.count for each, _ in cell])
        if self.figure.key == MELT_LOSS:
            counts = counts / np.mean([each.count for each, _ in self.faded])
        values = np.array([each.value for each, _ in cell])
        return Batches.of(np.log(values) if is_log else values, counts * np.array([weight for _, weight in cell]))

    def row(self, place: FigurePlace, takers: tuple[Variant, ...], seen: Cell, known: KnownFigure) -> Learned:
        batches = _batches(seen)
        to, between = None, None
        if self.is_enough(known.count, batches) and known.low < known.high:  # else the scale weighs too much out
            to, between = rounded(known.mean, known.low, known.high, least_above_zero=self.figure.key == GOOD)
            if abs(to - self.stated) < step_of(known.low, known.high) * 0.75:  # it is said already, to these digits
                to = self.stated
        return Learned(
            self.figure, place.name, place.file, takers, self.stated, batches, known.count, known.seen, known.mean,
            known.low, known.high, to, between, known.own, curve=self.curve(seen),
            words=place.words,
        )  # fmt: skip

    def curve(self, cell: Cell) -> Curve | None:
        """The learning curve of the minutes of a step, where one product alone is spoken of."""
        seen = [each for each, _ in cell]
        if self.figure.key != MINUTES or len({each.sku for each in seen}) != 1 or any(not each.made for each in seen):
            return None
        in_order = sorted(seen, key=lambda each: (each.on, each.batch))
        made = [list(some) for _, some in groupby(in_order, key=lambda each: each.batch)]
        return fitted(
            [sum(each.made for each in some) for some in made], [sum(each.took for each in some) for some in made]
        )


def _batches(cell: Cell) -> int:
    return len({each.batch for each, _ in cell})


def _variant(own: Own) -> Variant:
    return Variant(own.sku, own.alloy)
