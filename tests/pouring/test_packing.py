"""The fewest flasks, against trying everything."""

from __future__ import annotations

from itertools import product
from random import Random

import numpy as np
import pytest

from pricing.pouring.packing import FIRST_FIT, HIGHS, ROOM, fewest_bins


def fewest_by_trying(counts, shares, caps):
    """How few bins hold everything: each is filled in every way that leaves no room, until nothing is left."""
    fillings = [
        each
        for each in product(*[range(min(cap, count) + 1) for cap, count in zip(caps, counts, strict=True)])
        if any(each) and (np.asarray(each) @ shares <= 1 + 1e-9).all()
    ]
    reached, bins = {tuple(counts)}, 0
    while tuple([0] * len(counts)) not in reached:
        reached = {
            tuple(max(0, left - put) for left, put in zip(state, each, strict=True))
            for state in reached
            for each in fillings
        }
        bins += 1
    return bins


def small_cases():
    random = Random(20261120)
    for _ in range(25):
        kinds = random.randint(1, 3)
        counts = [random.randint(1, 4) for _ in range(kinds)]
        shares = np.array([[1 / random.choice([1.2, 2, 2.5, 3, 4, 7]), random.uniform(0.05, 0.6)] for _ in counts])
        yield counts, shares, [random.randint(1, 4) for _ in counts]


def test_small_cases_take_as_few_flasks_as_trying_everything_does():
    found_by = set()
    for counts, shares, caps in small_cases():
        packed = fewest_bins(counts, shares, caps)
        held = np.array(packed.bins)
        assert (held.sum(axis=0) == counts).all() and (held <= caps).all() and (held @ shares <= 1 + 1e-6).all()
        assert len(packed.bins) == packed.least == fewest_by_trying(counts, shares, caps), (counts, shares, caps)
        assert packed.gap == 0
        found_by.add(packed.by)
    assert found_by == {ROOM, HIGHS}


#: What one piece of each of three kinds takes of a flask; up to so many of each.
FILLS, MOST = ((0.2, 0.25, 0.35), (0.2, 0.35, 0.45), (0.25, 0.35, 0.6)), 4


def test_every_small_case_of_three_kinds_takes_as_few_as_can_be():
    """0 to 4 of each kind: the best of a case is one flask more than that of what any filling leaves of it, so all
    cases of three kinds are reckoned in one go."""
    found_by = set()
    for fills in FILLS:
        shares = np.array(fills)[:, None]
        fewest = {(0, 0, 0): 0}
        cases = list(product(range(MOST + 1), repeat=3))
        fillings = [each for each in cases if any(each) and np.dot(each, fills) <= 1 + 1e-9]
        for case in cases[1:]:  # in an order in which what is left was there before
            fewest[case] = 1 + min(
                fewest[case[0] - a, case[1] - b, case[2] - c]
                for a, b, c in fillings
                if a <= case[0] and b <= case[1] and c <= case[2]
            )
            packed = fewest_bins(case, shares, [MOST] * 3)
            assert len(packed.bins) == packed.least == fewest[case], (fills, case)
            assert tuple(map(sum, zip(*packed.bins, strict=True))) == case
            assert max(np.dot(each, fills) for each in packed.bins) <= 1 + 1e-6
            found_by.add(packed.by)
    assert found_by == {ROOM, HIGHS}


def test_a_packing_that_first_fit_misses_is_found():
    """2 × 0.25 + 2 × 0.35 + 4 × 0.20 = 2.0: two bins of 0.25 + 0.35 + 0.20 + 0.20. First fit puts both of 0.35 with one
    of 0.25 (0.95), then the other 0.25 with three of 0.20 (0.85), and is left with a 0.20."""
    counts, shares = [2, 2, 4], np.array([[0.25], [0.35], [0.20]])
    packed = fewest_bins(counts, shares, counts)
    assert sorted(packed.bins) == [(1, 1, 2), (1, 1, 2)] and (packed.least, packed.by, packed.gap) == (2, HIGHS, 0)
    without = fewest_bins(counts, shares, counts, seconds=0)
    assert (len(without.bins), without.least, without.by) == (3, 2, FIRST_FIT)
    assert without.gap == pytest.approx(1 / 3)


def test_what_does_not_fit_at_all_is_told():
    with pytest.raises(ValueError, match="not one of kind 1 fits"):
        fewest_bins([1, 1], np.array([[0.5], [1.2]]), [1, 1])
