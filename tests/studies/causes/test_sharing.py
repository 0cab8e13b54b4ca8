"""Shares add up to the whole, exactly and in pence."""

from __future__ import annotations

from itertools import permutations
from math import factorial

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pricing.studies.causes import sharing
from pricing.studies.causes.sharing import shares, whole_units


def test_a_mass_and_a_price_that_both_rose():
    """2 g at 10 become 3 g at 12: 20 → 36. The gram: the mean of 1 × 10 and 1 × 12; the price: of 2 × 2 and 3 × 2."""
    found = shares(
        ["mass", "price"], lambda new: np.array((3 if "mass" in new else 2) * (12 if "price" in new else 10))
    )
    assert (found["mass"], found["price"]) == (11, 5)


def games(count: int):
    """Functions of sets of causes: any number for every subset."""
    return st.lists(st.floats(-1000, 1000), min_size=2**count, max_size=2**count)


def value_of(values: list[float]):
    return lambda chosen: np.array(values[sum(1 << cause for cause in chosen)])


@given(st.integers(0, 5).flatmap(games))
def test_they_are_the_mean_over_all_orders_and_add_up(values):
    count = len(values).bit_length() - 1
    found = shares(list(range(count)), value_of(values))
    for cause in range(count):
        come = []
        for order in permutations(range(count)):
            before = sum(1 << each for each in order[: order.index(cause)])
            come.append(values[before | 1 << cause] - values[before])
        assert found[cause] == pytest.approx(sum(come) / factorial(count), abs=1e-9)
    assert sum(found.values()) == pytest.approx(values[-1] - values[0], abs=1e-9)


@given(games(4), st.integers(0, 3))
def test_with_many_causes_they_add_up_and_what_changes_nothing_gets_nothing(values, idle):
    """Two orders for each rotation stand for all; `idle` is made a cause that changes nothing."""
    without = [values[number & ~(1 << idle)] for number in range(16)]
    found = sharing._rotated(range(4), value_of(without))
    assert sum(found.values()) == pytest.approx(without[-1] - without[0], abs=1e-9)
    assert found[idle] == 0


def test_with_many_causes_each_comes_first_twice():
    """A prize of 12 for whoever comes first, of three: each gets a third of it."""
    found = sharing._rotated("abc", lambda chosen: np.array(12.0 if chosen else 0.0))
    assert {cause: float(share) for cause, share in found.items()} == {"a": 4, "b": 4, "c": 4}


def test_the_way_for_many_causes_is_taken_above_the_limit():
    count = sharing.MOST_WHOLLY + 1
    asked = []
    shares(list(range(count)), lambda chosen: (asked.append(chosen), np.array(float(len(chosen))))[1])
    assert len(asked) <= 2 * count**2  # of 2,048 subsets


@given(st.lists(st.floats(-100, 100), min_size=1, max_size=8), st.sampled_from([1.0, 0.01, 0.001]), st.floats(0, 1000))
def test_in_pence_they_add_up_to_the_difference_of_the_two_shown_amounts(parts, unit, before):
    digits = {1.0: 0, 0.01: 2, 0.001: 3}[unit]
    whole = round(round(before + sum(parts), digits) / unit) - round(round(before, digits) / unit)
    shown = whole_units(parts, whole, unit)
    if any(abs(part / unit) > 1e-9 for part in parts):
        assert sum(shown) == whole
    for part, units in zip(parts, shown, strict=True):
        assert abs(units - part / unit) < 1 + 1e-6


def test_the_largest_remainders_are_rounded_up():
    """1.40 + 1.35 + 1.25 pence are 4; rounded down they are 3, and the first has the largest remainder."""
    assert whole_units([0.0140, 0.0135, 0.0125], 4, 0.01) == [2, 1, 1]
    assert whole_units([0.006, -0.002, 0.0], 1, 0.01) == [1, 0, 0]
