"""The learning curve against worked examples: one that is published, one as textbooks have it."""

from __future__ import annotations

import numpy as np
import pytest

from pricing.learning.curve import Curve, fitted


def batches(first: float, rate: float, ends: list[int]) -> tuple[list[float], list[float]]:
    """Pieces and minutes of batches that end after so many pieces, exactly on a curve."""
    pieces = np.diff([0, *ends]).tolist()
    total = [first * end ** (1 + np.log2(rate)) for end in ends]
    return pieces, np.diff([0, *total]).tolist()


def test_an_80_percent_curve():
    """As textbooks have it (from memory, of no one source): the first piece takes 100, and the mean falls to 0.8 with
    each doubling: of two it is 80, of four 0.8 × 80 = 64, of eight 51.2, of sixteen 40.96."""
    averages = {1: 100.0, 2: 80.0, 4: 64.0, 8: 51.2, 16: 40.96}
    totals = [pieces * average for pieces, average in averages.items()]
    found = fitted(np.diff([0, *averages]).tolist(), np.diff([0, *totals]).tolist())
    assert found is not None
    assert found.rate == pytest.approx(0.8) and found.first == pytest.approx(100)
    assert found.mean_after(8) == pytest.approx(51.2)
    assert found.minutes_of(8, 8) * 8 == pytest.approx(16 * 40.96 - 8 * 51.2)
    assert found.is_told


def test_a_90_percent_curve_between_doublings():
    """ACCA, technical article "Learning curve": 100 hours for the first batch at 90 %; the mean of the first seven is
    100 × 7^-0.152, since log(0.9) / log(2) = -0.152: 74.39 hours."""
    curve = Curve(first=100.0, rate=0.9, low=0.9, high=0.9, made=7.0)
    assert curve.slope == pytest.approx(-0.152, abs=1e-4)
    assert curve.mean_after(7) == pytest.approx(74.39, abs=0.01)


def test_too_few_batches_say_nothing():
    pieces, minutes = batches(10, 0.85, [8, 16, 24, 40])
    assert fitted(pieces, minutes) is None  # four batches
    assert fitted([100, 10, 10, 10, 10], [900, 80, 80, 80, 80]) is None  # not one doubling after the first
    assert fitted([1, 1, 1, 1, 1], [5, 5, 0, 5, 5]) is None  # no minutes


def test_chance_is_not_called_learning():
    random = np.random.default_rng(4)
    noise = np.exp(random.normal(0, 0.3, 6))
    steady = fitted([10] * 6, (60 * noise).tolist())
    assert steady is not None and not steady.is_told
    assert steady.low < 1 <= steady.high
    pieces, minutes = batches(12, 0.8, [10, 20, 40, 80, 160, 320])
    learning = fitted(pieces, (np.array(minutes) * np.exp(random.normal(0, 0.05, 6))).tolist())
    assert learning is not None and learning.is_told
    assert learning.low < 0.8 < learning.high
