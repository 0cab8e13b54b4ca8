"""Truths drawn from the priors, batches drawn from the truths: how often the nine-in-ten intervals hold the truth.

The tests draw 2,000 runs; `python -m tests.benchmarks.bench_learning --runs 20000` draws more.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from pricing.learning import fractions_good, measured_means
from pricing.learning.measured_means import Batches, KnownMean
from pricing.learning.rows import rounded

LOW, HIGH = 0.05, 0.95


def held(points: tuple[np.ndarray, np.ndarray], truth: np.ndarray) -> float:
    """In which share of the runs the truth lies between the points."""
    return float(np.mean((points[0] <= truth) & (truth <= points[1])))


def one_fraction(runs: int, seed: int, pieces: int = 14, flasks: int = 0) -> float:
    """A fraction of one product: eight batches of so many pieces, or of so many flasks that fail whole."""
    random = np.random.default_rng(seed)
    before = fractions_good.prior(0.93, 20)
    truth = random.beta(before.a, before.b, runs)
    trials = 8 * (flasks or pieces)
    good = random.binomial(trials, truth)
    return held(before.after(good, trials - good).points(), truth)


def flasks_failing_whole(runs: int, seed: int, as_pieces: bool = False) -> float:
    """Twelve flasks of sixteen pieces of which some are lost whole; counted as flasks or, wrongly, as pieces."""
    random = np.random.default_rng(seed)
    before = fractions_good.prior(0.93, 20)
    truth = random.beta(before.a, before.b, runs)
    standing = random.binomial(12, truth)
    counted = 16 if as_pieces else 1
    return held(before.after(standing * counted, (12 - standing) * counted).points(), truth)


def shared_fractions(runs: int, seed: int, products: int = 4) -> tuple[float, float]:
    """A fraction that products share and each product's own, which lies around it: both intervals."""
    random = np.random.default_rng(seed)
    before, alike = fractions_good.prior(0.93, 20), fractions_good.USUAL_ALIKENESS
    shared = random.beta(before.a, before.b, runs)
    scale = 1 / alike - 1
    own = random.beta(scale * shared[:, None], scale * (1 - shared[:, None]), (runs, products))
    trials = random.integers(5, 60, (runs, products)).astype(float)
    good = random.binomial(trials.astype(int), own)
    after = fractions_good.shared_after(before, good, trials, alike)
    each = fractions_good.own_after(before, good, trials, alike)
    return held(after.points(), shared), held(each.points(), own)


def learned_again(runs: int, seed: int, times: int = 3) -> float:
    """A fraction learned from sixty pieces, written with its doubt as the files have it, and learned again on that."""
    random = np.random.default_rng(seed)
    found = 0
    for _ in range(runs):
        known = fractions_good.prior(0.93, 20)
        truth = random.beta(known.a, known.b)
        low = high = 0.0
        for _ in range(times):
            good = int(random.binomial(60, truth))
            after = known.after(good, 60 - good)
            points = after.points()
            to, (low, high) = rounded(float(after.mean), float(points[0]), float(points[1]), least_above_zero=True)
            known = fractions_good.doubted_prior(to, low, high)
        found += low <= truth <= high
    return found / runs


def means(runs: int, seed: int, is_log: bool, products: int = 3) -> tuple[float, float]:
    """A mean that products share and the own one of the first: three to eight batches each."""
    random = np.random.default_rng(seed)
    before = measured_means.prior(6.0, 0.25, is_log) if is_log else measured_means.prior(0.03, 0.01, is_log)
    ratio = measured_means.USUAL_RATIO
    found: list[tuple[tuple[float, float], float, tuple[float, float], float]] = []
    for known, centre, own, spread, cells in drawn(random, before, runs, products, ratio):
        after = measured_means.shared_after(known, cells, ratio)
        first = measured_means.own_after(known, cells, ratio, 0)
        found.append((after.points(), meant(centre, spread, is_log), first.points(), meant(own, spread, is_log)))
    return tuple(  # type: ignore[return-value]
        float(np.mean([each[place][0] <= each[place + 1] <= each[place][1] for each in found])) for place in (0, 2)
    )


def meant(centre: float, spread: float, is_log: bool) -> float:
    return float(np.exp(centre + spread / 2)) if is_log else centre


def drawn(
    random: np.random.Generator, before: KnownMean, runs: int, products: int, ratio: float
) -> Iterator[tuple[KnownMean, float, float, float, list[Batches]]]:
    """The prior, the shared centre, the first product's own, the variance, and the batches of every product."""
    for _ in range(runs):
        spread = before.degrees * before.spread / random.chisquare(before.degrees)
        centre = random.normal(before.centre, (spread / before.worth) ** 0.5)
        own = random.normal(centre, (ratio * spread) ** 0.5, products)
        cells = [
            Batches.of(random.normal(each, spread**0.5, count := int(random.integers(3, 9))), np.ones(count))
            for each in own
        ]
        yield before, centre, float(own[0]), spread, cells
