"""What each input contributes to the spread of a result: Sobol indices, first order and total.

Two independent sets of quasi-random draws A and B, and for each group of inputs the set A with that group's columns
from B. The estimators are those of Saltelli and others (2010), Variance based sensitivity analysis of model output,
Computer Physics Communications 181, 259-270: for the first order S = mean(f(B) (f(AB) - f(A))) / V (their table 2,
formula b), for the total Jansen's ST = mean((f(A) - f(AB))^2) / 2V (formula f). Inputs that move together (metals and
exchange rates) are one group; inputs of different groups are independent.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

import numpy as np

#: The seed of every scrambled sequence: the same figures give the same answer, and two folders the same draws.
SEED = 20_100_201


class Indices(NamedTuple):
    """By group, and then as the result is shaped: the share of the variance that a group makes alone, and in all that
    it takes part in. Not a number where the result does not vary."""

    first: np.ndarray
    total: np.ndarray


def uniform(draws: int, dimensions: int, seed: int = SEED) -> np.ndarray:
    """Scrambled Sobol points in the open unit cube, by draw and dimension; `draws` must be a power of two."""
    from scipy.stats.qmc import Sobol

    points = Sobol(dimensions, scramble=True, rng=np.random.default_rng(seed)).random(draws)
    edge = 2.0**-32  # no distribution is asked for its very ends
    return np.asarray(np.clip(points, edge, 1 - edge))


def sobol_indices(
    result: Callable[[np.ndarray, int | None], np.ndarray],
    dimensions: int,
    groups: Sequence[Sequence[int]],
    draws: int,
    seed: int = SEED,
) -> Indices:
    """The indices of each group of inputs.

    `result` takes points of the unit cube, by draw and dimension, and gives its value by draw (and any further axes);
    `groups` name the dimensions of each group. It is asked for draws × (groups + 2) values: first for A, then for B,
    then for A with the columns of a group from B, whose place it is told beside the points (None for A and B).
    """
    both = uniform(draws, 2 * dimensions, seed)
    a, b = both[:, :dimensions], both[:, dimensions:]
    of_a, of_b = result(a, None), result(b, None)
    middle = (of_a.mean(axis=0) + of_b.mean(axis=0)) / 2
    of_a, of_b = of_a - middle, of_b - middle  # centred: the estimate of the first order is far less noisy then
    variance = (np.square(of_a) + np.square(of_b)).mean(axis=0) / 2
    least = np.square(np.maximum(np.abs(middle), 1.0) * 1e-12)
    variance = np.where(variance > least, variance, np.nan)
    first, total = [], []
    for place, group in enumerate(groups):
        mixed = a.copy()
        mixed[:, list(group)] = b[:, list(group)]
        of_mixed = result(mixed, place) - middle
        first.append((of_b * (of_mixed - of_a)).mean(axis=0) / variance)
        total.append(np.square(of_a - of_mixed).mean(axis=0) / 2 / variance)
    shape = (0, *np.shape(middle))
    return Indices(np.array(first) if first else np.empty(shape), np.array(total) if total else np.empty(shape))
