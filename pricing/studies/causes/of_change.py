"""Why a unit cost, and an asked price, is not what it was: the change shared out over what changed in the workshop."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import dataclass

import numpy as np

from pricing.formulas.engine import run
from pricing.formulas.graph import Graph, cost_model
from pricing.formulas.rerun import part_of
from pricing.formulas.shared import Shared
from pricing.model.rows import Resolved
from pricing.records import COST_LINES
from pricing.studies.causes.groups import Group, Mixing
from pricing.studies.causes.pairing import Paired, paired
from pricing.studies.causes.sharing import shares

FORMULAS = Group("formulas")
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
    return cost_in_pair(paired(before, after), published)


def causes_of_price(before: Resolved, after: Resolved) -> Causes:
    """Why asked prices changed: as `price_in_pair` tells of the two side by side."""
    return price_in_pair(paired(before, after))


def cost_in_pair(pair: Paired, published: Mapping[tuple[str, str], float] | None = None) -> Causes:
    """The change of the unit cost from one workshop to another, shared out.

    Shapley values add up over the lines of the cost, so each line (metal, labour, …) is shared out by itself, over
    the groups that it depends on. `published` are the unit costs as they were published; where formulas have
    changed since, the difference to what they give now is a share of its own.
    """
    graph = cost_model()
    mixing = _mixing(pair, graph, "unit_cost")
    found: dict[Group, np.ndarray] = {}
    shared = Shared()
    for line in COST_LINES:
        for group, share in _shared(mixing, graph, line, shared).items():
            found[group] = found.get(group, 0.0) + share
    return _causes(mixing, graph, "unit_cost", found, published, shared)


def price_in_pair(pair: Paired) -> Causes:
    """The change of the price that the policy asks, rounding and ladder included, shared out in the same way."""
    graph = cost_model()
    mixing = _mixing(pair, graph, "price")
    shared = Shared()
    return _causes(mixing, graph, "price", _shared(mixing, graph, "price", shared), None, shared)


def _mixing(pair: Paired, graph: Graph, quantity: str) -> Mixing:
    """The two workshops to be mixed, parts told apart where few of them changed."""
    mixing = Mixing(pair)
    _, inputs, keys = _reached(graph, [quantity])
    of_parts = [group for group in mixing.changed(inputs, keys) if group.is_of_a_part]
    return mixing if len(of_parts) <= MOST_OF_PARTS else Mixing(pair, apart=False)


def _shared(mixing: Mixing, graph: Graph, quantity: str, shared: Shared) -> dict[Group, np.ndarray]:
    part, inputs, keys = _reached(graph, [quantity])

    def value(groups: Set[Group]) -> np.ndarray:
        found = run(mixing.mixed(set(groups), inputs, keys), part, [quantity], shared=shared)[quantity]
        return found[: len(mixing.pair.variants)]

    found: dict[Group, np.ndarray] = {}
    for group, share in shares(mixing.changed(inputs, keys), value).items():
        for named, held in mixing.by_name(group, share):
            found[named] = found.get(named, 0.0) + held
    return found


def _reached(graph: Graph, wanted: Iterable[str]) -> tuple[Graph, set[str], set[tuple[str, str]]]:
    """The part of the graph that leads to some quantities, its inputs, and the keys that it follows."""
    part = part_of(graph, wanted, set(graph.quantities))
    keys = {key for quantity in part.quantities.values() for need in quantity.needs for key in need.path.keys}
    keys |= {
        (quantity.table, need.path.prefix)
        for quantity in part.quantities.values()
        for need in quantity.needs
        if need.path.prefix and need.path.prefix != "other"
    }
    return part, set(part.inputs), keys


def _causes(
    mixing: Mixing,
    graph: Graph,
    quantity: str,
    found: dict[Group, np.ndarray],
    published: Mapping[tuple[str, str], float] | None,
    shared: Shared,
) -> Causes:
    part, inputs, keys = _reached(graph, [quantity])
    everything = set(mixing.changed(inputs, keys))
    ends = (run(mixing.mixed(groups, inputs, keys), part, [quantity], shared=shared) for groups in (set(), everything))
    names = mixing.pair.variants
    before, after = (end[quantity][: len(names)] for end in ends)
    if published is not None:
        told = np.array([published[name] for name in names])
        if np.any(np.abs(before - told) > 1e-9 * np.maximum(1, np.abs(told))):
            found[FORMULAS] = before - told
            before = told
    channels = tuple(channel.name for channel in mixing.pair.resolved.channels)
    return Causes({name: place for place, name in enumerate(names)}, channels, before, after, found)
