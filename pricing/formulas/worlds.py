"""The formulas in many worlds at once, each with figures of its own: what a doubt, or prices of metal, do to the rest.

The world is an axis before all others. A column that no changed figure leads to keeps it at length 1, so that it is
computed once for all of them; the others go through in blocks of worlds that stay in the processor's cache. Where there
are very many, what belongs to variants goes through the same formulas compiled.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from types import MappingProxyType
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from pricing.formulas.engine import Computed, fetcher
from pricing.formulas.graph import Graph, Quantity
from pricing.formulas.kernel import kernel_for
from pricing.formulas.numpy_words import NUMPY_WORDS
from pricing.formulas.reducers import under
from pricing.formulas.rerun import following, part_of
from pricing.formulas.tables import TABLES, of_variants
from pricing.words import bind

if TYPE_CHECKING:
    from pricing.formulas.kernel.run import Kernel

#: So many worlds × variants × steps go through at once; of compiled formulas so many numbers are held at once.
AT_ONCE, HELD_AT_ONCE = 32_768, 16 * 2**20
#: The columns that prices of metal stand in: as quoted, and the rates of exchange behind them.
OF_METAL = ("quote_price", "exchange_rate")


class Landing(NamedTuple):
    """Where some figures stand in one column: its places, an index array for each axis, and which figure is at each."""

    column: str
    places: tuple[np.ndarray, ...]
    figures: np.ndarray


class Worlds:
    """A computed workshop, and the columns in which its figures differ from world to world."""

    def __init__(self, computed: Computed, landings: Sequence[Landing]):
        self.computed, self.landings = computed, tuple(landings)
        self.moved = following(computed.graph, [landing.column for landing in self.landings])
        sizes = computed.columns.sizes
        self.at_once = max(1, AT_ONCE // max(1, sizes["variant"] * max(1, sizes["step"])))

    def run(
        self,
        figures: np.ndarray,
        wanted: Iterable[str],
        at_prices: Iterable[str] = (),
        limits: Mapping[str, float | np.ndarray] = MappingProxyType({}),
    ) -> dict[str, np.ndarray]:
        """Quantities by name, the world first and idle rows left out, under figures by world and figure.

        Those `at_prices` stand at the prices that the workshop was computed with, in every world; `wanted` at what the
        policy asks in each. What no figure moves comes back with one world. Of those with one of the `limits` no more
        than a block of worlds is held: in how many they lie under it comes back, by place.
        """
        wanted, at_prices, values = list(wanted), list(at_prices), self.computed.values
        stages = self.stages(wanted, at_prices, len(figures))
        computed = {name for stage in stages for name in stage.graph.quantities}
        needed = {name for stage in stages for name in stage.graph.inputs} | {*wanted, *at_prices}
        base = {name: values[name][None] for name in needed - computed}
        moving = {name for part in self.parts(wanted, at_prices, self.moved) for name in part.quantities}
        found: dict[str, list[np.ndarray]] = {name: [] for name in (*wanted, *at_prices) if name in moving}
        at_once, compiled = self.at_once, any(stage.kernel for stage in stages)
        if compiled:
            at_once = max(at_once, HELD_AT_ONCE // sum(values[name].size for name in self.held_by(base, stages)))
        with np.errstate(all="ignore"):
            for start in range(0, len(figures), at_once):
                here = figures[start : start + at_once]
                block = {**base, **self.columns(base, here, compiled)}
                for stage in stages:
                    stage.run(block, len(here))
                    for name in stage.names:
                        if name in found:
                            array = self.shown(name, block[name])
                            found[name].append(_counted(array, limits[name], len(here)) if name in limits else array)
                    block["price"] = values["price"][None]
        still = {name: self.shown(name, values[name][None]) for name in (*wanted, *at_prices) if name not in found}
        for name in still.keys() & limits.keys():
            still[name] = _counted(still[name], limits[name], len(figures))
        counts = {name: np.sum(found.pop(name), axis=0) for name in [*found] if name in limits}
        return {**still, **counts, **{name: _joined(blocks, len(figures)) for name, blocks in found.items()}}

    def stages(self, wanted: list[str], at_prices: list[str], worlds: int) -> list[_Stage]:
        """The two parts made ready: compiled where there is enough to do, else on numpy.

        What is compiled computes all that belongs to variants, whichever figures are in doubt, so that one library
        serves every workshop; prices of metal alone move so little of it that they have one of their own.
        """
        graph, rows = self.computed.graph, worlds * self.computed.columns.sizes["variant"]
        of_metal = {landing.column for landing in self.landings} <= set(OF_METAL)
        every = set() if of_metal else {name for name in graph.quantities if of_variants(graph.table_of(name))}
        asked, held = self.parts(wanted, at_prices, self.moved | every)
        kernels = [
            kernel_for(asked, {*wanted, *at_prices, *held.inputs} & {*asked.quantities}, rows),
            kernel_for(held, at_prices, rows),
        ]
        if None in kernels:
            asked, held = self.parts(wanted, at_prices, self.moved)
            kernels = [None, None]
        parts = zip((asked, held), (wanted, at_prices), kernels, strict=True)
        return [_Stage(part, names, self.computed, kernel) for part, names, kernel in parts]

    def held_by(self, base: Mapping[str, np.ndarray], stages: Iterable[_Stage]) -> set[str]:
        """What is held in full for each world while a block of compiled formulas goes through."""
        landed = {landing.column for landing in self.landings if landing.column in base}
        return landed.union(*(stage.kernel.plan.wanted for stage in stages if stage.kernel)) or {"price"}

    def parts(self, wanted: list[str], at_prices: list[str], afresh: set[str]) -> tuple[Graph, Graph]:
        """What is computed at the prices that the policy asks, and what comes after that at those that are held."""
        graph = self.computed.graph
        later = part_of(graph, at_prices, following(graph, ["price"]) & (afresh | {*at_prices}))
        first = [name for name in (*later.inputs, *at_prices) if name != "price" and name not in later.quantities]
        return part_of(graph, [*wanted, *first], afresh), later

    def columns(
        self, base: Mapping[str, np.ndarray], figures: np.ndarray, by_variant: bool = False
    ) -> dict[str, np.ndarray]:
        """The changed columns that are needed, for a block of worlds; `by_variant` all of a variant's lie together."""
        changed: dict[str, np.ndarray] = {}
        for landing in self.landings:
            if landing.column in base:
                before = changed.get(landing.column, base[landing.column])
                if before is base[landing.column]:
                    column = self.repeated(landing.column, before, len(figures), by_variant)
                else:
                    column = before
                at: tuple[slice | np.ndarray, ...] = (slice(None), *landing.places)
                column[at] = figures[:, landing.figures]
                changed[landing.column] = column
        return changed

    def repeated(self, name: str, column: np.ndarray, worlds: int, by_variant: bool) -> np.ndarray:
        """A column again for each world."""
        if by_variant and of_variants(self.computed.graph.table_of(name)):
            return np.repeat(column.swapaxes(0, 1), worlds, axis=1).swapaxes(0, 1)
        return np.repeat(column, worlds, axis=0)

    def shown(self, name: str, array: np.ndarray) -> np.ndarray:
        """An array without hidden variants and idle rows."""
        axes = TABLES[self.computed.graph.table_of(name)].axes
        return array[:, : len(self.computed[name])] if axes else array


