"""What is kept of figures that pass by in blocks, so that they need not be held all at once.

A block has its rows (worlds, or variants of a file) along the first axis; each place of the others is summarized by
itself. What is no number is left out. Counts of two halves add up to those of the whole, in any order.
"""

from __future__ import annotations

import numpy as np

#: Binary digits of a figure that tell its bin: a bin is at most 1/1024 of what lies in it wide.
DIGITS = 10
_SHIFT = 52 - DIGITS
#: Binary digits of a bin's number with its sign, and the least of them.
_BIN_DIGITS, _LEAST_BIN = 64 - _SHIFT, -(2 ** (63 - _SHIFT))


def under(block: np.ndarray, limit: float | np.ndarray) -> np.ndarray:
    """How many figures of a block lie under a limit, by place; counts of blocks add up. What is no number is not."""
    with np.errstate(invalid="ignore"):
        return np.asarray((block < limit).sum(axis=0))


class Bins:
    """How many figures lie in each of many narrow bins, by place: enough for any quantile.

    Bins are given once for all numbers (sign, power of two and `DIGITS` binary digits), so that nobody need know what
    will come, and counts of any blocks add up. They take room for the bins that anything lies in, however many figures
    pass by.
    """

    def __init__(self, shape: tuple[int, ...] = ()):
        self.shape = shape
        self.keys = np.zeros((0, 2), dtype=np.int64)  # place and bin, sorted
        self.counts = np.zeros(0, dtype=np.int64)

    def add(self, block: np.ndarray) -> None:
        """Count the figures of a block."""
        places = np.broadcast_to(np.arange(int(np.prod(self.shape))).reshape(self.shape), block.shape)
        self.add_at(places.ravel(), block.ravel())

    def add_at(self, places: np.ndarray, figures: np.ndarray) -> None:
        """Count figures one by one, each at its place (a number from 0, the last axis the fastest)."""
        known = ~np.isnan(figures)
        bins = _bin_of(figures[known])
        found, counts = np.unique((places[known] << _BIN_DIGITS) + (bins - _LEAST_BIN), return_counts=True)
        keys = np.column_stack([found >> _BIN_DIGITS, (found & (2**_BIN_DIGITS - 1)) + _LEAST_BIN])
        self._put(keys, counts)

    def merge(self, other: Bins) -> None:
        """Count what another has counted, too. Raises ValueError where its places are others."""
        if other.shape != self.shape:
            raise ValueError(f"bins of {self.shape} and of {other.shape} places")
        self._put(other.keys, other.counts)

    def _put(self, keys: np.ndarray, counts: np.ndarray) -> None:
        keys, counts = np.concatenate([self.keys, keys]), np.concatenate([self.counts, counts])
        order = np.lexsort((keys[:, 1], keys[:, 0]))
        keys, counts = keys[order], counts[order]
        first = np.flatnonzero(np.append(True, (keys[1:] != keys[:-1]).any(axis=1))[: len(keys)])
        self.keys, self.counts = keys[first], np.add.reduceat(counts, first) if len(first) else counts

    def quantile(self, share: float) -> np.ndarray:
        """The figure that this share of the others does not exceed, by place; NaN of none.

        It lies in the bin of the figure in that place of the order (of `n`, number `share × (n - 1)` from 0, rounded
        down), hence within 1/1024 of it; 0 is told as 0.
        """
        found = np.full(int(np.prod(self.shape)), np.nan)
        ends = np.searchsorted(self.keys[:, 0], np.arange(len(found) + 1))
        for place in np.flatnonzero(np.diff(ends)).tolist():
            bins, counts = self.keys[ends[place] : ends[place + 1], 1], self.counts[ends[place] : ends[place + 1]]
            passed = np.cumsum(counts)
            number = int(share * (int(passed[-1]) - 1))
            at = int(np.searchsorted(passed, number, side="right"))
            low, high = _figure_of(bins[at : at + 1])[0], _figure_of(bins[at : at + 1] + 1)[0]
            within = (number - (passed[at] - counts[at]) + 0.5) / counts[at]
            whole = low == 0 or not np.isfinite([low, high]).all()
            found[place] = low + (high - low) * within if not whole else -np.inf if np.isnan(low) else low
        return found.reshape(self.shape)


def _bin_of(figures: np.ndarray) -> np.ndarray:
    """Bins in the order of the figures: the bits of a number stand in its order, those below zero turned round."""
    bits = (np.asarray(figures, dtype=float) + 0.0).view(np.int64)  # -0 becomes 0
    return np.asarray((bits ^ ((bits >> 63) & np.int64(2**63 - 1))) >> _SHIFT)


def _figure_of(bins: np.ndarray) -> np.ndarray:
    """Where bins begin."""
    turned = bins << _SHIFT
    return np.asarray((turned ^ ((turned >> 63) & np.int64(2**63 - 1))).view(np.float64))
