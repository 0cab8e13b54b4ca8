"""Which figures of a workshop are in doubt, how each lies, and where it stands among the inputs of the formulas.

The places are found by resolving the folder a second time with every doubted figure at a mark of its own: whatever
`like`, overrides and alloys make of it, its mark is where the figure goes.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import NamedTuple

import numpy as np

from pricing.costing import Costing
from pricing.folder.rows.resolve import resolve
from pricing.formulas.bounds import bounds_of
from pricing.formulas.columns import Columns, columns_of
from pricing.formulas.tables import INPUTS
from pricing.formulas.worlds import Landing
from pricing.model.given import Input
from pricing.model.rows import Resolved
from pricing.studies.alloys.every_alloy import measured
from pricing.studies.doubt.shapes import Limits, Shape, shape_of
from pricing.studies.map.price_map import stated_with
from pricing.what_if import only

#: Marks lie between the two points of a doubt, each at another share of the way (by the golden ratio: none twice).
GOLDEN = 0.6180339887498949

#: What need not be said of a path, for its names say it.
KINDS = ("workshop", "products", "processes", "alloys", "channels", "labour", "machines", "materials", "flasks")


class Posterior(NamedTuple):
    """What the batch log says of a figure: its path as `doubts.toml` has it, its 5 % and its 95 % point."""

    path: str
    low: float
    high: float


@dataclass(frozen=True)
class DoubtedFigure:
    """A figure in doubt by its path, its value as stated, its 5 % and 95 % points; `known` is the input that it is."""

    path: str
    stated: float
    low: float
    high: float
    shape: Shape
    known: Input
    from_log: bool = False

    @property
    def words(self) -> str:
        """What people call it: `acorn-knob, fit: minutes`."""
        return in_words(self.path)


@dataclass(frozen=True)
class Doubted:
    """The doubted figures of a costed folder; `marked` is its resolved workshop with each of them at its mark.

    `left_out` says of doubts why they move no cost and no price.
    """

    figures: tuple[DoubtedFigure, ...]
    marks: tuple[float, ...]
    resolved: Resolved
    marked: Resolved
    left_out: tuple[str, ...]

    def landings(self, rows: Sequence[int]) -> list[Landing]:
        """Where the figures stand in the columns of some variants alone."""
        found = landings(columns_of(only(self.resolved, rows)), columns_of(only(self.marked, rows)), self.marks)
        return [each for each in found if each.figures.size]


def doubted(costing: Costing, learned: Iterable[Posterior] = ()) -> Doubted:
    """The figures in doubt: those of `doubts.toml`, and in their place those that the batch log speaks of."""
    stated, folder = costing.folder.stated, costing.folder
    ranges = {path: (doubt.low, doubt.high, False) for path, doubt in stated.doubts.items()}
    ranges |= {each.path: (each.low, each.high, True) for each in learned}
    marked, marks, left_out = stated, {}, []
    for place, (path, (low, high, _)) in enumerate(ranges.items(), 1):
        mark = low + (high - low) * (0.25 + 0.5 * (GOLDEN * place % 1))
        try:
            marked = stated_with(marked, path, mark, checked=False)
        except LookupError:
            left_out.append(f"{path}: nothing stands there. Take the doubt out")
            continue
        marks[path] = mark
    resolved = without_sizes(costing.computed.resolved)
    other = without_sizes(resolve(replace(folder, stated=marked), costing.asked, _measure())[0])
    before, after = columns_of(resolved), columns_of(other)
    at = dict(_inputs_of(before, after, marks))
    figures, kept, idle = [], [], []
    for path, mark in marks.items():
        low, high, from_log = ranges[path]
        if path not in at:
            idle.append(path)
            continue
        known, value = at[path]
        limits = limits_of(known)
        try:
            shape = shape_of(low, high, limits)
        except ValueError:
            ends = bounds_of(known.name)
            left_out.append(f"{path}: {low:g} to {high:g} is no range of {ends.words() if ends else 'a number'}")
            continue
        figures.append(DoubtedFigure(path, value, low, high, shape, known, from_log))
        kept.append(mark)
    return Doubted(tuple(figures), tuple(kept), resolved, other, (*_idle(idle), *left_out))


def _idle(paths: Sequence[str]) -> Iterator[str]:
    """Doubts that move nothing, in one sentence: a folder that was just begun has one for every step not yet used."""
    if len(paths) == 1:
        yield f"{paths[0]}: it moves no cost and no price of these pieces"
    elif paths:
        yield f"{paths[0]} and {len(paths) - 1} more: they move no cost and no price of these pieces"


def _measure() -> Callable[[Path], tuple[float, float]]:
    measure = lru_cache(maxsize=None)(measured)

    def volume_and_area(path: Path) -> tuple[float, float]:
        found = measure(path)
        return found.volume_cm3, found.area_cm2

    return volume_and_area


def without_sizes(resolved: Resolved) -> Resolved:
    """Without the rows that tell of each size of what has one price for all: no price follows from them."""
    return resolved.model_copy(update={"hidden": tuple(row for row in resolved.hidden if row.links)})


def limits_of(known: Input) -> Limits:
    """Between which ends an input may lie; one that must be above 0 has its end just above it."""
    ends = bounds_of(known.name)
    if ends is None:
        return Limits()
    least, most = ends.low, ends.high
    if least is not None and ends.open_low:
        least = float(np.nextafter(least, np.inf))
    if most is not None and ends.open_high:
        most = float(np.nextafter(most, -np.inf))
    return Limits(least, most)


def landings(before: Columns, after: Columns, marks: Sequence[float]) -> list[Landing]:
    """The places of each column that hold a mark, and whose."""
    order = np.argsort(marks)
    rising = np.asarray(marks)[order]
    found = []
    for name, column in after.inputs.items():
        if not len(marks) or column.dtype == bool:
            continue
        moved = np.nonzero(column != before.inputs[name]) if column.ndim else ()
        if column.ndim and not len(moved[0]) or not column.ndim and column == before.inputs[name]:
            continue
        values = column[moved]
        at = np.minimum(np.searchsorted(rising, values), len(rising) - 1)
        is_mark = rising[at] == values
        if column.ndim:
            found.append(Landing(name, tuple(axis[is_mark] for axis in moved), order[at[is_mark]]))
        elif is_mark:
            found.append(Landing(name, (), order[at]))
    return found


def _inputs_of(
    before: Columns, after: Columns, marks: Mapping[str, float]
) -> Iterator[tuple[str, tuple[Input, float]]]:
    """The input that each doubted figure is, and its value as it stands."""
    paths = list(marks)
    for name, places, figures in landings(before, after, list(marks.values())):
        held = before.inputs[name][places]
        for figure in np.unique(figures):
            yield paths[int(figure)], (INPUTS[name], float(np.ravel(held)[np.ravel(figures) == figure][0]))


def in_words(path: str) -> str:
    """A path as people read it: `acorn-knob, fit: minutes`, `overhead: productive hours`."""
    for kind in KINDS:
        path = path.removeprefix(f"{kind}.")
    whose, _, key = path.rpartition(".")
    whose = whose.replace(".steps.", ", ").replace(".for_alloy.", " in ").replace(".fees.", ", ").replace(".", ", ")
    said = key.replace("_", " ")
    return f"{whose}: {said}" if whose else said
