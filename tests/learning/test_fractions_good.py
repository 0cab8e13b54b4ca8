"""Fractions good: Beta distributions, by textbook examples and by closed forms."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import betainc

from pricing.learning.fractions_good import (
    USUAL_ALIKENESS,
    Beta,
    alikeness,
    doubted_prior,
    faded,
    own_after,
    prior,
    shared_after,
)


def test_trials_are_added_to_what_was_believed():
    """The usual example of textbooks: a uniform prior, Beta(1, 1), and 7 successes in 10 give Beta(8, 4), mean 2/3."""
    after = Beta(1, 1).after(7, 3)
    assert (after.a, after.b) == (8, 4)
    assert after.mean == pytest.approx(2 / 3)
    assert after.variance == pytest.approx(8 * 4 / (12**2 * 13))


def test_points_where_they_have_a_closed_form():
    """Beta(10, 1) has the distribution function x^10: its 5 % point is 0.05^(1/10) = 0.7411, its 95 % point 0.9949."""
    low, high = Beta(1, 1).after(9, 0).points()
    assert (low, high) == (pytest.approx(0.05**0.1), pytest.approx(0.95**0.1))


def test_a_stated_figure_counts_as_ten_trials_and_one_of_1_can_be_learned_from():
    assert (prior(0.9).a, prior(0.9).b) == (pytest.approx(9), pytest.approx(1))
    assert (prior(1.0).a, prior(1.0).b) == (10, 0.5)


def test_a_doubt_of_the_files_says_how_many_trials_it_counts_as():
    made = doubted_prior(0.93, 0.84, 0.97)
    low, high = made.points()
    assert made.mean == pytest.approx(0.93)
    assert high - low == pytest.approx(0.13, abs=1e-6)
    surer = doubted_prior(0.93, 0.92, 0.94)
    assert surer.a + surer.b > 10 * (made.a + made.b)
    nobody_knows = doubted_prior(0.5, 0.0, 1.0)
    assert nobody_knows.a + nobody_knows.b == pytest.approx(1.0, rel=1e-6)


def test_one_product_alone_is_plainly_conjugate():
    after = shared_after(prior(0.9), np.array([37.0]), np.array([40.0]), 0.0)
    assert (after.a, after.b) == (pytest.approx(9 + 37), pytest.approx(1 + 3))


def test_trials_of_one_product_say_less_of_what_many_share():
    """With rho = 0.1, 11 trials of one product count as 11 / (1 + 10 × 0.1) = 5.5; of two products as 11."""
    one = shared_after(Beta(1, 1), np.array([5.5]), np.array([11.0]), 0.1)
    assert one.a + one.b == pytest.approx(2 + 5.5)
    two = shared_after(Beta(1, 1), np.array([5.5, 5.5]), np.array([11.0, 11.0]), 0.1)
    assert two.a + two.b == pytest.approx(2 + 11)


def test_how_alike_the_trials_of_a_product_are():
    """Two products of 10 trials, 9 and 5 good: p = 0.7, between = 10 × 0.04 × 2 / 0.21 = 80/21, room = 20 - 10 - 1 = 9,
    (80/21 - 1) / 9 = 59/189; beside the usual 1/41 as four: (4/41 + 59/189) / 5."""
    found = alikeness(np.array([9.0, 5.0]), np.array([10.0, 10.0]))
    assert found == pytest.approx((4 / 41 + 59 / 189) / 5)
    assert alikeness(np.array([7.0, 7.0]), np.array([10.0, 10.0])) == pytest.approx(4 / 41 / 5)
    assert alikeness(np.array([9.0]), np.array([10.0])) == USUAL_ALIKENESS


def test_a_products_own_fraction_leans_on_the_others():
    good, trials = np.array([2.0, 55.0]), np.array([4.0, 60.0])
    few, many = own_after(prior(0.9), good, trials, USUAL_ALIKENESS).mean
    assert 0.7 < few < 0.9  # 0.5 in four trials is not believed
    assert abs(many - 55 / 60) < 0.02


def test_points_of_a_mixture_are_those_of_its_distribution():
    own = own_after(prior(0.93), np.array([30.0, 0.0, 2.0]), np.array([30.0, 1.0, 20.0]), USUAL_ALIKENESS)
    for wanted, points in zip((0.05, 0.95), own.points(), strict=True):
        below = (own.weights * betainc(own.parts.a, own.parts.b, points[:, None])).sum(axis=1)
        assert below == pytest.approx([wanted] * 3, abs=1e-9)


def test_what_was_learned_fades_down_to_what_a_guess_counts_as():
    half, long_ago, guess = faded(Beta(90, 10), 0.5), faded(Beta(90, 10), 0.01), faded(Beta(4.5, 0.5), 0.01)
    assert (half.a, half.b) == (pytest.approx(45), pytest.approx(5))
    assert (long_ago.a, long_ago.b) == (pytest.approx(9), pytest.approx(1))
    assert (guess.a, guess.b) == (pytest.approx(4.5), pytest.approx(0.5))  # it was worth less than ten from the start
