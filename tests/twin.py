"""A workbook open in LibreOffice beside the engine: the same edits to both, and every cell compared."""

from __future__ import annotations

import math
import random
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from types import MappingProxyType

from pricing.formulas.columns import columns_of
from pricing.formulas.engine import Computed, run
from pricing.formulas.rerun import at_one_price
from pricing.formulas.sheet_layout import SHEETS, Layout, LongRow
from pricing.formulas.tables import INPUTS, Input
from pricing.workbook.sheets.twins import Twins
from tests.office import Content, Office, spoil_cached_values


class Twin:
    """A workbook with spoilt cached values, open in LibreOffice, and the columns that the engine computes from."""

    def __init__(
        self,
        office: Office,
        computed: Computed,
        workbook: Path,
        layout: Layout,
        rows: Mapping[str, Sequence[LongRow]],
        twins: Twins | None = None,
    ):
        """`twins` where the workbook's hidden rows point at the listed ones, and have the price of all sizes."""
        self.twins = twins
        self.computed, self.layout, self.rows = computed, layout, rows
        spoilt = workbook.with_name(f"spoilt-{workbook.name}")
        self.spoilt = spoil_cached_values(workbook, spoilt)
        self.book = office.open(spoilt)
        self.columns = self._columns = columns_of(computed.resolved)
        #: What stood in the cells that were typed over, and sheets as they were opened, of which something was.
        self._stood: dict[tuple[str, str], Content] = {}
        self._opened: dict[str, Mapping[str, Content]] = {}
        self._is_computed = True  # as it was opened

    def type(self, cells: Mapping[tuple[str, str], Content]) -> None:
        """Type into cells of the workbook alone; the engine is not told."""
        for sheet, cell in cells:
            if sheet not in self._opened:
                self._opened[sheet] = self.book.values(sheet)
            self._stood[sheet, cell] = self._opened[sheet].get(cell)
        self.book.set(cells)
        self._is_computed = False

    def undo(self) -> None:
        """Put back what was typed over since the workbook was opened, in the engine too."""
        self.book.set(self._stood)
        self._stood, self.columns = {}, self._columns
        self._compute()

    def edit(self, name: str, position: int, value: float | bool) -> None:
        """Type `value` into an input cell, and give it to the engine too."""
        column, row = self.layout[name], self.rows[INPUTS[name].table][position - 1]
        self.type({(column.sheet, column.cell(position)): float(value)})
        inputs = dict(self.columns.inputs)
        changed = {name: value, **({f"{name}_stated": True} if INPUTS[name].optional else {})}
        table = INPUTS[name].table
        moved = [
            each.index
            for each in self.rows[table]
            if self.twins and self.twins.of(table, name, each.index) == row.index
        ]
        for key, new in changed.items():
            inputs[key] = inputs[key].copy()
            for index in (row.index, *moved):
                inputs[key][index] = new
        self.columns = replace(self.columns, inputs=inputs)

    def _compute(self) -> None:
        self.book.recalculate()
        self._is_computed = True

    def engine(self) -> Mapping:
        """What the engine says of the inputs as they stand."""
        values = MappingProxyType(run(self.columns, self.computed.graph))
        if self.twins is None:
            return values
        return at_one_price(Computed(self.computed.resolved, self.computed.graph, self.columns, values))

    def differences(self) -> tuple[list[str], int]:
        """Cells that differ from the engine, and how many were compared."""
        values = self.engine()
        if not self._is_computed:
            self._compute()
        shown = {sheet: self.book.values(sheet) for sheet in SHEETS}
        wrong, compared = [], 0
        for name, quantity in self.computed.graph.quantities.items():
            if name not in self.layout:
                continue  # of a table that this workshop has no row of
            column = self.layout[name]
            for position, row in enumerate(self.rows[quantity.table], 1):
                expected = float(values[name][row.index])
                cell = shown[column.sheet].get(column.cell(position))
                compared += 1
                if not agree(cell, expected):
                    place = f"{column.sheet}!{column.cell(position)} {name}"
                    wrong.append(f"{place}: {cell!r}, the engine says {expected!r}")
        return wrong, compared


#: Edits typed between two comparisons, each of which computes every cell anew and reads the workbook whole, which is
#: what takes time. Whatever goes wrong stays wrong in the cells that read the edited one: of so many at once none hides
#: what another alone would show (of 40 two do, as what is typed later outweighs them).
AT_ONCE = 34


def after_edits(twin: Twin, edits: Sequence[tuple[str, int, float | bool]]) -> Iterator[tuple[list[str], str]]:
    """Type the edits (name, position, value), some at a time: what differs each time, and what was typed."""
    for start in range(0, len(edits), AT_ONCE):
        typed = edits[start : start + AT_ONCE]
        for name, position, value in typed:
            twin.edit(name, position, value)
        wrong, _ = twin.differences()
        yield wrong, "after " + ", ".join(f"{name} of row {position} to {value}" for name, position, value in typed)


def agree(cell, expected: float) -> bool:
    """Equal to 1e-9 relative; what is undefined is an empty text in a cell."""
    if not math.isfinite(expected):
        return cell in ("", None)
    return isinstance(cell, float) and math.isclose(cell, expected, rel_tol=1e-9, abs_tol=1e-9)


def mixed(names: Iterable[str]) -> list[str]:
    """Names in an order that mixes tables, the same at every run."""
    return sorted(names, key=lambda name: random.Random(name).random())


def other_value(known: Input, value, choice: random.Random) -> float | bool | None:
    """A different value of the same kind; None where nobody types one."""
    if known.is_switch:
        return not value
    if known.name == "step_position" or (known.name == "applies_below" and value is None):
        return None
    if value is None:
        return choice.choice((0.05, 0.31, 2.5))
    if known.name in ("good", "duty", "fee_share"):
        return round(choice.uniform(0.5, 0.95), 3)
    return round(value * choice.uniform(1.01, 1.2) + choice.uniform(0.001, 0.1), 6)
