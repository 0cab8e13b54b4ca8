"""Sobol indices against the values that are published for two functions that everybody tries them on."""

from __future__ import annotations

import numpy as np
import pytest

from pricing.studies.doubt.sobol import sobol_indices, uniform


def ishigami(points: np.ndarray, _: int | None) -> np.ndarray:
    """sin x + 7 sin^2 y + 0.1 z^4 sin x, on -pi to pi (Ishigami and Homma 1990)."""
    x, y, z = (np.pi * (2 * points - 1)).T
    return np.sin(x) + 7 * np.sin(y) ** 2 + 0.1 * z**4 * np.sin(x)


#: From the variances that Saltelli and others (Global Sensitivity Analysis: The Primer, 2008, section 4.3) derive:
#: V = a^2 / 8 + b pi^4 / 5 + b^2 pi^8 / 18 + 1 / 2, V1 = (1 + b pi^4 / 5)^2 / 2, V2 = a^2 / 8, V13 = 8 b^2 pi^8 / 225.
A, B = 7, 0.1
V1, V2, V13 = (1 + B * np.pi**4 / 5) ** 2 / 2, A**2 / 8, 8 * B**2 * np.pi**8 / 225
V = A**2 / 8 + B * np.pi**4 / 5 + B**2 * np.pi**8 / 18 + 1 / 2


def test_the_ishigami_function():
    found = sobol_indices(ishigami, 3, [[0], [1], [2]], 4096)
    published = [0.3139, 0.4424, 0], [0.5576, 0.4424, 0.2437]  # as commonly printed, to four digits
    np.testing.assert_allclose(found.first, [V1 / V, V2 / V, 0], atol=0.005)
    np.testing.assert_allclose(found.total, [(V1 + V13) / V, V2 / V, V13 / V], atol=0.005)
    np.testing.assert_allclose([found.first, found.total], published, atol=0.005)


def test_the_g_function():
    """Saltelli and others (2010), section 5: a = 0, 0.5, 3, 9, 99, 99; Vi = 1 / 3 / (1 + ai)^2."""
    a = np.array([0, 0.5, 3, 9, 99, 99])

    def g(points: np.ndarray, _: int | None) -> np.ndarray:
        return np.prod((np.abs(4 * points - 2) + a) / (1 + a), axis=1)

    alone = 1 / 3 / (1 + a) ** 2
    whole = np.prod(1 + alone) - 1
    together = [alone[i] * np.prod(np.delete(1 + alone, i)) for i in range(6)]
    found = sobol_indices(g, 6, [[i] for i in range(6)], 4096)
    np.testing.assert_allclose(found.first, alone / whole, atol=0.005)
    np.testing.assert_allclose(found.total, together / whole, atol=0.005)


def test_a_group_counts_as_one_and_the_rest_adds_up():
    """2 x + 3 y + z: alone 4/14, 9/14, 1/14, and x with z 5/14."""
    found = sobol_indices(lambda u, _: u @ np.array([2.0, 3.0, 1.0]), 3, [[0, 2], [1]], 1024)
    np.testing.assert_allclose(found.first, [5 / 14, 9 / 14], atol=0.005)
    np.testing.assert_allclose(found.total, [5 / 14, 9 / 14], atol=0.005)


def test_what_does_not_vary_has_no_shares():
    found = sobol_indices(lambda u, _: np.column_stack([u[:, 0], np.full(len(u), 7.5)]), 1, [[0]], 256)
    assert found.total[0, 0] == pytest.approx(1, abs=0.02)
    assert np.isnan(found.first[0, 1])
    assert np.isnan(found.total[0, 1])


def test_the_draws_are_the_same_each_time():
    np.testing.assert_array_equal(uniform(64, 5), uniform(64, 5))
    assert (uniform(64, 5) != uniform(64, 5, seed=2)).any()


def test_what_a_group_is_asked_for_is_told():
    """A, B, and then A with each group's columns from B."""
    asked: dict[int | None, list[np.ndarray]] = {}

    def result(points: np.ndarray, group: int | None) -> np.ndarray:
        asked.setdefault(group, []).append(points)
        return points.sum(axis=1)

    sobol_indices(result, 3, [[0, 2], [1]], 8)
    a, b = asked[None]
    for group, own in ((0, [0, 2]), (1, [1])):
        (mixed,) = asked[group]
        others = [each for each in range(3) if each not in own]
        np.testing.assert_array_equal(mixed[:, own], b[:, own])
        np.testing.assert_array_equal(mixed[:, others], a[:, others])
