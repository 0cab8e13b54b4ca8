"""Linear programmes against a textbook's example and, in whole numbers, against trying all of them."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest

from pricing.studies.mix.programme import Boundless, Impossible, Programme, solve, solve_whole


def programme(gains, uses, limits, whole=None) -> Programme:
    columns = len(gains)
    return Programme(
        np.array(gains, dtype=float),
        np.array(uses, dtype=float).reshape(len(limits), columns),
        np.array(limits, dtype=float),
        np.array(whole or [False] * columns),
    )


#: Hillier and Lieberman, Introduction to Operations Research, the Wyndor Glass Co. example (from memory): doors and
#: windows in three plants, batches a week, thousands of dollars. Optimum 2 and 6 for 36, shadow prices 0, 3/2 and 1.
WYNDOR = programme([3, 5], [[1, 0], [0, 2], [3, 2]], [4, 12, 18])


def test_the_textbook_example_with_its_shadow_prices():
    best = solve(WYNDOR)
    assert best.amounts == pytest.approx([2, 6]) and best.gain == pytest.approx(36)
    assert best.worth == pytest.approx([0, 1.5, 1])
    # What is gained is what the limits are worth: 4 × 0 + 12 × 3/2 + 18 × 1.
    assert WYNDOR.limits @ best.worth == pytest.approx(36)


def test_a_published_production_problem_with_its_shadow_prices():
    """QuantEcon, Linear Programming, example 1 (after Bertsimas and Tsitsiklis 1997): two products of 3 and 4 that take
    2 and 5 of 30 units of material, 4 and 2 of 20 units of labour. Best are 2.5 and 5, for 27.5; a unit of material is
    worth 0.625 then, one of labour 0.4375."""
    best = solve(programme([3, 4], [[2, 5], [4, 2]], [30, 20]))
    assert best.amounts == pytest.approx([2.5, 5]) and best.gain == pytest.approx(27.5)
    assert best.worth == pytest.approx([0.625, 0.4375])


def test_a_limit_is_worth_what_one_more_of_it_gains():
    for row, worth in enumerate([0, 1.5, 1]):
        more = WYNDOR.limits + np.eye(3)[row]
        assert solve(Programme(WYNDOR.gains, WYNDOR.uses, more, WYNDOR.whole)).gain - 36 == pytest.approx(worth)


def test_what_is_not_made_tells_how_much_more_it_would_have_to_gain():
    """A third product that takes 1 in plant 2 and 1 in plant 3 must gain 3/2 + 1; it gains 2, so 1/2 is lacking."""
    best = solve(programme([3, 5, 2], [[1, 0, 0], [0, 2, 1], [3, 2, 1]], [4, 12, 18]))
    assert best.amounts == pytest.approx([2, 6, 0]) and best.short == pytest.approx([0, 0, 0.5])


@pytest.mark.parametrize("seed", range(12))
def test_whole_numbers_against_trying_all_of_them(seed):
    draw = np.random.default_rng(seed)
    gains, uses = draw.uniform(1, 10, 3), draw.uniform(0.2, 3, (2, 3))
    limits = draw.uniform(4, 9, 2)
    best = solve_whole(programme(gains, uses, limits, [True] * 3))
    most = [int(min(limits / uses[:, column])) for column in range(3)]
    tried = [
        gains @ amounts
        for amounts in map(np.array, product(*(range(each + 1) for each in most)))
        if (uses @ amounts <= limits + 1e-9).all()
    ]
    assert best.gain == pytest.approx(max(tried)) and best.gap <= 1e-6
    assert best.amounts == pytest.approx(np.round(best.amounts)) and (uses @ best.amounts <= limits + 1e-6).all()


def test_what_cannot_be_and_what_has_no_end_are_told():
    with pytest.raises(Impossible, match="no plan keeps within all of these limits"):
        solve_whole(programme([1], [[1], [-1]], [2, -3], [True]))  # at most 2, at least 3
    with pytest.raises(Boundless, match="nothing limits what is made"):
        solve(programme([1, 1], [[1, 0]], [2]))


def test_where_there_is_nothing_to_make_nothing_is_gained():
    assert solve(programme([], [], [3])).gain == 0


def test_of_more_than_anybody_counts_no_whole_numbers_are_looked_for():
    """Three grams a piece of 1e10 grams: their third, uncounted."""
    best = solve_whole(programme([1], [[3]], [1e10], [True]))
    assert best.amounts == pytest.approx([1e10 / 3], rel=1e-15) and best.amounts[0] % 1
