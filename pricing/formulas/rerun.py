"""Runs quantities again from changed columns: only what follows from the change, all else taken as it stands.

A held price, another price of metal, a mixture of two workshops: each is some columns that differ, and the same
formulas run on from there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from pricing.formulas.columns import Columns
from pricing.formulas.engine import Computed, run
from pricing.formulas.graph import Graph
from pricing.formulas.tables import TABLES, Input

#: Tables that a world of its own metal prices has for itself: those that prices of metal flow through.
OWN_TABLES = ("currency", "metal", "alloy", "variant")
#: The columns that differ from world to world, with what an open key finds there.
MOVED: Mapping[str, float] = MappingProxyType({"quote_price": 0.0, "exchange_rate": 1.0})
#: So many worlds × variants go through at once: their columns stay in cache, and are laid side by side only once.
WORLDS_AT_ONCE = 16_384


def following(graph: Graph, changed: Iterable[str]) -> set[str]:
    """The quantities that follow, by one step or by many, from these columns."""
    reached = set(changed)
    for name, quantity in graph.quantities.items():  # in order: what a quantity needs stands before it
        if any(need.column in reached for need in quantity.needs):
            reached.add(name)
    return reached - set(changed)


def part_of(graph: Graph, wanted: Iterable[str], afresh: Set[str]) -> Graph:
    """The part of a graph that computes `wanted`; quantities that are not computed `afresh` are its inputs."""
    lacking, found = list(wanted), set()
    while lacking:
        name = lacking.pop()
        if name in afresh and name in graph.quantities and name not in found:
            found.add(name)
            lacking += [need.column for need in graph.quantities[name].needs]
    quantities = {name: quantity for name, quantity in graph.quantities.items() if name in found}
    needed = {need.column for quantity in quantities.values() for need in quantity.needs}
    given = [name for name in (*graph.inputs, *graph.quantities) if name in needed - found]
    return Graph(quantities, {name: Input(name, graph.table_of(name), graph.unit_of(name), "", 0.0) for name in given})


def rerun(computed: Computed, changed: Mapping[str, np.ndarray], wanted: Iterable[str]) -> dict[str, np.ndarray]:
    """Quantities by name as they are once the columns in `changed` hold other values, shaped as `Computed` gives them.

    `changed` holds inputs or quantities, shaped by the axes of their tables; `computed` must hold every column.
    """
    return {name: computed.shown(name, array) for name, array in rerun_all(computed, changed, wanted).items()}


def rerun_all(computed: Computed, changed: Mapping[str, np.ndarray], wanted: Iterable[str]) -> dict[str, np.ndarray]:
    """The same with the hidden variants and the idle rows, which `changed` may hold too."""
    graph, wanted = computed.graph, list(wanted)
    held = {name: with_idle_row(computed, name, array) for name, array in changed.items()}
    part = part_of(graph, wanted, following(graph, changed) - set(changed))
    inputs = {name: held.get(name, computed.values[name]) for name in part.inputs}
    values = run(Columns(inputs, computed.columns.keys, computed.columns.sizes), part, wanted)
    return {**{name: held.get(name, computed.values[name]) for name in wanted}, **values}


def at_times(computed: Computed, times: np.ndarray, wanted: Iterable[str]) -> dict[str, np.ndarray]:
    """The same with metal at so many times today's price: `times` by world and metal. Exchange rates stay."""
    rates = np.tile(computed["exchange_rate"], (len(times), 1))
    return under_prices(computed, computed["quote_price"] * times, rates, wanted)


