"""Runs quantities again from changed columns: only what follows from the change, all else taken as it stands.

A held price, another price of metal, a mixture of two workshops: each is some columns that differ, and the same
formulas run on from there.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Set
from dataclasses import replace
from types import MappingProxyType

import numpy as np

from pricing.formulas.engine import Computed, run
from pricing.formulas.graph import Graph
from pricing.formulas.tables import TABLES, Input


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
    lacked = needed - found
    given = [name for name in (*graph.inputs, *graph.quantities) if name in lacked]
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
    values = run(replace(computed.columns, inputs=inputs), part, wanted)
    return {
        name: values[name] if name in values else held[name] if name in held else computed.values[name]
        for name in wanted
    }


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
