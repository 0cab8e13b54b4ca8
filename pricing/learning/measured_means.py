"""What minutes, losses and ratios come to on average: a stated figure and so many batches, shrunken together.

A batch's figure x lies around the mean of its product, and that around the shared one: x = mu + u + e with
e ~ N(0, s2), u ~ N(0, alike × s2), mu ~ N(stated, s2 / worth), and s2 itself of a scaled inverse chi-square. This is
the conjugate normal model (Gelman and others, Bayesian Data Analysis, section 3.3, and the one-way layout of chapter
5 with the ratio of the variances given): what is known afterwards is a t distribution, in closed form. Minutes and
ratios cannot be negative and have a long tail upward, so their logarithms are taken; the figure wanted is their mean,
exp(mu + s2 / 2), since costs add up, and not their median.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from pricing.learning.fractions_good import HIGH

#: How many batches a stated figure counts as, where `doubts.toml` does not say how sure it is.
USUAL_WORTH = 1.0
#: Degrees of freedom of what is believed of the spread from batch to batch.
USUAL_DEGREES = 6.0
#: Variance between products that share a figure against that between batches, where the log cannot say, and as how
#: many products that counts.
USUAL_RATIO, RATIO_WEIGHT = 0.2, 4.0
#: A ratio that a few batches give is not believed beyond this.
MOST_RATIO = 4.0


@dataclass(frozen=True)
class KnownMean:
    """What is known of a mean: t distributed around `centre`, with `worth` batches, `degrees` and variance `spread`.

    In the figure's own unit, or in its logarithm where `is_log`.
    """

    centre: float
    worth: float
    degrees: float
    spread: float
    is_log: bool

    @property
    def mean(self) -> float:
        """The figure that holds on average, in its own unit."""
        return float(np.exp(self.centre + self.spread / 2)) if self.is_log else self.centre

    def points(self) -> tuple[float, float]:
        """The 5 % and the 95 % point of that mean."""
        from scipy.special import stdtrit

        half = float(stdtrit(self.degrees, HIGH)) * (self.spread / self.worth) ** 0.5
        if self.is_log:
            return tuple(float(np.exp(self.centre + side * half + self.spread / 2)) for side in (-1, 1))  # type: ignore[return-value]
        return self.centre - half, self.centre + half


def prior(stated: float, usual_spread: float, is_log: bool, doubt: tuple[float, float] | None = None) -> KnownMean:
    """What a stated figure is worth: `usual_spread` is the standard deviation from batch to batch (of the logarithm).

    A `doubt` (its 5 % and 95 % point) says instead how sure the figure is.
    """
    variance = usual_spread**2
    centre = float(np.log(stated)) - variance / 2 if is_log else stated
    if doubt is None:
        return KnownMean(centre, USUAL_WORTH, USUAL_DEGREES, variance, is_log)
    from scipy.special import stdtrit

    low, high = (float(np.log(max(each, stated / 1000))) if is_log else each for each in doubt)
    half = max((high - low) / 2, usual_spread * 1e-3)
    worth = variance * (float(stdtrit(USUAL_DEGREES, HIGH)) / half) ** 2
    return KnownMean(centre, worth, USUAL_DEGREES, variance, is_log)


def faded(before: KnownMean, kept: float) -> KnownMean:
    """What is left of a prior of which a share is `kept`: never less than a stated figure usually counts as."""
    return replace(before, worth=max(min(before.worth, USUAL_WORTH), before.worth * kept))


@dataclass(frozen=True)
class Batches:
    """The batches of one product in one alloy: how much they count in all, their mean, and squares around it."""

    count: float
    mean: float
    squares: float

    @staticmethod
    def of(values: np.ndarray, weights: np.ndarray) -> Batches:
        count = float(weights.sum())
        mean = float((weights * values).sum() / count) if count > 0 else 0.0
        return Batches(count, mean, float((weights * (values - mean) ** 2).sum()))


def variance_ratio(cells: list[Batches]) -> float:
    """Variance between products against that between batches of one, by moments of the one-way layout.

    The usual ratio counts as four products beside it (Searle, Casella and McCulloch, Variance Components, chapter 3,
    give the estimate).
    """
    cells = [each for each in cells if each.count > 0]
    total, degrees = sum(each.count for each in cells), len(cells) - 1
    within = total - len(cells)
    if degrees < 1 or within <= 0:
        return USUAL_RATIO
    mean = sum(each.count * each.mean for each in cells) / total
    between = sum(each.count * (each.mean - mean) ** 2 for each in cells) / degrees
    inside = sum(each.squares for each in cells) / within
    usual = total - sum(each.count**2 for each in cells) / total
    found = 0.0 if inside <= 0 or usual <= 0 else (between / inside - 1) * degrees / usual
    found = min(max(found, 0.0), MOST_RATIO)
    return (RATIO_WEIGHT * USUAL_RATIO + degrees * found) / (RATIO_WEIGHT + degrees)


def shared_after(before: KnownMean, cells: list[Batches], ratio: float) -> KnownMean:
    """What is known of the figure that products share once each had batches; `ratio` is that of the variances."""
    counted = [each.count / (1 + each.count * ratio) for each in cells]
    seen = sum(counted)
    if seen <= 0:
        return before
    middle = sum(count * each.mean for count, each in zip(counted, cells, strict=True)) / seen
    worth = before.worth + seen
    squares = (
        before.degrees * before.spread
        + sum(each.squares for each in cells)
        + sum(count * (each.mean - middle) ** 2 for count, each in zip(counted, cells, strict=True))
        + before.worth * seen / worth * (middle - before.centre) ** 2
    )
    degrees = before.degrees + sum(each.count for each in cells)
    centre = (before.worth * before.centre + seen * middle) / worth
    return KnownMean(centre, worth, degrees, squares / degrees, before.is_log)


def own_after(before: KnownMean, cells: list[Batches], ratio: float, place: int) -> KnownMean:
    """What is known of the own figure of the product at `place`: its batches, leaning on those of the others."""
    own = cells[place]
    others = shared_after(before, [*cells[:place], *cells[place + 1 :]], ratio)
    together = shared_after(before, cells, ratio)
    lean = 1 / (1 / others.worth + ratio)
    worth = lean + own.count
    centre = (lean * others.centre + own.count * own.mean) / worth
    return KnownMean(centre, worth, together.degrees, together.spread, before.is_log)
