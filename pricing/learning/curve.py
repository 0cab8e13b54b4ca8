"""The learning curve: each doubling of what was made takes the mean time down by the same share.

T. P. Wright, Factors affecting the cost of airplanes, Journal of the Aeronautical Sciences 3 (1936), 122-128: the
cumulative mean time of a piece is y = a × x^b after x pieces, b = log(rate) / log(2). So pieces m + 1 to n take
a × (n^(1 + b) - m^(1 + b)) together, and batches of any size can be put to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

#: Fewer batches, or no more than one doubling of pieces after the first batch, say nothing of a curve.
LEAST_BATCHES, LEAST_DOUBLINGS = 5, 1.0
#: Rates that are tried, in thousandths: from half the time at each doubling to a quarter more.
RATES = (501, 1250)
#: Of the profile: nine tenths, two-sided.
HIGH = 0.95


@dataclass(frozen=True)
class Curve:
    """Minutes of the first piece, `rate` (0.8: each doubling takes the mean down to 80 %) and its 5 % and 95 % points.

    `made` pieces so far.
    """

    first: float
    rate: float
    low: float
    high: float
    made: float

    @property
    def slope(self) -> float:
        """The exponent b of y = a × x^b; negative where time falls."""
        return float(np.log2(self.rate))

    @property
    def is_told(self) -> bool:
        """Whether it is more than chance: even the 95 % point of the rate is below 1."""
        return self.high < 1

    def mean_after(self, pieces: float) -> float:
        """Mean minutes of all pieces up to so many."""
        return float(self.first * pieces**self.slope)

    def minutes_of(self, made: float, more: float) -> float:
        """Mean minutes of so many `more` pieces once so many are `made`."""
        return (self.mean_after(made + more) * (made + more) - (self.mean_after(made) * made if made else 0.0)) / more


def fitted(pieces: Sequence[float], minutes: Sequence[float]) -> Curve | None:
    """The curve through batches in the order in which they were made: pieces and minutes of each, in all.

    None where there are too few of them. Least squares of the logarithms of the batches' times; the points of the rate
    are where the profile says so (a t test with two parameters less than batches).
    """
    from scipy.special import stdtrit

    ends = np.cumsum(np.asarray(pieces, dtype=float))
    if len(ends) < LEAST_BATCHES or np.log2(ends[-1] / ends[0]) < LEAST_DOUBLINGS or min(minutes) <= 0:
        return None
    starts, logs = np.concatenate([[0.0], ends[:-1]]), np.log(np.asarray(minutes, dtype=float))
    rates = np.arange(RATES[0], RATES[1] + 1) / 1000
    powers = 1 + np.log2(rates)[:, None]
    left = logs - np.log(ends**powers - starts**powers)
    squares = ((left - left.mean(axis=1, keepdims=True)) ** 2).sum(axis=1)
    best = int(squares.argmin())
    freedom = len(ends) - 2
    noise = max(float(squares[best]), 1e-18) / freedom
    inside = squares <= squares[best] + noise * float(stdtrit(freedom, HIGH)) ** 2
    return Curve(
        float(np.exp(left[best].mean())), float(rates[best]), float(rates[inside].min()), float(rates[inside].max()),
        float(ends[-1]),
    )  # fmt: skip
