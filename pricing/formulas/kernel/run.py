"""Runs a plan that was compiled: over all variants of some columns, or over many worlds of each variant."""

from __future__ import annotations

import ctypes
import os
from collections.abc import Iterable, Mapping
from concurrent.futures import ThreadPoolExecutor
from functools import lru_cache
from math import prod

import numpy as np

from pricing.formulas.columns import KEYED, Groups
from pricing.formulas.graph import Graph
from pricing.formulas.kernel.library import library
from pricing.formulas.kernel.plan import Given, plan
from pricing.formulas.kernel.printing import LANES, source_of
from pricing.formulas.tables import of_variants

#: Rows from which another thread pays.
ROWS_A_THREAD = 16_384
#: Numbers of a cache line; and up to so many (512 MiB) their memory is had in one piece. 31 MiB of that the C library
#: keeps for the next time, more comes in large pages: page by page for each result costs more than the arithmetic.
LINE, TOGETHER = 8, 2**26


class _Given(ctypes.Structure):
    """`struct given` of lanes.c."""

    _fields_ = [("from_", ctypes.c_void_p), ("key", ctypes.c_void_p)] + [
        (name, ctypes.c_int64)
        for name in (
            "kind",
            "fills",
            "tile",
            "places",
            "by_outer",
            "by_lane",
            "key_by_outer",
            "key_by_lane",
            "rows",
            "by_row",
        )
    ]


class _Result(ctypes.Structure):
    """`struct result` of lanes.c."""

    _fields_ = [("to", ctypes.c_void_p)] + [
        (name, ctypes.c_int64) for name in ("goes", "tile", "places", "by_outer", "by_lane")
    ]


NUMBER, SWITCH, PLACE = range(3)
STILL, BY_OUTER, BY_LANE, AS_IT_LIES = range(4)
Keys = Mapping[tuple[str, str], np.ndarray]


class Kernel:
    """Quantities of variants, planned, compiled and loaded. Raises NotCompiled."""

    def __init__(self, graph: Graph, wanted: Iterable[str]):
        self.graph, self.plan = graph, plan(graph, wanted)
        loaded = library(source_of(self.plan))
        self.function, self.alike = loaded.run, loaded.alike
        self.function.restype = None
        pointer, number = ctypes.c_void_p, ctypes.c_int64
        self.function.argtypes = [
            pointer, number, pointer, number, pointer, pointer, pointer, pointer, pointer, number, pointer, pointer,
            number,
        ]  # fmt: skip
        self.alike.argtypes = [pointer, number, number]

    def over_variants(
        self,
        values: Mapping[str, np.ndarray],
        keys: Keys,
        sizes: Mapping[str, int],
        threads: int = 0,
        groups: Groups | None = None,
    ) -> dict[str, np.ndarray]:
        """What is wanted, by variant: `values` and `keys` are those of `Columns`, with what no variant moves.

        At most so many threads are used, 0 for as many as there are processors. What variants of a group have in
        common is computed once for each group.
        """
        return _Run(self, values, keys, sizes, None, threads, groups).all()

    def over_worlds(
        self, values: Mapping[str, np.ndarray], keys: Keys, sizes: Mapping[str, int], worlds: int
    ) -> dict[str, np.ndarray]:
        """What is wanted, by world and variant: `values` have the world before all axes, at length 1 where still.

        So few worlds that they fill no lanes go through one by one, variants side by side.
        """
        if worlds < LANES:
            each = [
                self.over_variants(
                    {name: column[min(world, len(column) - 1)] for name, column in values.items()}, keys, sizes
                )
                for world in range(worlds)
            ]
            return {name: np.stack([found[name] for found in each]) for name in self.plan.wanted}
        return _Run(self, values, keys, sizes, worlds).all()


