"""How large a fraction comes out good: what the files say, and so many trials, make a Beta distribution.

The figure of the file is the mean of the prior, and counts as much as some trials (its weight). Successes and
failures are added to it: Beta(a + good, b + bad), the conjugate pair of every textbook. A figure that several
products share is the mean of their own ones, which differ: a product's trials then say less of the shared figure
than as many trials of many products (the design effect of cluster samples, 1 + (n - 1) rho), and what a product's own
fraction is leans on the others': a mixture of Beta distributions, over what the shared figure may be.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

#: How many trials a figure of the files counts as, where `doubts.toml` does not say how sure it is.
USUAL_WEIGHT = 10.0
#: How alike the trials of one product in one alloy are among those that share a figure, where the log cannot say: the
#: correlation within a product. 1/41 is a spread of 4 points around 0.93.
USUAL_ALIKENESS = 1 / 41
#: As how many products the usual alikeness counts against that of the log.
ALIKENESS_WEIGHT = 4.0
#: The least that a prior holds of either outcome: a figure of 1, which nobody doubted, may still be learned from.
LEAST_OF_EITHER = 0.5
LOW, HIGH = 0.05, 0.95
#: Values of the shared figure over which a product's own is mixed; steps and the nearest that a point comes to 0 or 1.
NODES, NEWTON_STEPS, EDGE = 24, 6, 1e-9
#: A doubt makes a figure worth up to e^16 trials; how often that range is halved to find how many.
LARGEST_LOG_WEIGHT, HALVINGS = 16.0, 40


@dataclass(frozen=True)
class Beta:
    """What is known of one fraction, or of many at once (arrays): `a` successes and `b` failures seen or believed."""

    a: np.ndarray | float
    b: np.ndarray | float

    @property
    def mean(self) -> np.ndarray | float:
        return self.a / (self.a + self.b)

    @property
    def variance(self) -> np.ndarray | float:
        total = self.a + self.b
        return self.a * self.b / (total * total * (total + 1))

    def points(self) -> tuple[np.ndarray, np.ndarray]:
        """The 5 % and the 95 % point."""
        from scipy.special import betaincinv

        return betaincinv(self.a, self.b, LOW), betaincinv(self.a, self.b, HIGH)

    def after(self, good: np.ndarray | float, bad: np.ndarray | float) -> Beta:
        """The same once so many came out good and so many did not; neither need be whole."""
        return Beta(self.a + good, self.b + bad)


@dataclass(frozen=True)
class Mixed:
    """One of several Beta distributions, each as likely as its weight; they stand on the last axis."""

    parts: Beta
    weights: np.ndarray

    @property
    def mean(self) -> np.ndarray:
        return np.asarray((self.weights * self.parts.mean).sum(axis=-1))

    def points(self) -> tuple[np.ndarray, np.ndarray]:
        """The 5 % and the 95 % point: those of the Beta with the same mean and variance, mended by Newton's steps."""
        from scipy.special import betainc, betaln

        mean = self.mean
        variance = (self.weights * (self.parts.variance + np.square(self.parts.mean))).sum(axis=-1) - mean * mean
        worth = mean * (1 - mean) / variance - 1
        found = []
        norm = betaln(self.parts.a, self.parts.b)
        for wanted, start in zip((LOW, HIGH), Beta(mean * worth, (1 - mean) * worth).points(), strict=True):
            point = np.clip(start, EDGE, 1 - EDGE)
            for _ in range(NEWTON_STEPS):
                at = point[..., None]
                below = (self.weights * betainc(self.parts.a, self.parts.b, at)).sum(axis=-1)
                logs = (self.parts.a - 1) * np.log(at) + (self.parts.b - 1) * np.log1p(-at) - norm
                density = (self.weights * np.exp(logs)).sum(axis=-1)
                step = (below - wanted) / np.maximum(density, EDGE)
                room = np.where(step > 0, point, 1 - point) / 2  # never more than half-way to an end
                point = np.clip(point - np.sign(step) * np.minimum(np.abs(step), room), EDGE, 1 - EDGE)
            found.append(point)
        return found[0], found[1]


def prior(stated: float, weight: float = USUAL_WEIGHT) -> Beta:
    """What a stated fraction is worth: as much as `weight` trials with that outcome."""
    return Beta(max(stated * weight, LEAST_OF_EITHER), max((1 - stated) * weight, LEAST_OF_EITHER))


