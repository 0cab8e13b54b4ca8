"""Means of minutes, losses and ratios: the conjugate normal model, worked by hand."""

from __future__ import annotations

from math import exp, log

import numpy as np
import pytest

from pricing.learning.measured_means import (
    USUAL_DEGREES,
    Batches,
    KnownMean,
    faded,
    own_after,
    prior,
    shared_after,
    variance_ratio,
)

#: The 95 % points of Student's t as printed in every table, by degrees of freedom.
T_95 = {3: 2.353, 6: 1.943}


def of(*values: float) -> Batches:
    return Batches.of(np.array(values), np.ones(len(values)))


def test_the_conjugate_model_by_hand():
    """Believed: 0, worth 1 batch, 1 degree, variance 1. Seen: 1 and 3, mean 2, squares 2.

    Worth 3, centre (0 + 2 × 2) / 3 = 4/3; squares 1 × 1 + 2 + (1 × 2 / 3) × 2² = 17/3, degrees 3, variance 17/9.
    """
    after = shared_after(KnownMean(0.0, 1.0, 1.0, 1.0, is_log=False), [of(1, 3)], 0.0)
    assert (after.centre, after.worth, after.degrees) == (pytest.approx(4 / 3), 3, 3)
    assert after.spread == pytest.approx(17 / 9)
    half = T_95[3] * (17 / 9 / 3) ** 0.5
    assert after.points() == (pytest.approx(4 / 3 - half, abs=1e-3), pytest.approx(4 / 3 + half, abs=1e-3))


def test_without_batches_the_figure_is_what_was_stated():
    assert prior(6.0, 0.3, is_log=True).mean == pytest.approx(6.0)
    assert shared_after(prior(6.0, 0.3, is_log=True), [], 0.2).mean == pytest.approx(6.0)
    assert prior(0.03, 0.01, is_log=False).mean == 0.03


def test_a_long_tail_is_in_the_mean():
    """Half the batches take 4 and half 9 minutes: the middle of the logarithms is 6, what an hour pays for is more."""
    many = of(*[log(4), log(9)] * 200)
    after = shared_after(prior(6.0, 0.3, is_log=True), [many], 0.0)
    spread = (log(9 / 4) / 2) ** 2
    assert after.mean == pytest.approx(6 * exp(spread / 2), rel=0.01)


def test_a_doubt_of_the_files_says_how_sure_it_is():
    """From 4 to 9 is log(9/4) wide: its half is t(0.95, 6) times the standard deviation of the mean."""
    made = prior(6.0, 0.3, is_log=True, doubt=(4.0, 9.0))
    assert USUAL_DEGREES == 6
    assert (made.spread / made.worth) ** 0.5 == pytest.approx(log(9 / 4) / 2 / T_95[6], rel=1e-3)


def test_how_far_products_lie_apart():
    """Batches 1, 3 and 5, 7: inside (2 + 2) / 2 = 2, between 2 × (2² + 2²) = 16, so (16 / 2 - 1) / 2 = 3.5; beside the
    usual 0.2 as four: (0.8 + 3.5) / 5."""
    assert variance_ratio([of(1, 3), of(5, 7)]) == pytest.approx((4 * 0.2 + 3.5) / 5)
    assert variance_ratio([of(1, 3)]) == 0.2


def test_a_products_own_mean_leans_on_the_others():
    """With the ratio of variances 1 and nothing believed, others of worth 2 / (1 + 2) lean as 1 / (3/2 + 1) = 0.4."""
    before = KnownMean(0.0, 1e-12, 1.0, 1.0, is_log=False)
    own = own_after(before, [of(4, 4), of(1, 1)], 1.0, 0)
    assert own.worth == pytest.approx(2.4)
    assert own.centre == pytest.approx((0.4 * 1 + 2 * 4) / 2.4)


def test_what_was_learned_fades_down_to_what_a_guess_counts_as():
    known = KnownMean(1.0, 12.0, 6.0, 0.04, is_log=True)
    assert [faded(known, kept).worth for kept in (1.0, 0.5, 0.01)] == [12.0, 6.0, 1.0]
    assert faded(KnownMean(1.0, 0.3, 6.0, 0.04, is_log=True), 0.01).worth == 0.3
