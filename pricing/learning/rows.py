"""What is told of a figure that the log speaks of: what is stated, what was seen, what is known now, what it moves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from pricing.costing import Costing
from pricing.learning.curve import Curve
from pricing.learning.evidence import GOOD, MINUTES, Figure
from pricing.workbook.back.layered import Variant

#: Less is only noise of the arithmetic.
HAIR = 1e-9


class Moved(NamedTuple):
    """A cost or a price that would change, of a product in an alloy, and the channel (empty for a cost)."""

    sku: str
    alloy: str
    channel: str
    before: float
    after: float

    @property
    def by(self) -> float:
        """The change as a share."""
        return self.after / self.before - 1 if self.before else 0.0


@dataclass(frozen=True)
class Effect:
    """What figures change: the cost that changes most, the price that does, and how many prices do."""

    cost: Moved | None
    price: Moved | None
    prices: int


@dataclass(frozen=True)
class Own:
    """What is known of the figure of one product in one alloy, leaning on what it shares with others."""

    sku: str
    alloy: str
    count: float
    seen: float
    mean: float
    low: float
    high: float


@dataclass(frozen=True)
class Learned:
    """One figure in its place.

    `name` is its path as `doubts.toml` has it, `words` what people call it, `takers` the products in alloys that hold
    it. `count` is what the batches count for by now: trials for a fraction good, else batches; `seen` their mean,
    `mean` with `low` and `high` (5 % and 95 %) what is known with the stated figure taken in. `to` is that figure with
    no more digits than it is known to, `range` likewise; None where too few batches speak. `shared_by` (in words
    `shared_words`) names the figure that a product so far takes together with others, whose row holds it too, and that
    this row comes on top of.
    """

    figure: Figure
    name: str
    file: str
    takers: tuple[Variant, ...]
    stated: float
    batches: int
    count: float
    seen: float
    mean: float
    low: float
    high: float
    to: float | None
    range: tuple[float, float] | None
    own: tuple[Own, ...] = ()
    shared_by: str = ""
    shared_words: str = ""
    curve: Curve | None = None
    effect: Effect | None = None
    words: str = ""

    @property
    def is_too_little(self) -> bool:
        return self.to is None

    @property
    def changes(self) -> bool:
        """Whether the figure itself would be another one; else its doubt alone is narrowed."""
        return self.to is not None and abs(self.to - self.stated) > HAIR

    @property
    def unit(self) -> str:
        return "min" if self.figure.key == MINUTES else ""

    @property
    def counted(self) -> str:
        """What `count` counts."""
        return "trials" if self.figure.key == GOOD else "batches"


@dataclass(frozen=True)
class Learning:
    """Everything that the log teaches, with the folder that it was held against.

    `newest` is the highest number among its batches; of `known_already` figures it says nothing that was not learned
    before.
    """

    costing: Costing
    as_of: date
    half_life: float
    batches: int
    newest: int
    rows: tuple[Learned, ...]
    known_already: int = 0
    notes: tuple[str, ...] = ()

    @property
    def others(self) -> list[Learned]:
        """Figures that would be others."""
        return [row for row in self.rows if row.changes]

    @property
    def surer(self) -> list[Learned]:
        """Figures that are as stated, and only surer."""
        return [row for row in self.rows if not row.changes and not row.is_too_little]

    @property
    def too_little(self) -> list[Learned]:
        """Figures of which too few batches speak."""
        return [row for row in self.rows if row.is_too_little]

    def row(self, name: str) -> Learned:
        """The row of a figure. Raises KeyError where there is none."""
        return {row.name: row for row in self.rows}[name]


def rounded(mean: float, low: float, high: float, least_above_zero: bool = False) -> tuple[float, tuple[float, float]]:
    """A figure and its range with no more digits than it is known to: steps of at most a tenth of the range."""
    step = step_of(low, high)
    digits = max(0, -math.floor(math.log10(step) + HAIR))
    to = round(round(mean / step) * step, digits)
    if least_above_zero and to <= 0:
        to = step
    return to, (round(math.floor(low / step) * step, digits), round(math.ceil(high / step) * step, digits))


def step_of(low: float, high: float) -> float:
    """The power of ten that is at most a tenth of the range."""
    return float(10.0 ** math.floor(math.log10(max(high - low, HAIR) / 10)))
