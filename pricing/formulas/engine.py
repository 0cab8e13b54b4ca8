"""Runs the quantities on numpy columns: all variants at once, in blocks that stay in the processor's cache.

Very many variants go through the same quantities compiled, where there is a compiler.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property, lru_cache
from types import MappingProxyType
from typing import TypeAlias

import numpy as np

from pricing.formulas.columns import KEYED, Columns, columns_of
from pricing.formulas.graph import Graph, Need, Quantity, cost_model
from pricing.formulas.kernel import kernel_for
from pricing.formulas.numpy_words import NUMPY_WORDS
from pricing.formulas.renewed import Known, known_of, renewed
from pricing.formulas.shared import Shared
from pricing.formulas.tables import TABLES, of_variants
from pricing.model.rows import Resolved
from pricing.words import bind

#: Fetches one parameter out of all columns and all keys.
Fetch: TypeAlias = Callable[[Mapping[str, np.ndarray], Mapping[tuple[str, str], np.ndarray]], np.ndarray]
#: Puts a block of a quantity into the array that is kept of it.
Put: TypeAlias = Callable[[dict[str, np.ndarray], str, slice, np.ndarray], None]
#: Rows of the widest table (variant × step) in one block.
BLOCK_ROWS = 16_384


@dataclass(frozen=True, repr=False)
class Computed:
    """Every quantity and input by name (`computed["unit_cost"]`), shaped by the axes of its table.

    Axes have the sizes of the resolved model's lists; nested ones are padded, and a place that is not
    filled holds what comes of idle inputs. What is undefined is NaN. `values` are the same with the hidden
    variants behind the others, and the idle rows that open keys lead to.
    """

    resolved: Resolved
    graph: Graph
    columns: Columns
    values: Mapping[str, np.ndarray]

    def __repr__(self) -> str:
        return f"<{len(self.graph.quantities)} quantities of {len(self.resolved.variants)} variants>"

    def __getitem__(self, column: str) -> np.ndarray:
        return self.shown(column, self.values[column])

    @cached_property
    def sold_places(self) -> np.ndarray:
        """Whether a variant is sold in a channel, by variant and channel."""
        return self["sold"].astype(bool)

    @cached_property
    def hidden_places(self) -> Mapping[str, int]:
        """The places of the variants that are computed along, by what rows know them by."""
        resolved = self.resolved
        return MappingProxyType(
            {row.called: place for place, row in enumerate(resolved.hidden, len(resolved.variants))}
        )

    @cached_property
    def places_of_sizes(self) -> Mapping[str, tuple[int, ...]]:
        """The places of each size of what has one price for all, by what the variant is known by."""
        found: dict[str, list[int]] = {}
        for place, row in enumerate(self.resolved.hidden, len(self.resolved.variants)):
            if not row.links:
                found.setdefault(row.of, []).append(place)
        return MappingProxyType({called: tuple(places) for called, places in found.items()})

    def shown(self, column: str, array: np.ndarray) -> np.ndarray:
        """An array of the column without the hidden variants and the idle row at its end."""
        axes = TABLES[self.graph.table_of(column)].axes
        if not axes:
            return array
        return array[: len(self.resolved.variants) if axes[0] == "variant" else self.columns.sizes[axes[0]]]


def compute(
    resolved: Resolved,
    graph: Graph | None = None,
    wanted: Iterable[str] | None = None,
    block_rows: int = BLOCK_ROWS,
    before: Computed | None = None,
) -> Computed:
    """Run every quantity on a resolved workshop; keep those `wanted` (default: all, inputs included).

    `before` is what was computed of a workshop that shares variants with it: what they come to is taken from there.
    """
    graph = graph or cost_model()
    if before is None or before.graph is not graph:
        columns, known = columns_of(resolved), None
    else:
        found = renewed(resolved, before.resolved, before.columns)
        columns = found.columns
        known = known_of(found, graph, before.columns, before.values) if wanted is None else None
    return Computed(resolved, graph, columns, MappingProxyType(run(columns, graph, wanted, block_rows, known)))


def _as_alike(now: np.ndarray, held: np.ndarray) -> bool:
    """Whether it holds of a column as it did before that all variants have the same in it."""
    return now is held or _is_alike(now) == _is_alike(held)


def run(
    columns: Columns,
    graph: Graph,
    wanted: Iterable[str] | None = None,
    block_rows: int = BLOCK_ROWS,
    known: Known | None = None,
    shared: Shared | None = None,
) -> dict[str, np.ndarray]:
    """The quantities on columns, by name, with the columns' own shapes (idle rows included).

    With figures that are `known` only the blocks are run in which another variant stands, or one of which it is a part.
    What is `shared` by several runs is computed in the first of them.
    """
    wanted = set(graph.quantities) | set(graph.inputs) if wanted is None else set(wanted)
    sizes = {axis: size + (axis in KEYED) for axis, size in columns.sizes.items()}
    values = dict(columns.inputs)
    with np.errstate(all="ignore"):
        for quantity in graph.quantities.values():
            if not of_variants(quantity.table):
                values[quantity.name] = _done(_plan_of(quantity), values, columns.keys, sizes, shared)
        kernel = kernel_for(graph, wanted, max(sizes["variant"], columns.among))
        if kernel is not None:
            values.update(kernel.over_variants(values, columns.keys, columns.sizes, columns.threads, columns.groups))
            return {name: array for name, array in values.items() if name in wanted}
        plans = [_plan_of(quantity) for quantity in graph.quantities.values() if of_variants(quantity.table)]
        rows = max(1, block_rows // max(1, sizes.get("step", 1)))
        blocks = [slice(start, min(sizes["variant"], start + rows)) for start in range(0, sizes["variant"], rows)]
        for stage, across in _stages(graph, plans, columns.sizes):
            later = wanted | _columns(plan for plan in plans if plan not in stage)
            here = None if known is None else _touched(stage, blocks, values, columns.keys, known)
            if known is not None and here is not None:
                kept = {plan.name: known.values[plan.name] for plan in stage if plan.name in later}
                _run_stage(stage, here, values, columns.keys, sizes, kept, across, _into_copies(known.values))
            else:
                kept = {plan.name: np.empty([sizes[axis] for axis in plan.axes]) for plan in stage
                        if plan.name in later}  # fmt: skip
                _run_stage(stage, blocks, values, columns.keys, sizes, kept, across, shared=shared)
            values.update(kept)
    return {name: array for name, array in values.items() if name in wanted}


def _stages(graph: Graph, varied: list[_Plan], sizes: Mapping[str, int]) -> Iterator[tuple[list[_Plan], set[str]]]:
    """The quantities of variants in turns, each with the columns that it looks up of other variants.

    Nothing waits for anything where no variant has parts. Else the lines of all are computed first, each by itself.
    """
    across = set[str]().union(*(plan.across for plan in varied))
    if not across or not sizes.get("part"):
        yield varied, set()
        return
    waiting: set[str] = set()
    for plan in varied:  # in order: what a quantity needs stands before it
        if plan.across or plan.columns & waiting:
            waiting.add(plan.name)
    yield [plan for plan in varied if plan.name not in waiting], set()
    yield [plan for plan in varied if plan.name in waiting], across


def _leads_to_variants(need: Need) -> bool:
    return bool(need.path.keys) and of_variants(need.path.source)


def _touched(
    stage: list[_Plan],
    blocks: list[slice],
    values: Mapping[str, np.ndarray],
    keys: Mapping[tuple[str, str], np.ndarray],
    known: Known,
) -> list[slice] | None:
    """The blocks in which some figure of a stage may differ from what is known; None where it may in all.

    Blocks are those of a run of everything, and whole: so each formula works on the very same arrays.
    """
    moving = _columns(stage) & set(values) & _of_variants(stage)
    of_prices = [key for key in keys if key[0] == "price"]
    if not (
        all(_as_alike(values[name], known.held(name)) for name in moving)
        and all(_as_alike(keys[key], known.columns.keys[key]) for key in of_prices)
    ):
        return None
    differ = np.zeros(blocks[-1].stop, dtype=bool)
    differ[known.places] = True
    leading = {key for plan in stage for need in plan.needs for key in need.path.keys}
    for table, key in leading:
        if TABLES[table].keys.get(key) == "variant":
            led = keys[table, key].reshape(len(differ), -1)
            differ |= np.isin(led, known.places).any(axis=1)
    return [cut for cut in blocks if differ[cut].any()]


def _put(kept: dict[str, np.ndarray], name: str, cut: slice, result: np.ndarray) -> None:
    kept[name][cut] = result


def _into_copies(known: Mapping[str, np.ndarray]) -> Put:
    """Puts what differs into a copy of what is known, which others hold; nothing where it is the same."""

    def put(kept: dict[str, np.ndarray], name: str, cut: slice, result: np.ndarray) -> None:
        held = known[name][cut]
        whole = np.empty_like(held)
        whole[...] = result
        if whole.tobytes() != held.tobytes():
            if kept[name] is known[name]:
                kept[name] = known[name].copy()
            kept[name][cut] = whole

    return put


def _run_stage(
    stage: list[_Plan],
    blocks: list[slice],
    values: Mapping[str, np.ndarray],
    keys: Mapping[tuple[str, str], np.ndarray],
    sizes: Mapping[str, int],
    kept: dict[str, np.ndarray],
    across: set[str],
    put: Put = _put,
    shared: Shared | None = None,
) -> None:
    """Run quantities block by block into the arrays of `kept`."""
    needed = _columns(stage) & set(values)
    moving = needed & _of_variants(stage)
    alike = {name for name in moving if _all_alike(values[name], shared)}
    alike_keys = {key for key, array in keys.items() if key[0] == "price" and _all_alike(array, shared)}
    came: dict[str, list[np.ndarray]] = {name: [] for name in kept}
    for cut in blocks:
        here = {name: _cut(values[name], cut, name in alike, shared) if name in moving else values[name]
                for name in needed}  # fmt: skip
        here |= {_across(name): values[name] for name in across}
        keys_here = {
            key: _cut(array, cut, key in alike_keys, shared) if of_variants(key[0]) else array
            for key, array in keys.items()
        }
        for plan in stage:
            here[plan.name] = _done(plan, here, keys_here, sizes, shared)
            if plan.name in kept:
                put(kept, plan.name, cut, here[plan.name])
                came[plan.name].append(here[plan.name])
    if shared is not None:  # what is put together of the very same blocks is the very same again
        for name, whole in kept.items():
            kept[name] = shared.taken("whole", came[name], lambda whole=whole: whole)  # type: ignore[misc]


def _done(
    plan: _Plan,
    values: Mapping[str, np.ndarray],
    keys: Mapping[tuple[str, str], np.ndarray],
    sizes: Mapping[str, int],
    shared: Shared | None,
) -> np.ndarray:
    """What a quantity comes to, where it is `shared` by runs of the same sizes as it came to before."""
    if shared is None:
        return plan(values, keys, sizes)
    of = [values[name] for name in plan.columns]
    of += [values.get(_across(name), values[name]) for name in plan.across]
    of += [keys[key] for key in plan.keys if key in keys]
    return shared.taken(plan, of, lambda: plan(values, keys, sizes))


def _cut(array: np.ndarray, cut: slice, is_alike: bool, shared: Shared | None) -> np.ndarray:
    """The rows of a block, or the one row that stands for all."""
    rows = slice(1) if is_alike else cut
    return array[rows] if shared is None else shared.taken((rows.start, rows.stop), [array], lambda: array[rows])


def _all_alike(array: np.ndarray, shared: Shared | None) -> bool:
    return _is_alike(array) if shared is None else shared.asked(array, _is_alike)


def _across(name: str) -> str:
    """The name under which a block finds a whole column; no quantity is called so."""
    return f"all of {name}"


def _columns(plans: Iterable[_Plan]) -> set[str]:
    """All columns that some quantities need."""
    return set[str]().union(*(plan.columns for plan in plans))


def _of_variants(stage: list[_Plan]) -> set[str]:
    """Columns that have a row for each variant."""
    return set[str]().union(*(plan.of_variants for plan in stage))


def _is_alike(array: np.ndarray) -> bool:
    """Whether all variants have the same, so that one row stands for all: a policy that every product goes by."""
    first = array[:1]
    return bool((array[-1:] == first).all() and (array == first).all())  # the last one alone tells nearly always


class _Plan:
    """One quantity made ready: how to fetch each parameter, and the function with numpy's words."""

    def __init__(self, quantity: Quantity):
        self.name = quantity.name
        self.axes = TABLES[quantity.table].axes
        self.extra = quantity.extra
        self.needs = quantity.needs
        self.function = bind(quantity.function, NUMPY_WORDS)
        self.fetch = [fetcher(need, quantity) for need in quantity.needs]
        self.columns = frozenset(need.column for need in quantity.needs)
        self.across = frozenset(need.column for need in quantity.needs if _leads_to_variants(need))
        paths = [need.path for need in quantity.needs]
        leading = [(quantity.table, path.prefix) for path in paths if path.prefix and path.prefix != "other"]
        self.keys = frozenset([*leading, *(key for path in paths for key in path.keys)])
        self.of_variants = frozenset(need.column for need in quantity.needs if of_variants(need.path.source))

    def __call__(
        self,
        values: Mapping[str, np.ndarray],
        keys: Mapping[tuple[str, str], np.ndarray],
        sizes: Mapping[str, int],
    ) -> np.ndarray:
        result = np.asarray(self.function(*[fetch(values, keys) for fetch in self.fetch]))
        if self.extra:
            result = result[..., 0]
        shape = [sizes[axis] for axis in self.axes]
        if self.axes[:1] == ("variant",):  # of this block, or one row that stands for all
            shape[0] = result.shape[0] if result.ndim == len(shape) else 1
        return result if list(result.shape) == shape else np.broadcast_to(result, shape)


