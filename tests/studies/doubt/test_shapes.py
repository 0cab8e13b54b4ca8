"""A distribution from its 5 % and its 95 % point, against scipy's own."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from pricing.studies.doubt.shapes import Limits, Shape, shape_of

FRACTION, POSITIVE = Limits(0, 1), Limits(0, None)


def of_scipy(shape: Shape):
    if shape.kind == "beta":
        return stats.beta(shape.first, shape.second)
    if shape.kind == "lognormal":
        return stats.lognorm(s=shape.second, scale=np.exp(shape.first))
    return stats.norm(shape.first, shape.second) if shape.kind == "normal" else stats.expon(scale=shape.first)


@pytest.mark.parametrize(
    ("low", "high", "limits", "kind"),
    [
        (4, 9, POSITIVE, "lognormal"),
        (72, 105, POSITIVE, "lognormal"),
        (0.02, 2.4, Limits(0, 3), "lognormal"),  # a fraction on top may exceed 1
        (0.84, 0.97, FRACTION, "beta"),
        (0.015, 0.06, FRACTION, "beta"),
        (0.01, 0.99, FRACTION, "beta"),
        (0.0001, 0.5, FRACTION, "beta"),
        (0.999, 0.9999, FRACTION, "beta"),
        (0.3, 0.301, FRACTION, "beta"),
        (-0.02, 0.03, Limits(), "normal"),
        (2, 5, Limits(), "normal"),
    ],
)
def test_both_points_are_met(low, high, limits, kind):
    shape = shape_of(low, high, limits)
    assert shape.kind == kind
    ends = of_scipy(shape).cdf([low, high])
    np.testing.assert_allclose(ends, [0.05, 0.95], atol=1e-9)
    shares = np.array([0.001, 0.05, 0.3, 0.5, 0.95, 0.999])
    np.testing.assert_allclose(shape.at(shares), np.clip(of_scipy(shape).ppf(shares), *limits), rtol=1e-9)


@pytest.mark.parametrize(
    ("low", "high", "limits", "peer"),
    [
        (0, 0.02, FRACTION, stats.beta(1, np.log(0.05) / np.log(0.98))),  # 1 - 0.98^b = 0.95
        (0.9, 1, FRACTION, stats.beta(np.log(0.05) / np.log(0.9), 1)),  # 0.9^a = 0.05
        (0, 1, FRACTION, stats.uniform()),
        (0, 6, POSITIVE, stats.expon(scale=6 / np.log(20))),  # exp(-6 / mean) = 0.05
    ],
)
def test_a_range_that_begins_or_stops_at_an_end_is_densest_there(low, high, limits, peer):
    shares = np.array([0.05, 0.5, 0.95])
    np.testing.assert_allclose(shape_of(low, high, limits).at(shares), peer.ppf(shares), rtol=1e-12)


def test_a_figure_stays_within_its_ends():
    assert shape_of(1.0, 1.3, Limits(1, None)).at(np.array([0.001, 0.5])).tolist() == [1, pytest.approx(1.3**0.5)]


@pytest.mark.parametrize("range_", [(3, 3), (5, 4), (-1, 4), (0.5, 1.2)])
def test_what_is_no_range_is_refused(range_):
    with pytest.raises(ValueError, match="no range"):
        shape_of(*range_, FRACTION)
