"""Nine truths in ten lie between the points, where truths come from the priors and batches from the truths."""

from __future__ import annotations

import pytest

from tests.learning import truths

RUNS, SEED = 2000, 11


@pytest.mark.parametrize("simulation", [truths.one_fraction, truths.flasks_failing_whole])
def test_fractions_good(simulation):
    assert 0.88 <= simulation(RUNS, SEED) <= 0.92


def test_pieces_of_flasks_that_fail_whole_are_no_trials_of_their_own():
    assert truths.flasks_failing_whole(RUNS, SEED, as_pieces=True) < 0.5


def test_fractions_that_products_share():
    shared, own = truths.shared_fractions(300, SEED, products=3)
    assert 0.87 <= shared <= 0.93 and 0.87 <= own <= 0.93


@pytest.mark.parametrize("is_log", [True, False])
def test_means(is_log):
    shared, own = truths.means(RUNS, SEED, is_log)
    assert 0.88 <= shared <= 0.92 and 0.88 <= own <= 0.92


def test_what_was_written_rounded_is_learned_on_from():
    assert 0.85 <= truths.learned_again(100, SEED, times=2) <= 0.97  # two standard deviations of a hundred runs
