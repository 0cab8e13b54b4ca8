"""Fewest flasks for what is to be poured, and fewest kiln loads for the flasks: a packing with whole pieces.

Both are the same question. Things of several kinds, so many of each, go into bins; one of a kind takes its share of
every room a bin has (places on the tree, volume, metal), and no more than so many of a kind may be in one bin. First
fit decreasing gives a packing; where it takes more bins than the rooms ask at least, other orders are tried, and
HiGHS looks for a better one and says how few it could be at best.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from random import Random

import numpy as np

#: What sums of shares may be over the whole by, in float64 and in HiGHS.
HAIR, SOLVER_HAIR = 1e-9, 1e-6
#: A model with more whole numbers than this is not given to HiGHS.
MOST_WHOLE_NUMBERS = 20_000
#: So many other orders are tried where the largest first is not proved best.
ORDERS = 20


@dataclass(frozen=True)
class Packed:
    """Bins, each the number of every kind in it; `least` is what is proved to be needed, `by` how it was found."""

    bins: tuple[tuple[int, ...], ...]
    least: int
    by: str

    @property
    def gap(self) -> float:
        """How far it may be above the best, as a share of it; 0 is proved best."""
        return (len(self.bins) - self.least) / len(self.bins) if self.bins else 0.0


ROOM, HIGHS, FIRST_FIT = "the room that they take", "HiGHS", "first fit decreasing"


def fewest_bins(counts: Sequence[int], shares: np.ndarray, caps: Sequence[int], seconds: float = 5.0) -> Packed:
    """The fewest bins for `counts` of each kind; `shares[kind, room]` is what one takes of each room of a bin.

    At most `caps` of a kind go into one bin. Raises ValueError for a kind of which not one fits.
    """
    shares = np.asarray(shares, float).reshape(len(counts), -1)
    fit = [
        min(cap, count, int(_fits(np.zeros((1, shares.shape[1])), share)[0]))
        for cap, count, share in zip(caps, counts, shares, strict=True)
    ]
    for kind, (count, most) in enumerate(zip(counts, fit, strict=True)):
        if count and not most:
            raise ValueError(f"not one of kind {kind} fits")
    least = least_bins(counts, shares, fit)
    packed = first_fit(counts, shares, fit, _largest_first(shares))
    if len(packed) > least and seconds > 0:
        packed = min((packed, *_other_orders(counts, shares, fit, least)), key=len)
    if len(packed) <= least:
        return Packed(packed, least, ROOM)
    if seconds <= 0 or len(counts) * len(packed) > MOST_WHOLE_NUMBERS:
        return Packed(packed, least, FIRST_FIT)
    return _by_highs(counts, shares, fit, packed, least, seconds)


def _largest_first(shares: np.ndarray) -> list[int]:
    return sorted(range(len(shares)), key=lambda kind: (-float(shares[kind].max(initial=0.0)), kind))


def _other_orders(
    counts: Sequence[int], shares: np.ndarray, fit: Sequence[int], least: int
) -> Iterator[tuple[tuple[int, ...], ...]]:
    """First fit in other orders: by each room, then nearly by size, until one is proved best; the same each time."""
    random = Random(len(counts))
    for room in range(shares.shape[1]):
        yield first_fit(counts, shares, fit, sorted(range(len(counts)), key=lambda kind: -float(shares[kind, room])))
    size = shares.max(axis=1)
    for _ in range(ORDERS):
        sizes = [float(each) * random.uniform(0.6, 1.4) for each in size]
        packed = first_fit(counts, shares, fit, sorted(range(len(counts)), key=lambda kind: -sizes[kind]))
        yield packed
        if len(packed) <= least:
            return


def least_bins(counts: Sequence[int], shares: np.ndarray, fit: Sequence[int]) -> int:
    """What is needed at least: by each room alone, and by the kind that may be least in one bin."""
    rooms = np.asarray(counts, float) @ shares
    by_kind = [-(-count // most) for count, most in zip(counts, fit, strict=True) if count]
    return max([0, *by_kind, *(int(np.ceil(room - SOLVER_HAIR)) for room in rooms)])


def first_fit(
    counts: Sequence[int], shares: np.ndarray, fit: Sequence[int], order: Sequence[int]
) -> tuple[tuple[int, ...], ...]:
    """Kind by kind in this order, each into the first bin that has room for it."""
    held = np.zeros((0, len(counts)), int)
    used = np.zeros((0, shares.shape[1]))
    for kind in order:
        left, share = counts[kind], shares[kind]
        room = np.minimum(_fits(used, share), fit[kind])
        before = np.concatenate([[0], np.cumsum(room)[:-1]]) if len(room) else room
        put = np.clip(left - before, 0, room)
        held[:, kind] += put
        used += put[:, None] * share
        left -= int(put.sum())
        if left:
            more = -(-left // fit[kind])
            new = np.zeros((more, len(counts)), int)
            new[:, kind] = fit[kind]
            new[-1, kind] = left - (more - 1) * fit[kind]
            held = np.concatenate([held, new])
            used = np.concatenate([used, new[:, kind, None] * share])
    return tuple(tuple(int(each) for each in row) for row in held)


def _fits(used: np.ndarray, share: np.ndarray) -> np.ndarray:
    """How many more of a kind go into each of some bins."""
    takes = share > 0
    if not takes.any():
        return np.full(len(used), 10**9)
    room = np.floor(((1 - used[:, takes]) / share[takes]).min(axis=1) + HAIR)
    return np.asarray(np.maximum(0, room), int)


def _by_highs(
    counts: Sequence[int],
    shares: np.ndarray,
    fit: Sequence[int],
    packed: tuple[tuple[int, ...], ...],
    least: int,
    seconds: float,
) -> Packed:
    from scipy.optimize import Bounds, LinearConstraint, milp
    from scipy.sparse import coo_array

    kinds, bins = len(counts), len(packed)
    opened = kinds * bins  # numbers of kind k in bin b stand at k * bins + b, behind them whether a bin is opened
    rows: list[int] = []
    columns: list[int] = []
    values: list[float] = []
    low: list[float] = []
    high: list[float] = []

    def rule(terms: Sequence[tuple[int, float]], from_: float, to: float) -> None:
        for column, value in terms:
            rows.append(len(low))
            columns.append(column)
            values.append(value)
        low.append(from_)
        high.append(to)

    for kind in range(kinds):
        rule([(kind * bins + place, 1.0) for place in range(bins)], counts[kind], counts[kind])
        for place in range(bins):
            rule([(kind * bins + place, 1.0), (opened + place, -float(fit[kind]))], -np.inf, 0)
    for place in range(bins):
        for room in range(shares.shape[1]):
            held = [(kind * bins + place, float(shares[kind, room])) for kind in range(kinds)]
            rule([*held, (opened + place, -1.0)], -np.inf, 0)
        if place:
            rule([(opened + place - 1, 1.0), (opened + place, -1.0)], 0, np.inf)
    rule([(opened + place, 1.0) for place in range(bins)], least, bins)
    size = opened + bins
    most = np.concatenate([np.repeat(np.asarray(fit, float), bins), np.ones(bins)])
    found = milp(
        np.concatenate([np.zeros(opened), np.ones(bins)]),
        integrality=np.ones(size),
        bounds=Bounds(np.zeros(size), most),
        constraints=LinearConstraint(coo_array((values, (rows, columns)), shape=(len(low), size)).tocsr(), low, high),
        options={"time_limit": seconds},
    )
    bound = found.mip_dual_bound
    if bound is not None and np.isfinite(bound):
        least = max(least, int(np.ceil(bound - SOLVER_HAIR)))
    if found.x is None:
        return Packed(packed, least, FIRST_FIT)
    whole = np.rint(found.x[:opened]).astype(int).reshape(kinds, bins).T
    better = tuple(tuple(int(each) for each in held) for held in whole if held.any())
    if len(better) < len(packed) and _holds(better, counts, shares, fit):
        return Packed(better, least, HIGHS)
    return Packed(packed, least, HIGHS if len(packed) == least else FIRST_FIT)


def _holds(bins: Sequence[Sequence[int]], counts: Sequence[int], shares: np.ndarray, fit: Sequence[int]) -> bool:
    """Whether a packing is one: everything in it, nothing overfull."""
    held = np.asarray(bins)
    return bool(
        (held.sum(axis=0) == np.asarray(counts)).all()
        and (held <= np.asarray(fit)).all()
        and (held @ shares <= 1 + SOLVER_HAIR).all()
    )