def doubted_prior(stated: float, low: float, high: float) -> Beta:
    """The prior with this mean of which nine tenths are as wide as from `low` to `high` (a doubt of the files).

    No doubt makes a figure worth less than one trial.
    """

    def width(log_weight: float) -> float:
        points = prior(stated, float(np.exp(log_weight))).points()
        return float(points[1] - points[0])

    least, most = 0.0, LARGEST_LOG_WEIGHT
    for _ in range(HALVINGS):  # the heavier, the narrower; scipy.optimize would take a second to load
        middle = (least + most) / 2
        least, most = (middle, most) if width(middle) > high - low else (least, middle)
    return prior(stated, float(np.exp((least + most) / 2)))


def faded(before: Beta, kept: float) -> Beta:
    """What is left of a prior of which a share is `kept`: never less than a stated figure usually counts as."""
    total = float(before.a + before.b)
    left = max(min(total, USUAL_WEIGHT), total * kept) / total
    return Beta(before.a * left, before.b * left)


def alikeness(good: np.ndarray, trials: np.ndarray) -> float:
    """How alike the trials of one product are, among products that share a figure: 0 where they differ by chance only.

    The estimate by moments of Kleinman (1973), Journal of the American Statistical Association 68, 46-54, with weights
    by trials; the usual alikeness counts as four products beside it, for with few products it is a poor one.
    """
    good, trials = good[trials > 0], trials[trials > 0]
    degrees, total = len(trials) - 1, trials.sum()
    room = total - (trials**2).sum() / total - degrees if degrees > 0 else 0.0
    if room <= 0:
        return USUAL_ALIKENESS
    mean = good.sum() / total
    if mean * (1 - mean) <= 0:
        return ALIKENESS_WEIGHT * USUAL_ALIKENESS / (ALIKENESS_WEIGHT + degrees)
    between = (trials * (good / trials - mean) ** 2).sum() / (mean * (1 - mean))
    found = min(max((between - degrees) / room, 0.0), 1.0)
    return float((ALIKENESS_WEIGHT * USUAL_ALIKENESS + degrees * found) / (ALIKENESS_WEIGHT + degrees))


def shared_after(before: Beta, good: np.ndarray, trials: np.ndarray, alike: float) -> Beta:
    """What is known of a figure that several products share, once each of them had trials (products on the last axis).

    A product with n trials counts as n / (1 + (n - 1) × alike) of them.
    """
    counted = _said(trials, alike)
    share = np.divide(good, trials, out=np.zeros_like(counted), where=np.asarray(trials) > 0)
    return before.after((counted * share).sum(axis=-1), (counted * (1 - share)).sum(axis=-1))


def own_after(before: Beta, good: np.ndarray, trials: np.ndarray, alike: float) -> Mixed:
    """What is known of each product's own fraction: its own trials, leaning on what those of the others say.

    Own fractions lie around the shared one as Beta(scale × shared, scale × (1 - shared)), scale = 1 / alike - 1. Shapes
    as `good`: products on the last axis.
    """
    from scipy.special import betaincinv, betaln

    counted = _said(trials, alike)
    share = np.divide(good, trials, out=np.zeros_like(counted), where=np.asarray(trials) > 0)
    all_good, all_bad = ((counted * each).sum(axis=-1, keepdims=True) for each in (share, 1 - share))
    first_a, first_b = (np.asarray(each)[..., None] for each in (before.a, before.b))
    others_a, others_b = first_a + all_good - counted * share, first_b + all_bad - counted * (1 - share)
    shared = betaincinv(others_a[..., None], others_b[..., None], (np.arange(NODES) + 0.5) / NODES)
    a, b = (1 / alike - 1) * shared, (1 / alike - 1) * (1 - shared)
    after = Beta(a + good[..., None], b + (trials - good)[..., None])
    likely = betaln(after.a, after.b) - betaln(a, b)
    weights = np.exp(likely - likely.max(axis=-1, keepdims=True))
    return Mixed(after, weights / weights.sum(axis=-1, keepdims=True))


def _said(trials: np.ndarray, alike: float) -> np.ndarray:
    """How much the trials of each product say of what they share; fewer than one trial, faded, say what they are."""
    return np.asarray(trials / (1 + np.maximum(trials - 1, 0.0) * alike), dtype=float)
