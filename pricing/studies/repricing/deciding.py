"""The maker's repricing policy on arrays: whether each price in force is held or moved, where to, and for what reason.

The same decision is taken for the prices of today and, thousands of times over, in the back-test.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pricing.formulas.by_itself import by_itself
from pricing.formulas.engine import Computed
from pricing.model.channel import Channel

#: What decides, by the numbers that `decide` gives.
REASONS = (
    "same", "within", "waits", "too_coarse", "asks_less", "policy", "beyond", "below_least", "fixed", "one_price",
)  # fmt: skip
SAME, WITHIN, WAITS, TOO_COARSE, ASKS_LESS, POLICY, BEYOND, BELOW_LEAST, FIXED, ONE_PRICE = range(len(REASONS))
#: Those that move a price, the weightiest last.
MOVING = (POLICY, BEYOND, BELOW_LEAST, FIXED)
#: Below this a difference of two prices, or of two margins, is noise of the arithmetic.
PRICE_NOISE, MARGIN_NOISE = 1e-9, 1e-12


@dataclass(frozen=True)
class Terms:
    """Repricing policies as arrays of one shape; where a channel states none, every difference is a change."""

    stated: np.ndarray
    keep_within: np.ndarray
    falling: np.ndarray
    least_margin: np.ndarray
    largest_step: np.ndarray
    days_between: np.ndarray


#: What stands in `Terms` where a channel states nothing of it: any difference is a change, of any size, at any time.
UNSTATED: Mapping[str, float] = MappingProxyType(
    {
        "keep_within": -math.inf,
        "falling": -math.inf,
        "least_margin": -math.inf,
        "largest_step": math.inf,
        "days_between": 0.0,
    }
)


def terms_of(channels: Iterable[Channel]) -> Terms:
    """The terms of some channels, in their order."""
    rows = []
    for channel in channels:
        own = channel.reprice
        if own is None:
            rows.append((False, *UNSTATED.values()))
            continue
        said = {**own.model_dump(), "falling": own.keep_within if own.falling is None else own.falling}
        rows.append((True, *(open_ if said[name] is None else said[name] for name, open_ in UNSTATED.items())))
    stated, *figures = (np.array(column) for column in zip(*rows, strict=True)) if rows else [np.zeros(0)] * 6
    return Terms(stated.astype(bool), *[column.astype(float) for column in figures])


@dataclass(frozen=True)
class Grid:
    """The prices that rounding allows, for amounts whose last axis is the channel."""

    ending: np.ndarray
    applies_below_stated: np.ndarray
    applies_below: np.ndarray
    step_position: np.ndarray
    step_size: np.ndarray
    step_for: Callable[..., np.ndarray]
    lifted: Callable[..., np.ndarray]

    @classmethod
    def of(cls, computed: Computed, channels: np.ndarray | None = None) -> Grid:
        """The grids of all channels, or of these channels by their places."""
        chosen = slice(None) if channels is None else channels
        names = ("ending", "applies_below_stated", "applies_below", "step_position", "step_size")
        ending, below_stated, below, position, size = (computed[name][chosen] for name in names)
        step_for, lifted = (by_itself(name, computed.graph) for name in ("target_step", "laddered_price"))
        return cls(ending, below_stated, below, position, size, step_for, lifted)

    def take(self, rows: np.ndarray) -> Grid:
        """The grids of some rows, in their order."""
        return Grid(
            self.ending[rows],
            self.applies_below_stated[rows],
            self.applies_below[rows],
            self.step_position[rows],
            self.step_size[rows],
            self.step_for,
            self.lifted,
        )

    def step(self, amount: np.ndarray) -> np.ndarray:
        """The rounding step for an amount."""
        return self.step_for(
            target_price=amount,
            applies_below_stated=self.applies_below_stated,
            applies_below=self.applies_below,
            step_position=self.step_position,
            step_size=self.step_size,
        )

    def _up(self, amount: np.ndarray, step: np.ndarray, ending: np.ndarray) -> np.ndarray:
        """The first price of the grid that is not below an amount, as the keystone lifts one."""
        return self.lifted(
            is_lifted_by_keystone=True, keystone_price=amount, keystone_step=step, ending=ending, rounded_price=amount
        )

    def _down(self, amount: np.ndarray, step: np.ndarray) -> np.ndarray:
        """The last price of the grid that is not above an amount: what is rounded up on the grid turned over."""
        return -self._up(-amount, step, -self.ending)

    def towards(self, limit: np.ndarray, raising: np.ndarray) -> np.ndarray:
        """The last price of the grid on the way to a limit, from below where it is a raise, else from above."""
        step = self.step(limit)
        return np.where(raising, self._down(limit, step), self._up(limit, step, self.ending))

    def next_above(self, price: np.ndarray) -> np.ndarray:
        """The next price of the grid above one."""
        step = self.step(price)
        above: np.ndarray = self._down(price, step) + step
        return above


@dataclass(frozen=True)
class Decision:
    """Where each price goes (the price in force where it is held) and the reason, a place in REASONS.

    `could` is where each would go if it moved, within its channel's largest step.
    """

    to: np.ndarray
    reason: np.ndarray
    could: np.ndarray


def decide(
    held: np.ndarray,
    asked: np.ndarray,
    earned: np.ndarray,
    would_earn: np.ndarray,
    days: np.ndarray,
    fixed: np.ndarray,
    terms: Terms,
    grid: Grid,
) -> Decision:
    """Hold or move each price.

    `held` is the price in force and `earned` the margin that it earns now; `asked` is the price that the policy
    asks now and `would_earn` its margin; `days` have passed since the last change; `fixed` prices are the maker's
    own word and are taken at once. All arrays have one shape, with that of the terms and the channels on the last axis.
    """
    raising = asked > held
    gap = np.where(raising, would_earn - earned, earned - would_earn)
    within = gap <= np.where(raising, terms.keep_within, terms.falling) + MARGIN_NOISE
    under = earned < terms.least_margin - MARGIN_NOISE
    with np.errstate(invalid="ignore"):  # nothing times no limit
        limit = held * np.where(raising, 1 + terms.largest_step, 1 - np.minimum(1, terms.largest_step))
    beyond_limit = np.where(raising, asked > limit + PRICE_NOISE, asked < limit - PRICE_NOISE) & ~fixed
    bounded = asked
    if beyond_limit.any():
        bounded = np.where(beyond_limit, grid.towards(np.where(beyond_limit, limit, asked), raising), asked)
    stuck = np.where(raising, bounded <= held + PRICE_NOISE, bounded >= held - PRICE_NOISE)
    lifted = bounded
    if (stuck & under).any():
        lifted = np.where(stuck & under, np.minimum(asked, grid.next_above(held)), bounded)
    reason = _first_that_holds(
        [
            np.abs(asked - held) <= PRICE_NOISE,
            fixed,
            ~terms.stated & np.ones_like(raising),
            under & ~raising,
            under,
            within,
            days < terms.days_between,
            stuck,
        ],
        [SAME, FIXED, POLICY, ASKS_LESS, BELOW_LEAST, WITHIN, WAITS, TOO_COARSE],
        BEYOND,
    )
    return Decision(np.where(_moves(reason), lifted, held), reason, lifted)


def _first_that_holds(conditions: Sequence[np.ndarray], reasons: Sequence[int], otherwise: int) -> np.ndarray:
    """The reason of the first condition that holds, as `np.select` finds it, in a third of its time on few prices."""
    found = np.asarray(otherwise)
    for condition, reason in zip(reversed(conditions), reversed(reasons), strict=True):
        found = np.where(condition, reason, found)
    return found


def _moves(reason: np.ndarray) -> np.ndarray:
    """Whether reasons are such as move a price."""
    moving: np.ndarray = np.logical_or.reduce([reason == each for each in MOVING])
    return moving


def as_one_price(
    found: Decision, held: np.ndarray, asked: np.ndarray, bound: np.ndarray, stated: np.ndarray
) -> tuple[Decision, np.ndarray]:
    """The decision where the prices that are `bound`, the retail prices of a row, are one price and one decision.

    It moves when a channel that states rules (`stated`) has a reason of its own to move; channels that follow, or
    state none, have the reason `one_price`. It goes no further than the largest step of each channel that states one.
    Where no bound channel states rules each follows its policy. Returns it with the place of the channel that decides,
    by (row, channel), -1 where a channel decides for itself. Arrays are by (row, channel).
    """
    ruled = bound & stated
    ruled = np.where(ruled.any(axis=1, keepdims=True), ruled, bound)
    weight = np.where(ruled & _moves(found.reason), found.reason + 1, 0)
    leader = np.where(weight.any(axis=1), weight.argmax(axis=1), ruled.argmax(axis=1))[:, None]
    moves = weight.any(axis=1, keepdims=True)
    own = np.take_along_axis(found.to, leader, axis=1)
    raising = np.take_along_axis(asked > held, leader, axis=1)
    nearest = np.where(
        raising,
        np.where(ruled, found.could, math.inf).min(axis=1, keepdims=True),
        np.where(ruled, found.could, -math.inf).max(axis=1, keepdims=True),
    )
    before = np.take_along_axis(held, leader, axis=1)
    on_the_way = np.where(raising, nearest > before + PRICE_NOISE, nearest < before - PRICE_NOISE)
    to = np.where(on_the_way, nearest, own)
    goes_along = bound & np.where(moves, ~_moves(found.reason) | ~ruled, ~ruled)
    reason = np.where(goes_along, ONE_PRICE, found.reason)
    decided = Decision(np.where(bound, np.where(moves, to, held), found.to), reason, found.could)
    return decided, np.where(goes_along, leader, -1)
