"""What the writers of sheets share: the costing, where everything stands, its formulas, its values, its styles."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from xlsxwriter import Workbook

from pricing.costing import Costing
from pricing.formulas.bounds import is_share
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import at_one_price
from pricing.formulas.sheet_formula import Formula, formula_of
from pricing.formulas.sheet_layout import Column, Layout, LongRow
from pricing.model.currency import minor_unit_digits
from pricing.studies.prices_out import PricesOut
from pricing.words import CONSTANTS
from pricing.workbook.sheets.labels import Words
from pricing.workbook.sheets.plan import Block, Plan, PlannedColumn, make_plan, tables_of
from pricing.workbook.sheets.ready_cells import ReadySheet
from pricing.workbook.sheets.styles import Styles
from pricing.workbook.sheets.table_rows import CHANNEL_AXIS, TableRows, currency_of

#: Is told now and then how many rows of tables are written, and how many there are.
Progress = Callable[[int, int], None]
#: Rows from one telling to the next.
TELL_EVERY = 200


@dataclass
class _Recording(Layout):
    """A layout that remembers which columns formulas asked for."""

    asked: set[str] = field(default_factory=set)

    def __getitem__(self, name: str) -> Column:
        self.asked.add(name)
        return super().__getitem__(name)


def planned(computed: Computed, words: Words) -> tuple[Plan, dict[str, Formula]]:
    """The plan of a workbook, with only those row numbers and constants that its formulas use, and these formulas."""
    tables = tables_of(computed.resolved)
    draft = make_plan(computed, words, tables)
    recording = _Recording(draft.layout.columns, frozenset(CONSTANTS), draft.layout.sure)
    laid = [name for name in computed.graph.quantities if name in draft.layout]
    texts = [formula_of(computed.graph, name, recording).template for name in laid]
    constants = frozenset(CONSTANTS) & {word for text in texts for word in re.findall(r"\w+", text)}
    plan = make_plan(computed, words, tables, frozenset(recording.asked))
    plan = replace(plan, layout=replace(plan.layout, constants=constants))
    return plan, {name: formula_of(computed.graph, name, plan.layout) for name in laid}


@dataclass
class Book:
    """One workbook being written; its figures are at what is asked, `out` knows the prices that go out."""

    costing: Costing
    workbook: Workbook
    words: Words
    plan: Plan
    formulas: Mapping[str, Formula]
    styles: Styles
    out: PricesOut
    progress: Progress | None = None
    sheets: dict[str, ReadySheet] = field(default_factory=dict)
    written: int = 0
    _numbers: dict[tuple[int, int], list[str]] = field(default_factory=dict)
    _texts: dict[int, list[str]] = field(default_factory=dict)

    @property
    def computed(self) -> Computed:
        return self.costing.computed

    @property
    def layout(self) -> Layout:
        return self.plan.layout

    def rows(self, table: str) -> TableRows:
        """What the blocks of a table share."""
        return self._tables[table]

    @cached_property
    def _tables(self) -> dict[str, TableRows]:
        return {block.table: TableRows(block.table, block.rows, self.words) for block in self.plan.blocks}

    def numbers(self, block: Block, first: int | None = None) -> list[str]:
        """The numbers of the rows of a block, or as many from `first` on."""
        key = block.first_row if first is None else first, len(block.rows)
        if key not in self._numbers:
            self._numbers[key] = list(map(str, range(key[0], sum(key))))
        return self._numbers[key]

    def texts(self, block: Block, item: PlannedColumn) -> list[str]:
        """The words of a column of words, for each row of its block."""
        label = item.label
        assert label is not None  # columns of words have one
        if id(label) not in self._texts:
            self._texts[id(label)] = list(map(label.words, block.rows))
        return self._texts[id(label)]

    @cached_property
    def _figures(self) -> Mapping[str, np.ndarray]:
        """All columns; sizes that have one price stand at it."""
        return at_one_price(self.computed)

    def figures(self, name: str) -> np.ndarray:
        """What the engine says of an input or a quantity, for each row of its table."""
        rows = self.rows(self.computed.graph.table_of(name))
        if not rows.rows:
            return np.empty(0)
        return np.atleast_1d(self._figures[name][rows.places]).astype(float)

    def values(self, name: str) -> list[float]:
        """The same as numbers of Python."""
        found: list[float] = self.figures(name).tolist()
        return found

    def currency_of(self, table: str, row: LongRow) -> str:
        """The currency of what buyers see or are charged in a row: its channel's, elsewhere the workshop's."""
        return currency_of(self.computed.resolved, table, row)

    @cached_property
    def is_abroad(self) -> bool:
        """Whether a channel is in another currency than the workshop."""
        resolved = self.computed.resolved
        return any(channel.currency != resolved.currency for channel in resolved.channels)

    @cached_property
    def finest_currency(self) -> str:
        """Of all currencies that sums are told in the one with the most digits."""
        resolved = self.computed.resolved
        names = [resolved.currency, *(channel.currency for channel in resolved.channels)]
        return max(names, key=minor_unit_digits)

    def unit_words(self, name: str, table: str) -> str:
        """The unit of a column as its head says it."""
        unit = self.computed.graph.unit_of(name)
        if unit == "quoted" and table in CHANNEL_AXIS:
            return "channel's currency" if self.is_abroad else self.computed.resolved.currency
        return self.styles.unit(unit, is_share(name))

    def sheet(self, name: str) -> ReadySheet:
        """A sheet of the workbook."""
        return self.sheets[name]

    def rows_done(self, rows: int) -> None:
        """Tell whoever waits that so many more rows of a table are written."""
        before, self.written = self.written, self.written + rows
        if self.progress and self.written // TELL_EVERY > before // TELL_EVERY:
            self.progress(self.written - self.written % TELL_EVERY, self.rows_in_all)

    @cached_property
    def rows_in_all(self) -> int:
        """Of all tables."""
        return sum(len(block.rows) for block in self.plan.blocks)