class _Run:
    """One run: where each column lies, and how far it is from lane to lane."""

    def __init__(
        self,
        kernel: Kernel,
        values: Mapping[str, np.ndarray],
        keys: Keys,
        sizes: Mapping[str, int],
        worlds: int | None,
        threads: int = 0,
        groups: Groups | None = None,
    ):
        self.kernel, self.plan, self.worlds, self.groups = kernel, kernel.plan, worlds, groups
        self.threads = threads or processors()
        self.values, self.keys = dict(values), keys
        self.sizes = {axis: size + (axis in KEYED) for axis, size in sizes.items()}
        self.variants = self.sizes["variant"]
        tiles = [*(each.axes for each in self.plan.given), *self.plan.tiled.values()]
        ends = np.cumsum([0, *(self.places(axes) * LANES for axes in tiles)], dtype=np.int64)
        self.tiles, self.scratch = ends[:-1].copy(), int(ends[-1])
        self.place = {key: at for at, key in enumerate((*self.plan.given, *self.plan.tiled))}
        self.lying: list[np.ndarray] = []  # so that nothing goes away while it is used

    def places(self, axes: Iterable[str]) -> int:
        return prod(self.sizes[axis] for axis in axes)

    def all(self) -> dict[str, np.ndarray]:
        """Every wanted quantity; first, where a piece is made of pieces, what the pieces have by themselves."""
        if self.plan.across and self.sizes["part"]:
            alone = [each for each in self.plan.given if not self.is_across(each)]
            self.values |= self.run(alone, self.plan.across, parts=False)
        return self.run(self.plan.given, self.plan.wanted, parts=True)

    def is_across(self, given: Given) -> bool:
        return bool(given.keys and given.column) and of_variants(self.kernel.graph.table_of(given.column))

    def run(self, given: Iterable[Given], names: Iterable[str], parts: bool) -> dict[str, np.ndarray]:
        columns, fills = [], {}
        for each in given:
            if self.places(each.axes):
                columns.append(self.given(each))
                fills[each] = columns[-1].fills
        made = self.goes(fills)
        found, results, rows = {}, [], [self.variants] if self.worlds is None else [self.variants, self.worlds]
        shapes = {name: (*rows, *(self.sizes[axis] for axis in self.plan.tiled[name])) for name in names}
        for name, array in _empty(shapes).items():
            places = self.places(self.plan.tiled[name])
            if array.size:
                goes = AS_IT_LIES if made[name] == BY_LANE and places == 1 else made[name]
                by_outer = 0 if self.worlds is None else places * self.worlds
                results.append(_Result(array.ctypes.data, goes, self.place[name], places, by_outer, places))
            found[name] = array if self.worlds is None else array.swapaxes(0, 1)
        lanes = np.array([0, self.variants] if self.worlds is None else [0, self.worlds], dtype=np.int64)
        begins, ends = lanes[:1], lanes[1:]
        if self.groups is not None:
            begins, ends = self.groups.cuts[:-1].astype(np.int64), self.groups.cuts[1:].astype(np.int64)
        elif self.worlds is not None:
            begins, ends = np.repeat(begins, self.variants), np.repeat(ends, self.variants)
        self.go(
            (_Given * len(columns))(*columns),
            (_Result * len(results))(*results),
            np.array([made[nest[0].name] for nest in self.plan.nests], dtype=np.int64),
            begins,
            ends,
            parts,
        )
        return found

    def goes(self, fills: Mapping[Given, int]) -> dict[str, int]:
        """How often each node is computed: with its nest as often as anything that this reads is another."""
        made: dict[str, int] = {}
        for nest in self.plan.nests:
            sources = [read.source for node in nest for read in node.reads.values()]
            read = [made.get(each, STILL) if isinstance(each, str) else fills.get(each, STILL) for each in sources]
            made |= dict.fromkeys((node.name for node in nest), min(BY_LANE, max(read, default=STILL)))
        return made

    def go(
        self,
        columns: ctypes.Array[_Given],
        results: ctypes.Array[_Result],
        goes: np.ndarray,
        begins: np.ndarray,
        ends: np.ndarray,
        parts: bool,
    ) -> None:
        """Through all lanes, those of each outer from where they begin to where they end, on as many threads as pay."""
        sizes = np.array([self.sizes[axis] for axis in self.plan.axes], dtype=np.int64)
        lanes = int(ends.max(initial=0))
        threads = max(1, min(self.threads, int((ends - begins).sum()) // ROWS_A_THREAD, lanes // LANES))
        blocks = -(-lanes // LANES)
        cuts = [blocks * each // threads * LANES for each in range(threads)] + [lanes]

        def go(thread: int) -> None:
            scratch = np.empty(self.scratch + 8)
            ready = scratch[(-scratch.ctypes.data // 8) % 8 :]  # so that the lanes of a place lie in whole cache lines
            at = self.tiles.copy()
            first, last = np.maximum(begins, cuts[thread]), np.minimum(ends, cuts[thread + 1])
            self.kernel.function(
                columns, len(columns), results, len(results), sizes.ctypes.data, self.tiles.ctypes.data,
                at.ctypes.data, goes.ctypes.data, ready.ctypes.data, len(first), first.ctypes.data, last.ctypes.data,
                parts,
            )  # fmt: skip

        if threads == 1:
            go(0)
        else:
            with ThreadPoolExecutor(threads) as pool:
                list(pool.map(go, range(threads)))

    def given(self, each: Given) -> _Given:
        """Where a column lies. Where all lanes have the same it is read but once."""
        places, key, in_worlds = self.places(each.axes), None, self.worlds is not None
        rows = by_row = key_by_outer = key_by_lane = 0
        if each.keys:
            first, *rest = each.keys
            leads = self.keys[first]
            for further in rest:
                leads = self.keys[further][leads]
            varied, grouped = of_variants(first[0]), self.groups is not None and first in self.groups.keys
            lines = self.lines(leads[None] if in_worlds else leads, varied, places, grouped)
            if not each.column:
                column, by_outer, by_lane = lines
            else:
                key, key_by_outer, key_by_lane = lines
                source = self.values[each.column]
                column = self.lie(source, source.ndim)
                by_outer, rows, by_row = 0, source.shape[-1], column.strides[-1] // column.itemsize
                by_lane = column.strides[0] // column.itemsize if in_worlds and len(source) > 1 else 0
        else:
            varied = of_variants(self.kernel.graph.table_of(each.column))
            grouped = self.groups is not None and each.column in self.groups.inputs
            column, by_outer, by_lane = self.lines(self.values[each.column], varied, places, grouped)
        kind = SWITCH if column.dtype == bool else NUMBER if column.dtype == float else PLACE
        fills = BY_LANE if by_lane or key_by_lane else BY_OUTER if by_outer or key_by_outer else STILL
        if fills == BY_LANE and key is None and kind == NUMBER and by_lane == places == 1:
            fills = AS_IT_LIES
        return _Given(
            column.ctypes.data, None if key is None else key.ctypes.data, kind, fills, self.place[each], places,
            by_outer, by_lane, key_by_outer, key_by_lane, rows, by_row,
        )  # fmt: skip

    def lines(
        self, column: np.ndarray, varied: bool, places: int, grouped: bool = False
    ) -> tuple[np.ndarray, int, int]:
        """A column made ready, and how many of its elements are from outer to outer and from lane to lane."""
        if self.worlds is None:
            alike = not varied or self.is_alike(column)
            step = 0 if alike else places
            return self.lie(column[:1] if varied and alike else column), step * grouped, step * (not grouped)
        lying = self.lie(column, 1 + varied)
        steps = [step // lying.itemsize for step in lying.strides]
        return lying, steps[1] if varied else 0, steps[0] if len(lying) > 1 else 0

    def is_alike(self, column: np.ndarray) -> bool:
        """Whether all variants have the same, digit by digit; a row in the middle tells mostly that they have not.

        Where one row stands for all, how it lies says so, and nothing is looked at.
        """
        if column.strides[0] == 0:
            return True
        if not (column[len(column) // 2] == column[0]).all():
            return False
        if not column.flags.c_contiguous:
            return bool((column == column[:1]).all())
        return bool(self.kernel.alike(column.ctypes.data, len(column), column.nbytes // len(column)))

    def lie(self, column: np.ndarray, front: int = 0) -> np.ndarray:
        """A column of a kind that is read, the places of each row one after the other behind its first axes."""
        column = np.asarray(column)
        kind = column.dtype if column.dtype in (bool, np.intp) else np.dtype(float)
        row = column[(0,) * front] if front and column.size else column
        if column.dtype != kind or not row.flags.c_contiguous:
            column = np.ascontiguousarray(column, dtype=kind)
        self.lying.append(column)
        return column


def _empty(shapes: Mapping[str, tuple[int, ...]]) -> dict[str, np.ndarray]:
    """Arrays to be filled, one behind the other as long as they are few numbers, each from a whole cache line on."""
    ends = np.cumsum([0, *(-(-prod(shape) // LINE) * LINE for shape in shapes.values())]).tolist()
    if ends[-1] >= TOGETHER:
        return {name: np.empty(shape) for name, shape in shapes.items()}
    every = np.empty(ends[-1] + LINE)
    every = every[(-every.ctypes.data // every.itemsize) % LINE :]
    return {
        name: every[start : start + prod(shape)].reshape(shape)
        for start, (name, shape) in zip(ends, shapes.items(), strict=False)
    }


@lru_cache(maxsize=1)
def processors() -> int:
    """How many this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
