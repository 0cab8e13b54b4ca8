"""Shares a change out over what caused it, so that the shares add up to the whole.

Shapley values: each cause gets the mean, over all orders in which the causes could have come about, of what it
changed when it came. They add up to the whole whatever the function is, a cause that changes nothing gets nothing,
and a cause that came alone gets all. (L. S. Shapley, A Value for n-Person Games, 1953.)
"""

from __future__ import annotations

from collections.abc import Callable, Sequence, Set
from math import comb, floor
from typing import TypeVar

import numpy as np

Cause = TypeVar("Cause")

#: Up to so many causes all 2^n mixtures are computed; above, 2n orders stand for all n! of them.
MOST_WHOLLY = 10


def shares(causes: Sequence[Cause], value: Callable[[Set[Cause]], np.ndarray]) -> dict[Cause, np.ndarray]:
    """The share of each cause in value(all) - value(none), which is the sum of the shares.

    `value` gives an array for any set of causes. With more than MOST_WHOLLY causes the mean goes over 2n orders
    instead of all: every rotation of the order given, forwards and backwards. That adds up just as exactly, and each
    cause comes at every place in it twice.
    """
    if len(causes) <= MOST_WHOLLY:
        return _shapley(causes, value)
    return _rotated(causes, value)


def _shapley(causes: Sequence[Cause], value: Callable[[Set[Cause]], np.ndarray]) -> dict[Cause, np.ndarray]:
    count = len(causes)
    chosen = [[cause for place, cause in enumerate(causes) if number >> place & 1] for number in range(2**count)]
    values = [value(frozenset(each)) for each in chosen]
    found = {}
    for place, cause in enumerate(causes):
        share = np.zeros_like(values[0], dtype=float)
        for number, without in enumerate(values):
            if not number >> place & 1:
                weight = 1 / (count * comb(count - 1, number.bit_count()))
                share = share + weight * (values[number | 1 << place] - without)
        found[cause] = share
    return found


def _rotated(causes: Sequence[Cause], value: Callable[[Set[Cause]], np.ndarray]) -> dict[Cause, np.ndarray]:
    kept: dict[frozenset[Cause], np.ndarray] = {}

    def known(chosen: frozenset[Cause]) -> np.ndarray:
        if chosen not in kept:
            kept[chosen] = value(chosen)
        return kept[chosen]

    found = {cause: np.zeros_like(known(frozenset()), dtype=float) for cause in causes}
    for start in range(len(causes)):
        forwards = [*causes[start:], *causes[:start]]
        for order in (forwards, forwards[::-1]):
            come: frozenset[Cause] = frozenset()
            for cause in order:
                further = come | {cause}
                found[cause] = found[cause] + (known(further) - known(come)) / (2 * len(causes))
                come = further
    return found


def whole_units(parts: Sequence[float], whole: int, unit: float) -> list[int]:
    """Parts as whole numbers of `unit` that add up to `whole` of them: the largest remainders are rounded up.

    `parts` are amounts whose sum is within one unit of `whole` units; a part of nothing stays nothing.
    """
    exact = [part / unit for part in parts]
    shown = [floor(amount) if abs(amount) > 1e-9 else 0 for amount in exact]
    lacking = whole - sum(shown)
    movable = [place for place, amount in enumerate(exact) if abs(amount) > 1e-9]
    for place in sorted(movable, key=lambda place: (shown[place] - exact[place], place))[:lacking]:
        shown[place] += 1
    return shown
