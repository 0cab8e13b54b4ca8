"""How many to make: exact chances against counting everything out, and against simulated pours."""

from __future__ import annotations

from itertools import product
from math import comb, sqrt

import numpy as np
import pytest

from pricing.errors import UsageFault
from pricing.pouring.chances import Chain, chance_of_enough, count_for, evenly, mean_count

#: Cases in which every one of the four fates can go wrong, and sets are of one, of two alike, of several kinds.
CASES = [
    (Chain(0.9, 0.8, 0.9, 0.95, (1,)), 3, 7, (3, 2)),
    (Chain(0.9, 0.7, 0.8, 0.9, (2,)), 2, 9, (4, 4)),
    (Chain(1.0, 0.85, 0.9, 0.8, (1, 2)), 2, 4, (2, 2)),
    (Chain(0.8, 1.0, 0.95, 1.0, (1, 1)), 2, 5, (3,)),
]


def binomial(number, chance):
    return [comb(number, good) * chance**good * (1 - chance) ** (number - good) for good in range(number + 1)]


def counted_out(chain, wanted, patterns, flasks):
    """The same chance by going through all that may happen, one fate after the other."""
    several = len(chain.kinds) > 1
    whole = 0.0
    for good in product(*[range(patterns * count + 1) for count in (chain.kinds if several else (1,))]):
        printed = 1.0
        for count, found in zip(chain.kinds if several else (1,), good, strict=True):
            printed *= binomial(patterns * count, chain.before)[found]
        arrived = min(*[found // count for count, found in zip(chain.kinds, good, strict=True)]) if several else good[0]
        trees = list(flasks)
        for _ in range(sum(flasks) - min(sum(flasks), arrived)):
            trees[trees.index(max(trees))] -= 1
        for come in product((0, 1), repeat=len(trees)):
            chance = printed * np.prod([chain.flask if each else 1 - chain.flask for each in come])
            units = sum(size for size, each in zip(trees, come, strict=True) if each)
            whole += chance * ended_good(chain, wanted, units)
    return whole


def ended_good(chain, wanted, units):
    several = len(chain.kinds) > 1
    castings = [units * count for count in chain.kinds] if several else [units]
    whole = 0.0
    for good in product(*[range(count + 1) for count in castings]):
        chance = np.prod([binomial(count, chain.after)[found] for count, found in zip(castings, good, strict=True)])
        sets = min(found // count for count, found in zip(chain.kinds, good, strict=True))
        whole += chance * sum(binomial(sets, chain.sets)[wanted:])
    return whole


@pytest.mark.parametrize(("chain", "wanted", "patterns", "flasks"), CASES)
def test_the_chance_is_that_of_everything_counted_out(chain, wanted, patterns, flasks):
    expected = counted_out(chain, wanted, patterns, flasks)
    assert chance_of_enough(chain, wanted, patterns, flasks) == pytest.approx(expected, abs=1e-12)


def test_one_flask_that_fails_takes_all_with_it():
    """Ten in one flask that comes out 9 times in 10: 0.9, however few are wanted. In two flasks: 1 - 0.1² = 0.99."""
    chain = Chain(1.0, 0.9, 1.0, 1.0, (1,))
    assert chance_of_enough(chain, 5, 10, (10,)) == pytest.approx(0.9, abs=1e-12)
    assert chance_of_enough(chain, 5, 10, (5, 5)) == pytest.approx(0.99, abs=1e-12)
    assert chance_of_enough(chain, 10, 10, (5, 5)) == pytest.approx(0.81, abs=1e-12)  # 0.9²: both must come


def simulated(chain, wanted, patterns, flasks, runs, seed):
    """How often so many pours end with enough, each fate drawn; a set's castings of one kind, or of none but one."""
    random = np.random.default_rng(seed)
    arrived = np.minimum(random.binomial(patterns, chain.before, runs), sum(flasks))
    trees = np.tile(np.array(flasks), (runs, 1))
    for _ in range(sum(flasks)):  # what is missing is left out where there is most
        over = trees.sum(axis=1) > arrived
        trees[over, trees[over].argmax(axis=1)] -= 1
    units = (trees * (random.random(trees.shape) < chain.flask)).sum(axis=1)
    sets = random.binomial(units, chain.after) // chain.per_set
    return float((random.binomial(sets, chain.sets) >= wanted).mean())


@pytest.mark.parametrize(
    ("chain", "wanted", "fits"),
    [
        (Chain(0.95, 0.93, 0.965, 0.98, (1,)), 12, 24),
        (Chain(0.96, 0.90, 0.95, 0.98, (2,)), 10, 18),
        (Chain(0.90, 0.98, 0.93, 0.99, (1,)), 60, 16),
    ],
)
def test_ninety_in_a_hundred_come_true(chain, wanted, fits):
    """Of 20,000 pours, flasks failing whole, within three standard errors of the exact chance; and no fewer do."""
    count = count_for(chain, wanted, 0.9, fits)
    runs = 20_000
    found = simulated(chain, wanted, count.patterns, count.flasks, runs, 7)
    assert abs(found - count.attained) < 3 * sqrt(count.attained * (1 - count.attained) / runs)
    assert found > 0.9 - 0.015 and count.attained >= 0.9
    places, flasks = sum(count.flasks), len(count.flasks)
    fewer = count.patterns - 1
    assert chance_of_enough(chain, wanted, fewer, evenly(min(fewer, flasks * fits), flasks)) < 0.9
    assert chance_of_enough(chain, wanted, count.patterns, evenly(places - 1, flasks)) < 0.9
    if flasks > 1:
        assert chance_of_enough(chain, wanted, 1000, evenly((flasks - 1) * fits, flasks - 1)) < 0.9


def test_a_flask_good_as_often_as_is_asked_for_is_never_enough_alone():
    """One flask comes to 0.9 only with endless waxes: so two, with one in each, and both bad with (1 - p)²."""
    count = count_for(Chain(0.94, 0.9, 0.965, 0.99, (1,)), 1, 0.9, 24)
    assert (count.patterns, count.flasks) == (2, (1, 1))
    assert count.attained == pytest.approx(1 - (1 - 0.94 * 0.9 * 0.965 * 0.99) ** 2)


def test_where_nothing_fails_as_many_are_made_as_wanted():
    count = count_for(Chain(1.0, 1.0, 1.0, 1.0, (2,)), 7, 0.999, 5)
    assert (count.patterns, count.on_trees, count.flasks, count.attained) == (14, 14, (5, 5, 4), 1.0)


def test_on_the_mean_it_is_the_cost_models_starts():
    """10 pairs at 1.25 starts are 25 castings, on the trees at 1.2 starts 24: three trees of at most 9."""
    count = mean_count(Chain(0.96, 0.9, 1.0, 1.0, (2,)), 10, 1.25, 1.2, 9)
    assert (count.patterns, count.on_trees, count.flasks) == (25, 24, (8, 8, 8))


def test_what_hardly_ever_comes_out_is_told():
    """The page has no options, so that the one that helps is named by the command alone."""
    with pytest.raises(UsageFault, match="take more than 6,000 castings") as told:
        count_for(Chain(1.0, 0.01, 0.01, 1.0, (1,)), 100, 0.9, 10)
    assert "--" not in str(told.value)
