"""The formulas in many worlds at once, each with figures of its own: what a doubt of some figures does to the rest.

The world is an axis before all others. A column that no changed figure leads to keeps it at length 1, so that it is
computed once for all of them; the others go through in blocks of worlds that stay in the processor's cache.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import NamedTuple

import numpy as np

from pricing.formulas.engine import NUMPY_WORDS, Computed, fetcher
from pricing.formulas.graph import Graph, Quantity
from pricing.formulas.rerun import following, part_of
from pricing.formulas.tables import TABLES
from pricing.words import bind

#: So many worlds × variants × steps go through at once.
AT_ONCE = 32_768


class Landing(NamedTuple):
    """Where some figures stand in one column: its places, an index array for each axis, and which figure is at each."""

    column: str
    places: tuple[np.ndarray, ...]
    figures: np.ndarray


class Worlds:
    """A computed workshop, and the columns in which its figures differ from world to world."""

    def __init__(self, computed: Computed, landings: Sequence[Landing]):
        self.computed, self.landings = computed, tuple(landings)
        sizes = computed.columns.sizes
        self.at_once = max(1, AT_ONCE // max(1, sizes["variant"] * max(1, sizes["step"])))

    def run(self, figures: np.ndarray, wanted: Iterable[str], at_prices: Iterable[str] = ()) -> dict[str, np.ndarray]:
        """Quantities by name, the world first and idle rows left out, under figures by world and figure.

        Those `at_prices` stand at the prices that the workshop was computed with, in every world; `wanted` at what the
        policy asks in each. What no figure moves comes back with one world.
        """
        wanted, at_prices, values = list(wanted), list(at_prices), self.computed.values
        asked, held = self._stages(wanted, at_prices)
        known = {*asked.quantities, *held.quantities}
        base = {name: values[name][None] for name in {*asked.inputs, *held.inputs, *wanted, *at_prices} - known}
        found: dict[str, list[np.ndarray]] = {name: [] for name in (*wanted, *at_prices) if name in known}
        plans = [[_Plan(each, self.computed) for each in stage.quantities.values()] for stage in (asked, held)]
        with np.errstate(all="ignore"):
            for start in range(0, len(figures), self.at_once):
                block = {**base, **self.columns(base, figures[start : start + self.at_once])}
                for stage, names in zip(plans, (wanted, at_prices), strict=True):
                    for plan in stage:
                        block[plan.name] = plan(block, self.computed.columns.keys)
                    for name in names:
                        if name in found:
                            found[name].append(self.shown(name, block[name]))
                    block["price"] = values["price"][None]
        still = {name: self.shown(name, base[name]) for name in (*wanted, *at_prices) if name not in found}
        return {**still, **{name: np.concatenate(blocks) for name, blocks in found.items()}}

    def _stages(self, wanted: list[str], at_prices: list[str]) -> tuple[Graph, Graph]:
        """What is computed at the prices that the policy asks, and what comes after that at those that are held."""
        graph = self.computed.graph
        afresh = following(graph, [landing.column for landing in self.landings])
        later = part_of(graph, at_prices, following(graph, ["price"]) & (afresh | {*at_prices}))
        first = [name for name in (*later.inputs, *at_prices) if name != "price" and name not in later.quantities]
        return part_of(graph, [*wanted, *first], afresh), later

    def columns(self, base: Mapping[str, np.ndarray], figures: np.ndarray) -> dict[str, np.ndarray]:
        """The changed columns that are needed, for a block of worlds."""
        changed: dict[str, np.ndarray] = {}
        for landing in self.landings:
            if landing.column in base:
                before = changed.get(landing.column, base[landing.column])
                column = np.repeat(before, len(figures), axis=0) if len(before) == 1 else before
                at: tuple[slice | np.ndarray, ...] = (slice(None), *landing.places)
                column[at] = figures[:, landing.figures]
                changed[landing.column] = column
        return changed

    def shown(self, name: str, array: np.ndarray) -> np.ndarray:
        """An array without hidden variants and idle rows."""
        axes = TABLES[self.computed.graph.table_of(name)].axes
        return array[:, : len(self.computed[name])] if axes else array


class _Plan:
    """One quantity made ready for columns with a world before the axes of their table."""

    def __init__(self, quantity: Quantity, computed: Computed):
        self.name, self.extra = quantity.name, quantity.extra
        self.function = bind(quantity.function, NUMPY_WORDS)
        self.fetch = [fetcher(need, quantity, in_worlds=True) for need in quantity.needs]
        self.shape = computed.values[quantity.name].shape

    def __call__(self, values: Mapping[str, np.ndarray], keys: Mapping[tuple[str, str], np.ndarray]) -> np.ndarray:
        result = np.asarray(self.function(*[fetch(values, keys) for fetch in self.fetch]))
        if self.extra:
            result = result[..., 0]
        shape = (len(result) if result.ndim > len(self.shape) else 1, *self.shape)
        return result if result.shape == shape else np.broadcast_to(result, shape)
