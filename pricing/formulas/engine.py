"""Runs the quantities on numpy columns: all variants at once, in blocks that stay in the processor's cache."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pricing.formulas.columns import KEYED, Columns, columns_of
from pricing.formulas.graph import Graph, Need, Quantity, cost_model
from pricing.formulas.tables import TABLES
from pricing.model.rows import Resolved
from pricing.words import CONSTANTS, NO_WHOLE, bind, check_vocabulary

#: Rows of the widest table (variant × step) in one block.
BLOCK_ROWS = 16_384


def _ratio(part, whole):
    if (np.abs(whole) > NO_WHOLE).all():  # nothing to leave out: the bare division is several times faster
        return np.divide(part, whole)
    part, whole = np.broadcast_arrays(part, whole)
    return np.divide(part, whole, out=np.full(part.shape, np.nan), where=np.abs(whole) > NO_WHOLE)


def _largest(amounts):
    return amounts.max(axis=-1, keepdims=True, initial=0.0)


def _upstream(amounts):
    running = np.ones_like(amounts)
    np.cumprod(amounts[..., :-1], axis=-1, out=running[..., 1:])
    return running


#: The words on numpy arrays. The axis that the result lacks is the last; words that take it away leave
#: it with length 1, so that what they return still lines up with the rest of a formula.
NUMPY_WORDS: Mapping[str, object] = MappingProxyType(
    {
        **{name: float(value) for name, value in CONSTANTS.items()},
        "minimum": np.minimum,
        "maximum": np.maximum,
        "held": lambda amount, low, high: np.minimum(high, np.maximum(low, amount)),
        "ceil": np.ceil,
        "floor": np.floor,
        "square": np.square,
        "cube": lambda amount: amount * amount * amount,
        "where": np.where,
        "both": np.logical_and,
        "either": np.logical_or,
        "opposite": np.logical_not,
        "ratio": _ratio,
        "total": lambda amounts: amounts.sum(axis=-1, keepdims=True),
        "product": lambda amounts: amounts.prod(axis=-1, keepdims=True),
        "largest": _largest,
        "downstream": lambda amounts: np.cumprod(amounts[..., ::-1], axis=-1)[..., ::-1],
        "upstream": _upstream,
    }
)
check_vocabulary(NUMPY_WORDS)


@dataclass(frozen=True, repr=False)
class Computed:
    """Every quantity and input by name (`computed["unit_cost"]`), shaped by the axes of its table.

    Axes have the sizes of the resolved model's lists; nested ones are padded, and a place that is not
    filled holds what comes of idle inputs. What is undefined is NaN. `values` are the same with the idle
    rows that open keys lead to.
    """

    resolved: Resolved
    graph: Graph
    columns: Columns
    values: Mapping[str, np.ndarray]

    def __repr__(self) -> str:
        return f"<{len(self.graph.quantities)} quantities of {len(self.resolved.variants)} variants>"

    def __getitem__(self, column: str) -> np.ndarray:
        axes = TABLES[self.graph.table_of(column)].axes
        array = self.values[column]
        return array[: self.columns.sizes[axes[0]]] if axes else array  # without the idle row at the end


def compute(
    resolved: Resolved,
    graph: Graph | None = None,
    wanted: Iterable[str] | None = None,
    block_rows: int = BLOCK_ROWS,
) -> Computed:
    """Run every quantity on a resolved workshop; keep those `wanted` (default: all, inputs included)."""
    graph = graph or cost_model()
    columns = columns_of(resolved)
    return Computed(resolved, graph, columns, MappingProxyType(run(columns, graph, wanted, block_rows)))


def run(
    columns: Columns, graph: Graph, wanted: Iterable[str] | None = None, block_rows: int = BLOCK_ROWS
) -> dict[str, np.ndarray]:
    """The quantities on columns, by name, with the columns' own shapes (idle rows included)."""
    wanted = set(graph.quantities) | set(graph.inputs) if wanted is None else set(wanted)
    sizes = {axis: size + (axis in KEYED) for axis, size in columns.sizes.items()}
    plans = [_Plan(quantity, sizes) for quantity in graph.quantities.values()]
    fixed = [plan for plan in plans if "variant" not in plan.axes]
    varied = [plan for plan in plans if "variant" in plan.axes]
    values = dict(columns.inputs)
    with np.errstate(all="ignore"):
        for plan in fixed:
            values[plan.name] = plan(values, columns.keys)
        variants = sizes["variant"]
        rows = max(1, block_rows // max(1, sizes.get("step", 1)))
        kept = {plan.name: np.empty([sizes[axis] for axis in plan.axes]) for plan in varied if plan.name in wanted}
        moving = {name for name in columns.inputs if "variant" in TABLES[graph.table_of(name)].axes}
        for start in range(0, variants, rows):
            cut = slice(start, min(variants, start + rows))
            block = {name: array[cut] if name in moving else array for name, array in values.items()}
            keys = {
                key: array[cut] if "variant" in TABLES[key[0]].axes else array for key, array in columns.keys.items()
            }
            for plan in varied:
                block[plan.name] = plan(block, keys)
                if plan.name in kept:
                    kept[plan.name][cut] = block[plan.name]
    return {name: array for name, array in {**values, **kept}.items() if name in wanted}


class _Plan:
    """One quantity made ready: how to fetch each parameter, and the function with numpy's words."""

    def __init__(self, quantity: Quantity, sizes: Mapping[str, int]):
        self.name = quantity.name
        self.axes = TABLES[quantity.table].axes
        self.extra = quantity.extra
        self.function = bind(quantity.function, NUMPY_WORDS)
        self.fetch = [fetcher(need, quantity) for need in quantity.needs]
        self.sizes = [sizes[axis] for axis in self.axes]

    def __call__(self, values: Mapping[str, np.ndarray], keys: Mapping[tuple[str, str], np.ndarray]) -> np.ndarray:
        result = np.asarray(self.function(*[fetch(values, keys) for fetch in self.fetch]))
        if self.extra:
            result = result[..., 0]
        shape = list(self.sizes)
        if self.axes[:1] == ("variant",):
            shape[0] = values["sprue_ratio"].shape[0]  # this block's variants
        return result if list(result.shape) == shape else np.broadcast_to(result, shape)


def fetcher(need: Need, quantity: Quantity) -> Callable:
    """A function that fetches one parameter, lined up with the result's axes and the one that it lacks."""
    here, path, column = TABLES[quantity.table].axes, need.path, need.column
    extra = (quantity.extra,) if quantity.extra else ()
    if path.prefix == "other":
        return lambda values, keys: values[column][..., None, :]
    if path.prefix:
        key = (quantity.table, path.prefix)
        lead = (Ellipsis, None) if extra else (Ellipsis,)
        return lambda values, keys: _followed(values[column], keys[key])[lead]
    if not path.keys:
        index = _line_up(TABLES[path.source].axes, here + extra)
        return lambda values, keys: values[column][index]
    first, *rest = path.keys
    index = _line_up(TABLES[first[0]].axes, here + extra)

    def fetch(values, keys):
        rows = keys[first]
        for key in rest:
            rows = keys[key][rows]
        return values[column][rows][index]

    return fetch


def _followed(column: np.ndarray, places: np.ndarray) -> np.ndarray:
    """Siblings at some places of the last axis, and 0 where a key is open."""
    return np.where(places < 0, 0, np.take_along_axis(column, places, axis=-1))


def _line_up(axes: tuple[str, ...], wanted: tuple[str, ...]) -> tuple:
    """An index that puts an axis of length 1 wherever `axes` lacks one of `wanted`."""
    return tuple(slice(None) if axis in axes else None for axis in wanted)
