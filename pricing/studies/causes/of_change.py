"""Why a unit cost, and an asked price, is not what it was: the change shared out over what changed in the workshop."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from pricing.formulas.engine import run
from pricing.formulas.graph import Graph, Quantity, cost_model
from pricing.formulas.rerun import following, part_of
from pricing.formulas.shared import Shared
from pricing.model.rows import Resolved
from pricing.records import COST_LINES
from pricing.studies.causes.groups import Group, Mixing
from pricing.studies.causes.pairing import Paired, paired
from pricing.studies.causes.sharing import shares

FORMULAS = Group("formulas")
NOTHING: Mapping[str, np.ndarray] = MappingProxyType({})
#: So many groups of parts are told apart. Each doubles the mixtures to be computed; what changes so many parts at once
#: is a step of a process that all pieces share, and named well enough by what it is.
MOST_OF_PARTS = 4


@dataclass(frozen=True)
class Causes:
    """Shares of each group in a change, by variant (sku, alloy); arrays have one place a variant.

    For prices they have one a variant and channel, the channels by their names in `channels`.
    """

    places: Mapping[tuple[str, str], int]
    channels: tuple[str, ...]
    before: np.ndarray
    after: np.ndarray
    shares: Mapping[Group, np.ndarray]


def causes_of_cost(
    before: Resolved, after: Resolved, published: Mapping[tuple[str, str], float] | None = None
) -> Causes:
    """Why unit costs changed from one workshop to another: as `cost_in_pair` tells of the two side by side."""
    return cost_in_pair(Mixtures(paired(before, after)), published)


def causes_of_price(before: Resolved, after: Resolved) -> Causes:
    """Why asked prices changed: as `price_in_pair` tells of the two side by side."""
    return price_in_pair(Mixtures(paired(before, after)))


def cost_in_pair(mixtures: Mixtures, published: Mapping[tuple[str, str], float] | None = None) -> Causes:
    """The change of the unit cost from one workshop to another, shared out.

    Shapley values add up over the lines of the cost, so each line (metal, labour, …) is shared out by itself, over
    the groups that it depends on. `published` are the unit costs as they were published; where formulas have
    changed since, the difference to what they give now is a share of its own.
    """
    mixing = mixtures.mixing("unit_cost")
    found: dict[Group, np.ndarray] = {}
    for line in COST_LINES:
        for group, share in _shared(mixtures.of(mixing, line)).items():
            found[group] = found.get(group, 0.0) + share
    return _causes(mixtures.of(mixing, "unit_cost"), found, published)


def price_in_pair(mixtures: Mixtures) -> Causes:
    """The change of the price that the policy asks, rounding and ladder included, shared out in the same way."""
    mixed = mixtures.of(mixtures.mixing("price"), "price")
    return _causes(mixed, _shared(mixed), None)


class Mixtures:
    """Two workshops to be mixed; what mixtures have in common is computed once, whatever quantity is asked of them.

    `after` are the figures of the second, where they are at hand: what differs nowhere is taken from them.
    """

    def __init__(self, pair: Paired, after: Mapping[str, np.ndarray] = NOTHING):
        self.pair, self.graph, self.shared, self.after = pair, cost_model(), Shared(), after
        self._apart, self._together = Mixing(pair), Mixing(pair, apart=False)

    def mixing(self, quantity: str) -> Mixing:
        """How they are mixed: parts told apart where few of them changed."""
        _, inputs, keys = _reached(self.graph, [quantity])
        of_parts = [group for group in self._apart.changed(inputs, keys) if group.is_of_a_part]
        return self._apart if len(of_parts) <= MOST_OF_PARTS else self._together

    def of(self, mixing: Mixing, quantity: str) -> Mixed:
        """What a quantity comes to in mixtures."""
        return Mixed(mixing, self.graph, quantity, self.shared, self.after)


class Mixed:
    """One quantity of variants in any mixture of two workshops. What follows from nothing that differs is run once."""

    def __init__(
        self, mixing: Mixing, graph: Graph, quantity: str, shared: Shared, after: Mapping[str, np.ndarray] = NOTHING
    ):
        self.mixing, self.quantity, self.shared = mixing, quantity, shared
        part, inputs, keys = _reached(graph, [quantity])
        self.changed = mixing.changed(inputs, keys)
        moved = _moved(part, *mixing.differing(inputs, keys))
        self.moving = part_of(part, [quantity], moved)
        self.inputs = inputs & set(self.moving.inputs)
        self.keys = _keys(self.moving)
        standing = ({quantity} | set(self.moving.inputs)) & set(part.quantities) - moved
        self.still = {name: after[name] for name in standing & set(after)}
        if lacking := standing - set(after):
            leading = part_of(part, lacking, set(part.quantities))
            self.still |= run(mixing.mixed(set(), inputs, keys), leading, lacking, shared=shared)

    def __call__(self, groups: Set[Group]) -> np.ndarray:
        """By variant, as it was before but for these groups."""
        columns = self.mixing.mixed(set(groups), self.inputs, self.keys)
        columns = replace(columns, inputs={**columns.inputs, **self.still})
        found = run(columns, self.moving, [self.quantity], shared=self.shared)[self.quantity]
        return found[: len(self.mixing.pair.variants)]


def _shared(mixed: Mixed) -> dict[Group, np.ndarray]:
    found: dict[Group, np.ndarray] = {}
    for group, share in shares(mixed.changed, mixed).items():
        for named, held in mixed.mixing.by_name(group, share):
            found[named] = found.get(named, 0.0) + held
    return found


def _moved(part: Graph, inputs: set[str], keys: set[tuple[str, str]]) -> set[str]:
    """The quantities that follow from these inputs, or from whither these keys lead."""
    led = {name for name, quantity in part.quantities.items() if keys & _keys_of(quantity)}
    return led | following(part, inputs | led)


def _reached(graph: Graph, wanted: Iterable[str]) -> tuple[Graph, set[str], set[tuple[str, str]]]:
    """The part of the graph that leads to some quantities, its inputs, and the keys that it follows."""
    part = part_of(graph, wanted, set(graph.quantities))
    return part, set(part.inputs), _keys(part)


def _keys(graph: Graph) -> set[tuple[str, str]]:
    """All keys that its quantities follow."""
    return set[tuple[str, str]]().union(*map(_keys_of, graph.quantities.values()))


def _keys_of(quantity: Quantity) -> set[tuple[str, str]]:
    paths = [need.path for need in quantity.needs]
    leading = {(quantity.table, path.prefix) for path in paths if path.prefix and path.prefix != "other"}
    return leading | {key for path in paths for key in path.keys}


def _causes(mixed: Mixed, found: dict[Group, np.ndarray], published: Mapping[tuple[str, str], float] | None) -> Causes:
    pair = mixed.mixing.pair
    before, after = mixed(set()), mixed(set(mixed.changed))
    if published is not None:
        told = np.array([published[name] for name in pair.variants])
        if np.any(np.abs(before - told) > 1e-9 * np.maximum(1, np.abs(told))):
            found[FORMULAS] = before - told
            before = told
    channels = tuple(channel.name for channel in pair.resolved.channels)
    return Causes({name: place for place, name in enumerate(pair.variants)}, channels, before, after, found)
