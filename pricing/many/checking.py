"""Figures that came from elsewhere, looked at before anything is computed: all faults with their places."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from pricing.errors import Fault, Faults, Place
from pricing.extremes import LARGEST, SMALLEST
from pricing.formulas.bounds import Bounds, bounds_of
from pricing.model.given import Input

#: So many faults are told of one file.
MOST_FAULTS = 20
#: Text of one name.
LONGEST_NAME = 1_000


@dataclass
class Checking:
    """Collects what is wrong with one file; `where` names a row of what is read."""

    file: str
    where: Callable[[int], str] = lambda row: f"row {row}"
    faults: list[Fault] = field(default_factory=list)

    def wrong(self, key: str, problem: str, mend: str) -> None:
        if len(self.faults) < MOST_FAULTS:
            self.faults.append(Fault(Place(self.file), key, problem, mend))

    def done(self) -> None:
        """Raises Faults where there was anything."""
        if self.faults:
            raise Faults(self.faults)

    def at(self, row: int, column: str) -> str:
        return f"{self.where(row)}, {column}"

    def missing(self, column: str, array: pa.Array, row_of: Callable[[int], int]) -> bool:
        """Whether anything is missing where something must stand; it is told."""
        if not array.null_count:
            return False
        row = int(np.flatnonzero(np.asarray(array.is_null()))[0])
        self.wrong(self.at(row_of(row), column), "nothing stands there", "State it.")
        return True

    def number(self, known: Input, column: str, values: np.ndarray, row_of: Callable[[int], int]) -> None:
        """A column of an input's numbers, those that are not there idle."""
        unit = "" if known.unit in ("1", "") else f" {known.unit}"
        self.within(bounds_of(known.name), column, values, row_of, known.idle, unit, known.optional)

    def within(
        self,
        bounds: Bounds | None,
        column: str,
        values: np.ndarray,
        row_of: Callable[[int], int],
        idle: float = np.nan,
        unit: str = "",
        optional: bool = False,
    ) -> None:
        """Numbers within their bounds, each of a size that a workshop has, or `idle`; the first that is not is told."""
        if not len(values):
            return
        least, most = values.min(), values.max()  # both are no number where any is none
        if not (np.isfinite(least) and np.isfinite(most)):
            row = int(np.flatnonzero(~np.isfinite(values))[0])
            self.wrong(
                self.at(row_of(row), column),
                f"{values[row]} is no number to compute with",
                "Leave it empty." if optional else "State a number." if bounds is None else f"State {bounds.words()}.",
            )
            return
        ends = bounds is None or (not bounds.whole and _lies(least, bounds, idle) and _lies(most, bounds, idle))
        if bounds is not None and not ends:
            bad = ~_lies(values, bounds, idle)
            row = int(np.flatnonzero(bad)[0]) if bad.any() else -1
            if row >= 0:
                problem = f"{values[row]:g}{unit} is out of bounds"
                self.wrong(self.at(row_of(row), column), problem, f"State {bounds.words()}.")
                return
        if most > LARGEST or least < -LARGEST:
            row = int(np.flatnonzero(np.abs(values) > LARGEST)[0])
            problem = f"{values[row]:g} is larger than anything in a workshop"
            self.wrong(self.at(row_of(row), column), problem, "Look it up again.")
        elif 0 < least < SMALLEST:
            problem = f"{least:g} is smaller than anything in a workshop"
            self.wrong(self.at(row_of(int(values.argmin())), column), problem, "Look it up again.")

    def places(self, column: str, places: np.ndarray, many: int, table: str, row_of: Callable[[int], int]) -> bool:
        """Whether all places lie within a table of so many rows, -1 for none; what does not is told."""
        if not len(places) or (places.min() >= -1 and places.max() < many):
            return True
        row = int(np.flatnonzero((places < -1) | (places >= many))[0])
        rows = f"{many} row{'' if many == 1 else 's'}"
        self.wrong(
            self.at(row_of(row), column),
            f"place {places[row]} lies outside the table {table}, which has {rows}",
            f"State a place from 0 to {many - 1}." if many else "Leave it empty, or add rows to that table.",
        )
        return False


def _lies(values: Any, bounds: Bounds, idle: float) -> Any:
    """Whether values lie within the bounds, or are what a row holds that has none."""
    inside = np.ones(np.shape(values), dtype=bool)
    if bounds.low is not None:
        inside &= values > bounds.low if bounds.open_low else values >= bounds.low
    if bounds.high is not None:
        inside &= values < bounds.high if bounds.open_high else values <= bounds.high
    if bounds.whole:
        inside &= np.floor(values) == values
    return inside | (values == idle)


def texts(checking: Checking, column: str, array: pa.Array) -> pa.Array:
    """A column of words as plain strings (or a dictionary of them), short enough and to be seen."""
    held = array.dictionary if isinstance(array, pa.DictionaryArray) else array
    if len(held) and (longest := pc.max(pc.binary_length(held)).as_py() or 0) > LONGEST_NAME:
        checking.wrong(column, f"a name there has {longest} bytes", f"Use names of at most {LONGEST_NAME}.")
    return array


def kind_wanted(known: Input) -> str:
    """In words, what a column of an input holds."""
    return "true and false" if known.is_switch else "64-bit floating point numbers" if known.unit else "32-bit places"