def at_times(computed: Computed, times: np.ndarray, wanted: Iterable[str]) -> dict[str, np.ndarray]:
    """Quantities by name with metal at so many times today's price: `times` by world and metal. Exchange rates stay."""
    quotes, rates = metal_prices(computed)
    return under_prices(computed, quotes * times, np.tile(rates, (len(times), 1)), wanted)


def metal_prices(computed: Computed) -> list[np.ndarray]:
    """The prices of metal as quoted, and the exchange rates, as they stand."""
    return [computed[name] for name in OF_METAL]


def metal_landings(computed: Computed, at: int = 0) -> Iterator[Landing]:
    """Where prices of metal and exchange rates stand; theirs are the figures from place `at` on."""
    for name, column in zip(OF_METAL, metal_prices(computed), strict=True):
        places = np.arange(len(column))
        yield Landing(name, (places,), at + places)
        at += len(places)


def under_prices(
    computed: Computed, quotes: np.ndarray, rates: np.ndarray, wanted: Iterable[str]
) -> dict[str, np.ndarray]:
    """Quantities by name in many worlds at once, each with metal prices of its own; the world is the first axis.

    `quotes` holds a price for each world and metal of the resolved model, as quoted; `rates` an exchange rate for
    each world and currency. Everything else is the same in all worlds.
    """
    found = Worlds(computed, list(metal_landings(computed))).run(np.concatenate([quotes, rates], axis=1), wanted)
    return {name: np.broadcast_to(array, (len(quotes), *array.shape[1:])) for name, array in found.items()}


def _joined(blocks: list[np.ndarray], worlds: int) -> np.ndarray:
    """Blocks of worlds one after the other; one world where all of them have the same one."""
    found = np.concatenate(blocks)
    return found if len(found) == worlds else found[:1]


def _counted(array: np.ndarray, limit: float | np.ndarray, worlds: int) -> np.ndarray:
    """In how many of so many worlds an array lies under a limit, where it may have one world for all."""
    return under(array, limit) * (1 if len(array) == worlds else worlds)


class _Stage:
    """A part of the graph made ready for blocks of worlds; `kernel` does what belongs to variants, if there is one."""

    def __init__(self, graph: Graph, names: Iterable[str], computed: Computed, kernel: Kernel | None):
        self.graph, self.names, self.columns, self.kernel = graph, tuple(names), computed.columns, kernel
        self.plans = [
            _Plan(quantity, computed)
            for quantity in graph.quantities.values()
            if kernel is None or not of_variants(quantity.table)
        ]

    def run(self, block: dict[str, np.ndarray], worlds: int) -> None:
        """Put into the block what this part computes."""
        for plan in self.plans:
            block[plan.name] = plan(block, self.columns.keys)
        if self.kernel is not None:
            block.update(self.kernel.over_worlds(block, self.columns.keys, self.columns.sizes, worlds))


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