@lru_cache(maxsize=1024)
def _plan_of(quantity: Quantity) -> _Plan:
    """The quantity made ready, once: workshops are run by the thousand on the same formulas."""
    return _Plan(quantity)


def fetcher(need: Need, quantity: Quantity, in_worlds: bool = False) -> Fetch:
    """A function that fetches one parameter, lined up with the result's axes and the one that it lacks.

    `in_worlds` columns have the world as an axis before all others; keys are the same in every world.
    """
    front = (slice(None),) if in_worlds else ()
    here, path, column = TABLES[quantity.table].axes, need.path, need.column
    extra = (quantity.extra,) if quantity.extra else ()
    if path.prefix == "other":
        among = (*front, *_line_up(TABLES[path.source].axes, here))
        return lambda values, keys: values[column][among][..., None, :]
    if path.prefix:
        key = (quantity.table, path.prefix)
        lead = (Ellipsis, None) if extra else (Ellipsis,)
        alike = (None,) * in_worlds
        return lambda values, keys: _followed(values[column], keys[key][(*alike, ...)])[lead]
    if not path.keys:
        index = (*front, *_line_up(TABLES[path.source].axes, here + extra))
        return lambda values, keys: values[column][index]
    first, *rest = path.keys
    index = (*front, *_line_up(TABLES[first[0]].axes, here + extra))

    def fetch(values: Mapping[str, np.ndarray], keys: Mapping[tuple[str, str], np.ndarray]) -> np.ndarray:
        rows = keys[first]
        for key in rest:
            rows = keys[key][rows]
        return values.get(_across(column), values[column])[(*front, rows)][index]

    return fetch


def _followed(column: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Siblings at some places of the last axis, and 0 where a key is open."""
    return np.where(places < 0, 0, np.take_along_axis(column, places, axis=-1))


def _line_up(axes: tuple[str, ...], wanted: tuple[str, ...]) -> tuple[slice | None, ...]:
    """An index that puts an axis of length 1 wherever `axes` lacks one of `wanted`."""
    return tuple(slice(None) if axis in axes else None for axis in wanted)
