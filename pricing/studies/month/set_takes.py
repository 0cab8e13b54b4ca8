"""What one good set takes of the month: hours by whose they are, flasks, kiln loads, grams bought.

All of it is the engine's own: the steps of a piece and, through the sets of each, those of the pieces that are joined
to it.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from pricing.formulas.engine import Computed
from pricing.studies.month.own_and_overhead import overhead_carried, own_hours, own_pay

#: A flask: its alloy, its name, and by machine what share of a load one of it takes.
FlaskKind = tuple[str, str, tuple[tuple[str, float], ...]]
#: Metal: an alloy, and how it comes: `cast`, `cut` or `bought`.
MetalKind = tuple[str, str]
Kind = TypeVar("Kind")
#: Shares of a load that differ by less are the same: noise of the arithmetic.
DIGITS = 9


@dataclass(frozen=True)
class Taken:
    """By variant (rows) what one set takes, and with an order (variant and channel) what selling it takes besides.

    `roles` holds attended hours by role (the last axis, in the order of the resolved workshop's roles), `own_hours`
    those of the maker's own; `flasks` has a column for each kind in `flask_kinds`, `grams` for each in `metal_kinds`,
    which are fresh metal. `brings` is what a set leaves, in the workshop's currency, once all is paid that is spent on
    it alone: its profit, with hours of the maker's own and the month's overhead not yet taken off.
    """

    own_hours: np.ndarray
    roles: np.ndarray
    flasks: np.ndarray
    flask_kinds: tuple[FlaskKind, ...]
    grams: np.ndarray
    metal_kinds: tuple[MetalKind, ...]
    metal_prices: np.ndarray
    brings: np.ndarray


def taken(computed: Computed) -> Taken:
    """What every variant takes, in a run too."""
    resolved = computed.resolved
    flask_kinds, flasks = _by_kind(computed, lambda place: _flask(computed, place))
    metal_kinds, grams = _by_kind(computed, lambda place: _metal(computed, place))
    steps = _hours_by_role(computed)
    selling = np.zeros((*computed["order_hours"].shape, len(resolved.roles)))
    roles = [row.name for row in resolved.roles]
    for column, channel in enumerate(resolved.channels):
        if channel.role is not None:
            selling[:, column, roles.index(channel.role)] = computed["order_hours"][:, column]
    return Taken(
        own_hours=own_hours(computed),
        roles=with_parts(computed, steps)[:, None, :] + selling,
        flasks=flasks,
        flask_kinds=flask_kinds,
        grams=grams,
        metal_kinds=metal_kinds,
        metal_prices=np.array([_price(computed, *kind) for kind in metal_kinds]),
        brings=computed["profit"] + own_pay(computed) + overhead_carried(computed),
    )


def with_parts(computed: Computed, own: np.ndarray) -> np.ndarray:
    """By variant what it takes with all that is joined to it, of what each place (hidden ones too) takes itself."""
    count = len(computed.resolved.variants)
    whole = own[:count].copy()
    if computed.columns.sizes.get("part"):
        sets = computed.values["part_sets"][:count]
        pieces = computed.columns.keys["part", "piece"][:count]
        whole += np.einsum("vp,vpk->vk", np.where(pieces >= 0, sets, 0.0), own[pieces])
    return whole


def _hours_by_role(computed: Computed) -> np.ndarray:
    """Hours of its own steps, by place and role."""
    hours, role = computed.values["step_labour_hours"], computed.columns.keys["step", "role"]
    return np.stack(
        [np.where(role == each, hours, 0.0).sum(axis=1) for each in range(len(computed.resolved.roles))]
        or [np.zeros(len(hours))],
        axis=1,
    )


def _by_kind(
    computed: Computed, tell: Callable[[int], tuple[Kind, float] | None]
) -> tuple[tuple[Kind, ...], np.ndarray]:
    """The kinds that occur, and by variant how much of each it takes with what is joined to it."""
    told = ((place, tell(place)) for place in range(len(computed.resolved.all_variants)))
    found = {place: each for place, each in told if each is not None}
    kinds = tuple(dict.fromkeys(kind for kind, _ in found.values()))
    own = np.zeros((len(computed.values["fresh_g"]), len(kinds)))
    for place, (kind, amount) in found.items():
        own[place, kinds.index(kind)] = amount
    return kinds, with_parts(computed, own)


def _flask(computed: Computed, place: int) -> tuple[FlaskKind, float] | None:
    """What is poured of a piece itself: its kind of flask, with the loads that one of it takes, and how many."""
    variant, flasks = computed.resolved.all_variants[place], float(computed.values["flasks_per_set"][place])
    if not flasks or variant.flask is None:
        return None
    loads: dict[str, float] = {}
    for step, times, together in zip(
        variant.steps, computed.values["times"][place], computed.values["together"][place], strict=False
    ):
        if step.is_flask and together > 1 and step.machine is not None:
            loads[step.machine] = loads.get(step.machine, 0.0) + float(times) / flasks
    shares = tuple((machine, round(share, DIGITS)) for machine, share in loads.items())
    return (variant.alloy, variant.flask, shares), flasks


def _metal(computed: Computed, place: int) -> tuple[MetalKind, float] | None:
    variant, grams = computed.resolved.all_variants[place], float(computed.values["fresh_g"][place])
    return ((variant.alloy, variant.takes), grams) if grams else None


def _price(computed: Computed, alloy: str, takes: str) -> float:
    """What a gram of an alloy costs to buy in a form."""
    name = {"cast": "grain_price_per_g", "cut": "stock_price_per_g", "bought": "bought_price_per_g"}[takes]
    place = [row.name for row in computed.resolved.alloys].index(alloy)
    return float(computed[name][place])
