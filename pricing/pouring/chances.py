"""How many to make so that enough come out good, exactly: flasks that fail take all that is in them.

A chain of steps is read as these independent fates. Each pattern is good before the tree with the chance `before`;
each flask as a whole comes out with the chance `flask`, or nothing of it does; each piece out of it passes the rest
with the chance `after`; each set that is put together passes with the chance `sets`. These are the fractions good of
the steps, multiplied for each kind of step: so the means are those of the cost model's `starts`. (A step per set
before the tree counts with `before`; the order of the others changes nothing, for a piece passes when it passes all.)

What is counted are *units*: castings where a set has one kind of them (a pair has two alike, and any two make one);
whole sets where it has several kinds, each set on one tree.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, MutableMapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike

from pricing.errors import UsageFault
from pricing.extras import missing


class TooMany(UsageFault):
    """Enough good ones would take more castings than anybody makes at once."""


#: Who needs more units than so many for one want asks for something that does not come out.
MOST_UNITS = 6_000
#: A chance below this is none.
NEVER = 1e-14
#: More patterns than these make no chance larger.
ENDLESS = 10**8


@dataclass(frozen=True)
class Chain:
    """The chances of a design, and how many castings of each kind are in a set of it."""

    before: float
    flask: float
    after: float
    sets: float
    kinds: tuple[int, ...]

    @property
    def per_set(self) -> int:
        """Units that make one set."""
        return self.kinds[0] if len(self.kinds) == 1 else 1

    @property
    def castings(self) -> int:
        """Castings in one unit."""
        return 1 if len(self.kinds) == 1 else sum(self.kinds)


@dataclass(frozen=True)
class Count:
    """How many units to begin, how many of them have a place on the trees, and how those are spread over flasks."""

    patterns: int
    on_trees: int
    flasks: tuple[int, ...]
    attained: float


def at_least(wanted: ArrayLike, tried: ArrayLike, chance: float) -> np.ndarray:
    """The chance that of so many tried at least so many are good, each by itself with the same chance."""
    try:
        from scipy.special import bdtrc
    except ImportError:
        raise missing("A pour plan", "scipy", "studies") from None
    wanted, tried = np.broadcast_arrays(np.asarray(wanted, int), np.asarray(tried, int))
    sure = np.where(wanted <= tried, 1.0, 0.0)
    if chance >= 1:
        return sure
    some = (wanted > 0) & (wanted <= tried)
    return np.where(some, bdtrc(np.where(some, wanted - 1, 0), np.where(some, tried, 1), chance), sure)


def enough_of(chain: Chain, wanted: int, most: int, units: np.ndarray | None = None) -> np.ndarray:
    """For `units` that come out of the flasks (0 … `most`): the chance that `wanted` sets or more end good."""
    units = np.arange(most + 1) if units is None else units
    sets = np.arange(wanted, most // chain.per_set + 1)  # fewer never do
    if not len(sets):
        return np.zeros(len(units))
    end_good = at_least(wanted, sets, chain.sets)
    more = np.diff(end_good, prepend=0.0)
    made = np.ones((len(units), len(sets)))
    for count in chain.kinds:
        castings = units if len(chain.kinds) == 1 else units * count
        made *= at_least(sets[None, :] * count, castings[:, None], chain.after)
    return np.asarray(made @ more)


@lru_cache(maxsize=4096)
def chance_of_enough(chain: Chain, wanted: int, patterns: int, flasks: tuple[int, ...]) -> float:
    """The chance that at least `wanted` sets end good of so many patterns, put on these trees.

    `flasks` are the units for which each flask has a place. Where fewer patterns are good than there are places, each
    one missing is left out where there are most.
    """
    enough = enough_of(chain, wanted, sum(flasks))
    return _chance(chain, patterns, flasks, enough, {})


def _chance(
    chain: Chain, patterns: int, flasks: Sequence[int], enough: np.ndarray, known: MutableMapping[int, float]
) -> float:
    """The same; `known` holds what was found already of so many units on the trees, and more is put into it."""
    arrived = _arrived(chain, patterns, sum(flasks))
    there, chance = Counter(flasks), 0.0
    least = int(np.argmax(arrived > NEVER))  # so few, or fewer, are hardly ever on the trees
    for units in range(sum(flasks), least - 1, -1):
        if arrived[units] > NEVER:
            if units not in known:
                out, chances = _out_of(there, chain.flask)
                known[units] = float(chances @ enough[out])
            chance += float(arrived[units]) * known[units]
        if units:
            fullest = max(size for size, count in there.items() if count)
            there[fullest] -= 1
            there[fullest - 1] += 1
    return chance


def _arrived(chain: Chain, patterns: int, places: int) -> np.ndarray:
    """The chances that 0 … `places` units are on the trees; what is more than there are places is left over."""
    units = np.arange(places + 1)
    tails = np.ones(places + 1)
    for count in chain.kinds if len(chain.kinds) > 1 else (1,):
        tails *= at_least(units * count, np.full(places + 1, patterns * count), chain.before)
    return np.asarray(tails - np.append(tails[1:], 0.0))


def _out_of(flasks: Mapping[int, int], chance: float) -> tuple[np.ndarray, np.ndarray]:
    """Units that come out of flasks, of each size so many, and the chances of it."""
    units, chances = np.array([0]), np.array([1.0])
    for size, count in flasks.items():
        if not (size and count):
            continue
        good = np.arange(count + 1)
        tails = at_least(good, np.full(count + 1, count), chance)
        units = np.add.outer(units, size * good).ravel()
        chances = np.multiply.outer(chances, tails - np.append(tails[1:], 0.0)).ravel()
        if len(units) > units.max() + 1:
            chances = np.bincount(units, chances)
            units = np.arange(len(chances))
    return units, chances


def evenly(units: int, flasks: int) -> tuple[int, ...]:
    """So many units spread over so many flasks, the fuller ones first."""
    each, over = divmod(units, flasks)
    return tuple(each + (place < over) for place in range(flasks))


def count_for(chain: Chain, wanted: int, sure: float, fits: int) -> Count:
    """Fewest flasks of at most `fits` units, then fewest patterns, then fewest places on the trees.

    At least `wanted` sets then end good with the chance `sure`, spread evenly over the flasks. Raises TooMany where
    more would be needed than anybody makes.
    """
    least = wanted * chain.per_set
    by_mean = sure * least / (fits * chain.flask * chain.after * chain.sets)  # Markov: the mean is no less than this
    few = many = max(-(-least // fits), min(int(by_mean), MOST_UNITS // fits + 1))
    while many * fits > MOST_UNITS or _full(chain, wanted, many, fits) < sure:
        few, many = many + 1, many + max(1, many // 4)
        if few * fits > MOST_UNITS:
            raise TooMany(
                f"{wanted} good ones with a chance of {sure:.0%} take more than {MOST_UNITS:,} castings. "
                "Ask for fewer at once, or plan by the mean alone; see the fractions good of its steps too."
            )
    flasks = _least(lambda count: _full(chain, wanted, count, fits) >= sure, few, many)
    while (found := _count_on(chain, wanted, sure, fits, flasks)) is None:
        flasks += 1
    return found


def _count_on(chain: Chain, wanted: int, sure: float, fits: int, flasks: int) -> Count | None:
    """Fewest patterns, then fewest places, on so many flasks; None where no number of patterns is enough.

    Full trees may come to `sure` itself, as where a flask is good as often as is asked for: short of endless patterns
    something is missing from it.
    """
    full, least = flasks * fits, wanted * chain.per_set
    enough = enough_of(chain, wanted, full)

    known: dict[int, float] = {}  # one for all, since even trees stay even when one is left out of the fullest

    def chance(patterns: int, places: int) -> float:
        return _chance(chain, patterns, evenly(places, flasks), enough, known)

    many = full
    while chance(many, full) < sure:
        many *= 2
        if many > ENDLESS:
            return None
    patterns = _least(lambda count: chance(count, min(count, full)) >= sure, least, many)
    places = _least(lambda count: chance(patterns, count) >= sure, 1, min(patterns, full))
    spread = tuple(size for size in evenly(places, flasks) if size)
    return Count(patterns, places, spread, chance(patterns, places))


def _full(chain: Chain, wanted: int, flasks: int, fits: int) -> float:
    """The chance of enough out of so many full trees."""
    units, chances = _out_of({fits: flasks}, chain.flask)
    come = chances > NEVER
    return float(chances[come] @ enough_of(chain, wanted, flasks * fits, units[come]))


def mean_count(chain: Chain, wanted: int, first_starts: float, tree_starts: float, fits: int) -> Count:
    """The count that gives so many on the mean: the cost model's `starts` of the first step and of the tree, whole."""
    patterns, places = (int(np.ceil(wanted * chain.per_set * starts - 1e-9)) for starts in (first_starts, tree_starts))
    spread = evenly(places, -(-places // fits))
    patterns = max(patterns, places)
    attained = chance_of_enough(chain, wanted, patterns, spread) if places <= MOST_UNITS else np.nan
    return Count(patterns, places, spread, attained)


def _least(enough: Callable[[int], bool], low: int, high: int) -> int:
    """The least whole number from `low` to `high` for which a condition holds that holds for all above it too."""
    while low < high:
        middle = (low + high) // 2
        if enough(middle):
            high = middle
        else:
            low = middle + 1
    return low
