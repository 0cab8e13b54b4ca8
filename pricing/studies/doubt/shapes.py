"""Distributions from a 5 % and a 95 % point: how a figure lies that is not known exactly.

A figure that is never negative and has no upper end is lognormal, a fraction is Beta, a figure that may be negative is
normal. Each has exactly the two points. A range that begins at 0 (or ends at 1) only says that most lies near there:
then the distribution is the one that is densest at that end and has the other point.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

#: The two points of a doubt.
LOW, HIGH = 0.05, 0.95
#: How close the points of a Beta must be found, and how often Newton's steps may try.
CLOSE, STEPS = 1e-12, 100


class Limits(NamedTuple):
    """The ends between which a figure may lie at all; None where it has none."""

    least: float | None = None
    most: float | None = None


#: Any number.
NO_LIMITS = Limits()


@dataclass(frozen=True)
class Shape:
    """A distribution by its kind and its two parameters, cut off at what the figure may be.

    lognormal: mean and standard deviation of the logarithm; normal: of the figure; exponential: its mean (and 0);
    beta: its two exponents.
    """

    kind: Literal["lognormal", "normal", "exponential", "beta"]
    first: float
    second: float
    limits: Limits = NO_LIMITS

    def at(self, share: np.ndarray | float) -> np.ndarray:
        """The figure below which a share of all lies (the inverse of the distribution function)."""
        from scipy.special import betaincinv, ndtri

        if self.kind == "beta":
            found = betaincinv(self.first, self.second, share)
        elif self.kind == "exponential":
            found = -self.first * np.log1p(-np.asarray(share))
        else:
            found = self.first + self.second * ndtri(share)
            found = np.exp(found) if self.kind == "lognormal" else found
        least, most = self.limits
        if least is None and most is None:
            return np.asarray(found)
        return np.asarray(np.clip(found, least, most))


def shape_of(low: float, high: float, limits: Limits = NO_LIMITS) -> Shape:
    """The distribution with these 5 % and 95 % points of a figure that may lie within `limits`.

    Raises ValueError where high is not above low, or the two lie outside the limits.
    """
    least, most = limits
    if not low < high or least is not None and low < least or most is not None and high > most:
        raise ValueError(f"no range: {low:g} to {high:g}, within {least} and {most}")
    if least is not None and 0 <= least and most is not None and most <= 1:
        return Shape("beta", *_beta(low, high), limits)
    if least is None or least < 0 or low < 0:
        half = _between_points() / 2
        return Shape("normal", (low + high) / 2, (high - low) / 2 / half, limits)
    if low == 0:
        return Shape("exponential", high / -math.log1p(-HIGH), 0.0, limits)
    return Shape("lognormal", math.log(low * high) / 2, math.log(high / low) / _between_points(), limits)


def _between_points() -> float:
    """How many standard deviations lie between the two points of a normal distribution."""
    from scipy.special import ndtri

    return float(ndtri(HIGH) - ndtri(LOW))


def _beta(low: float, high: float) -> tuple[float, float]:
    """The exponents of the Beta distribution with these two points, by Newton's method on their logarithms."""
    if low == 0 and high == 1:
        return 1.0, 1.0
    if low == 0:  # densest at 0: 1 - (1 - x)^b
        return 1.0, math.log1p(-HIGH) / math.log1p(-high)
    if high == 1:  # densest at 1: x^a
        return math.log(LOW) / math.log(low), 1.0
    from scipy.optimize import root
    from scipy.special import betainc

    middle, spread = (low + high) / 2, (high - low) / _between_points()
    worth = max(middle * (1 - middle) / spread**2 - 1, 0.5)
    start = np.log([middle * worth, (1 - middle) * worth])

    def apart(logs: np.ndarray) -> np.ndarray:
        a, b = np.exp(np.clip(logs, -20, 40))
        return np.array([betainc(a, b, low) - LOW, betainc(a, b, high) - HIGH])

    found = root(apart, start, tol=CLOSE)
    if np.abs(apart(found.x)).max() > 1e-6:
        found = root(apart, start, method="lm", tol=CLOSE)
    a, b = np.exp(found.x)
    return float(a), float(b)
