"""Which figures matter most: how far each doubt moves the prices that the policies ask, and how to measure the figure.

One figure at a time is put at its 5 % point and at its 95 % point, all others as they stand; the prices before
rounding and ladder are compared with those of today. One that cannot be had there, since fees and margin eat it, counts
as unmoved.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pricing.formulas.engine import compute
from pricing.formulas.worlds import Worlds, metal_landings, metal_prices
from pricing.studies.doubt.figures import DoubtedFigure
from pricing.studies.doubt.in_doubt import METAL, InDoubt
from pricing.studies.doubt.shapes import HIGH, LOW
from pricing.studies.doubt.sobol import uniform
from pricing.what_if import only

#: So many figures are told to be measured first, of those that move prices by this, on average.
FIRST, LEAST_MOVE = 5, 0.0005
#: Draws of the moves of metal.
METAL_DRAWS = 1024


@dataclass(frozen=True)
class Matters:
    """What one doubt does to the prices: the mean change of all of them, as a share, with the figure at its low and at
    its high point; `figure` is None for the metals, which move as the history says.

    `moves` is the mean size of the change from one point to the other, a price that it does not reach counting as 0;
    `sku`, `alloy` and `channel` name the price that it moves most, by the share `most`.
    """

    figure: DoubtedFigure | None
    at_low: float
    at_high: float
    moves: float
    sku: str
    alloy: str
    channel: str
    most: float

    @property
    def path(self) -> str:
        """The figure as `doubts.toml` has it."""
        return METAL if self.figure is None else self.figure.path

    @property
    def words(self) -> str:
        """What people call it."""
        return METAL if self.figure is None else self.figure.words

    @property
    def measure(self) -> str:
        """How it is measured at the bench; empty where nobody can."""
        return "" if self.figure is None else self.figure.known.measure


def what_matters(
    found: InDoubt, rows: Sequence[int] | None = None, channels: Sequence[str] | None = None
) -> tuple[Matters, ...]:
    """What each doubt, and the moves of metal, do to the prices of some variants in some channels (None: all).

    The weightiest come first.
    """
    doubted, asked = found.doubted, found.out.asked.computed
    rows = list(range(len(asked.resolved.variants)) if rows is None else rows)
    computed = compute(only(doubted.resolved, rows), asked.graph)
    sold = computed.sold_places & (computed["required_price"] > 0)
    if channels is not None:
        sold = sold & np.array([row.name in channels for row in computed.resolved.channels], dtype=bool)
    figures, moved = doubted.figures, found.metals
    moving = metal_landings(computed, len(figures)) if moved.moves else ()
    worlds = Worlds(computed, [*doubted.landings(rows), *moving])
    today = computed["required_price"][sold]
    if not today.size:
        return ()
    still = np.array([figure.stated for figure in figures])
    metals = np.concatenate(metal_prices(computed)) if moved.moves else np.zeros(0)
    ends = np.tile(np.concatenate([still, metals]), (2 * len(figures), 1))
    for place, figure in enumerate(figures):
        ends[2 * place : 2 * place + 2, place] = figure.shape.at(np.array([LOW, HIGH]))

    def changes(values: np.ndarray) -> np.ndarray:
        there = worlds.run(values, ["required_price", "can_be_had"])
        prices = np.where(there["can_be_had"].astype(bool), there["required_price"], np.nan)
        apart = np.broadcast_to(prices, (len(values), *prices.shape[1:]))[:, sold] / today - 1
        return np.asarray(np.where(np.isfinite(apart), apart, 0.0))

    all_moved = changes(ends) if len(figures) else np.zeros((0, today.size))
    answers = [_matters(found, rows, sold, figure, all_moved[2 * place], all_moved[2 * place + 1])
               for place, figure in enumerate(figures)]  # fmt: skip
    if moved.moves:
        times = moved.times(uniform(METAL_DRAWS, len(moved.blocks)))
        drawn = np.concatenate([np.tile(still, (METAL_DRAWS, 1)), metals * times], axis=1)
        low, high = np.quantile(changes(drawn), [LOW, HIGH], axis=0)
        answers.append(_matters(found, rows, sold, None, low, high))
    return tuple(sorted(answers, key=lambda each: -each.moves))


def to_measure(matters: Sequence[Matters], first: int = FIRST) -> tuple[Matters, ...]:
    """The figures to be measured first: those that move prices most, the metals left out."""
    return tuple(each for each in matters if each.figure is not None and each.moves >= LEAST_MOVE)[:first]


def _matters(
    found: InDoubt,
    rows: Sequence[int],
    sold: np.ndarray,
    figure: DoubtedFigure | None,
    low: np.ndarray,
    high: np.ndarray,
) -> Matters:
    size = np.abs(high - low)
    place, column = (int(axis[np.argmax(size)]) for axis in np.nonzero(sold))
    variant = found.out.asked.computed.resolved.variants[rows[place]]
    return Matters(
        figure,
        float(low.mean()),
        float(high.mean()),
        float(size.mean()),
        variant.sku,
        variant.alloy,
        variant.prices[column].channel,
        float(size.max()),
    )