def under_prices(
    computed: Computed, quotes: np.ndarray, rates: np.ndarray, wanted: Iterable[str]
) -> dict[str, np.ndarray]:
    """Quantities by name in many worlds at once, each with metal prices of its own; the world is the first axis.

    `quotes` holds a price for each world and metal of the resolved model, as quoted; `rates` an exchange rate for
    each world and currency. Everything else is the same in all worlds.
    """
    graph, wanted, worlds = computed.graph, list(wanted), len(quotes)
    part = part_of(graph, wanted, following(graph, ["quote_price", "exchange_rate"]))
    at_once = max(1, WORLDS_AT_ONCE // max(1, computed.columns.sizes["variant"]))
    spread, found = _Worlds(computed, part, min(at_once, worlds)), []
    for start in range(0, worlds, at_once):
        if worlds - start < spread.worlds:
            spread = _Worlds(computed, part, worlds - start)
        found.append(spread.run(quotes[start : start + at_once], rates[start : start + at_once], wanted))
    computed_afresh = {
        name: np.concatenate([each[name] for each in found]) for name in wanted if name in part.quantities
    }
    return {
        **{name: _same(computed, name, worlds) for name in wanted if name not in part.quantities},
        **computed_afresh,
    }


def _same(computed: Computed, name: str, worlds: int) -> np.ndarray:
    """A quantity that no price of metal moves, in so many worlds."""
    array = computed[name]
    return np.broadcast_to(array, (worlds, *array.shape))


class _Worlds:
    """Columns and keys of one workshop, side by side as often as there are worlds, for a part of the graph."""

    def __init__(self, computed: Computed, part: Graph, worlds: int):
        self.computed, self.part, self.worlds = computed, part, worlds
        self.sizes = computed.columns.sizes
        self.columns = {name: self.column(name) for name in part.inputs if name not in MOVED}
        self.places = self.keys(part)
        self.all_sizes = {axis: size * worlds if axis in OWN_TABLES else size for axis, size in self.sizes.items()}
        if not any("step" in TABLES[quantity.table].axes for quantity in part.quantities.values()):
            self.all_sizes.pop("step", None)  # so that blocks are as long as what is really computed allows

    def run(self, quotes: np.ndarray, rates: np.ndarray, wanted: list[str]) -> dict[str, np.ndarray]:
        """What is computed afresh of `wanted` under these prices, the world first."""
        moved = {"quote_price": quotes, "exchange_rate": rates}
        inputs = {
            name: np.concatenate([np.ravel(moved[name]), [idle]])
            for name, idle in MOVED.items()
            if name in self.part.inputs
        }
        values = run(Columns({**self.columns, **inputs}, self.places, self.all_sizes), self.part, wanted)
        return {name: self.unfold(name, values[name]) for name in wanted if name in self.part.quantities}

    def column(self, name: str) -> np.ndarray:
        axes = TABLES[self.computed.graph.table_of(name)].axes
        array = self.computed.values[name]
        return self._tiled(array, axes[0]) if axes and axes[0] in OWN_TABLES else array

    def _tiled(self, array: np.ndarray, axis: str) -> np.ndarray:
        real = array[: self.sizes[axis]]
        return np.concatenate([np.tile(real, (self.worlds, *[1] * (real.ndim - 1))), array[self.sizes[axis] :]])

    def keys(self, part: Graph) -> dict[tuple[str, str], np.ndarray]:
        wanted = {key for quantity in part.quantities.values() for need in quantity.needs for key in need.path.keys}
        wanted |= {
            (quantity.table, need.path.prefix)
            for quantity in part.quantities.values()
            for need in quantity.needs
            if need.path.prefix and need.path.prefix != "other"
        }
        return {key: self._key(*key) for key in wanted}

    def _key(self, table: str, key: str) -> np.ndarray:
        places = self.computed.columns.keys[table, key]
        axis, target = TABLES[table].axes[0], TABLES[table].keys[key]
        if axis not in OWN_TABLES:
            return places
        tiled = self._tiled(places, axis)
        if target not in OWN_TABLES:
            return tiled
        world = np.arange(len(tiled)) // max(1, self.sizes[axis])
        shift = (world * self.sizes[target]).reshape(-1, *[1] * (tiled.ndim - 1))
        return np.where(tiled < 0, -1, tiled + shift)

    def unfold(self, name: str, array: np.ndarray) -> np.ndarray:
        axis = TABLES[self.computed.graph.table_of(name)].axes[0]
        real = array[: self.worlds * self.sizes[axis]]
        unfolded = real.reshape(self.worlds, self.sizes[axis], *real.shape[1:])
        return unfolded[:, : len(self.computed.resolved.variants)] if axis == "variant" else unfolded


def with_idle_row(computed: Computed, name: str, array: np.ndarray) -> np.ndarray:
    """The column with these values, and with the hidden variants and the idle row that it has."""
    axes = TABLES[computed.graph.table_of(name)].axes
    return np.concatenate([array, computed.values[name][len(array) :]]) if axes else array


def again(computed: Computed, changed: Mapping[str, np.ndarray]) -> Computed:
    """All figures as they are once some columns hold other values."""
    held = {name: with_idle_row(computed, name, array) for name, array in changed.items()}
    moved = rerun_all(computed, changed, following(computed.graph, changed))
    return replace(computed, values=MappingProxyType({**computed.values, **moved, **held}))


def at_one_price(computed: Computed, wanted: Iterable[str] | None = None) -> Mapping[str, np.ndarray]:
    """The columns `wanted` (default: all), each size of what has one price for all of its sizes at that price."""
    if wanted is None and all(hidden.links for hidden in computed.resolved.hidden):
        return computed.values
    rows = {variant.called: row for row, variant in enumerate(computed.resolved.variants)}
    prices = computed.values["price"].copy()
    for place, hidden in enumerate(computed.resolved.hidden, len(rows)):
        if not hidden.links:
            prices[place] = prices[rows[hidden.of]]
    if wanted is not None:
        return rerun_all(computed, {"price": prices}, list(wanted))
    moved = ["price", *following(computed.graph, ["price"])]
    return {**computed.values, **rerun_all(computed, {"price": prices}, moved)}
