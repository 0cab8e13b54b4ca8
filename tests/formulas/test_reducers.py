"""What is kept of figures that pass by in blocks: against the whole held at once, however it was cut."""

from __future__ import annotations

import numpy as np
import pytest

from pricing.formulas.reducers import Bins, under


@pytest.fixture(scope="module")
def figures() -> np.ndarray:
    """999 worlds of 2 × 3 places: of either sign, far apart in size, some no number, one place without any."""
    chance = np.random.default_rng(11)
    found = np.exp(chance.normal(3, 1.5, (999, 2, 3))) * np.array([1, -1e-6, 1e9])
    found[chance.random(found.shape) < 0.1] = np.nan
    found[:500, 1, 0], found[:, 0, 1] = np.nan, np.nan
    found[:, 1, 1] -= np.nanmedian(found[:, 1, 1])
    return found


def test_under_a_limit(figures):
    assert under(np.array([[1.0, 0.1], [np.nan, 0.3], [0.2, 0.2]]), np.array([0.5, 0.2])).tolist() == [1, 1]
    parts = sum(under(block, 20.0) for block in np.split(figures, [300]))
    np.testing.assert_array_equal(parts, (np.nan_to_num(figures, nan=np.inf) < 20).sum(axis=0))


@pytest.mark.parametrize("share", [0, 0.1, 0.5, 0.9, 1])
def test_a_quantile_lies_in_the_bin_of_the_exact_one(figures, share):
    bins, half = Bins((2, 3)), Bins((2, 3))
    for block in np.split(figures, [400, 500]):
        (half if len(block) == 100 else bins).add(block)
    bins.merge(half)
    with pytest.warns(RuntimeWarning, match="All-NaN"):
        exact = np.nanquantile(figures, share, axis=0, method="lower")
    np.testing.assert_allclose(bins.quantile(share), exact, rtol=1 / 1024)


def test_bins_are_the_same_however_it_was_cut(figures):
    whole, parts = Bins((2, 3)), Bins((2, 3))
    whole.add(figures)
    for block in np.split(figures, [17, 800])[::-1]:
        parts.add(block)
    np.testing.assert_array_equal(whole.keys, parts.keys)
    np.testing.assert_array_equal(whole.counts, parts.counts)
    assert whole.counts.sum() == (~np.isnan(figures)).sum()


def test_bins_of_nothing_of_zero_and_without_end():
    assert np.isnan(Bins((2,)).quantile(0.5)).all()
    few = Bins()
    few.add(np.array([-0.0, 0.0, np.inf, -np.inf, 5.0]))
    assert few.quantile(0) == -np.inf and few.quantile(1) == np.inf
    assert few.quantile(0.5) == 0
    with pytest.raises(ValueError, match="places"):
        few.merge(Bins((3,)))


def test_room_is_for_bins_and_not_for_figures():
    """Between 1 and 2 there are 1024 bins, however many figures lie there."""
    bins = Bins()
    for seed in range(3):
        bins.add(np.random.default_rng(seed).uniform(1, 2, 20_000))
    assert len(bins.counts) == 1024 and bins.counts.sum() == 60_000
