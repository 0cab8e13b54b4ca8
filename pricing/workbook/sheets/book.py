"""What the writers of sheets share: the costing, where everything stands, its formulas, its values, its styles."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from types import MappingProxyType

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
from pricing.workbook.sheets.plan import Block, Plan, make_plan
from pricing.workbook.sheets.ready_cells import ReadySheet
from pricing.workbook.sheets.styles import Styles

#: Tables whose rows are a channel's, and where in their index it stands.
CHANNEL_AXIS: Mapping[str, int] = MappingProxyType(
    {"channel": 0, "fee": 0, "price_step": 0, "postage_tier": 0, "price": 1, "price_fee": 1}
)
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
    draft = make_plan(computed, words)
    recording = _Recording(draft.layout.columns, frozenset(CONSTANTS), draft.layout.sure)
    laid = [name for name in computed.graph.quantities if name in draft.layout]
    texts = [formula_of(computed.graph, name, recording).template for name in laid]
    constants = frozenset(CONSTANTS) & {word for text in texts for word in re.findall(r"\w+", text)}
    plan = make_plan(computed, words, frozenset(recording.asked))
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
    _positions: dict[str, dict[tuple[int, ...], int]] = field(default_factory=dict)

    @property
    def computed(self) -> Computed:
        return self.costing.computed

    @property
    def layout(self) -> Layout:
        return self.plan.layout

    def position(self, table: str, index: tuple[int, ...]) -> int:
        """Where a row stands in the blocks of its table, counted from 1."""
        if table not in self._positions:
            self._positions[table] = {row.index: position for position, row in enumerate(self._rows[table], 1)}
        return self._positions[table][index]

    @cached_property
    def _rows(self) -> dict[str, Sequence[LongRow]]:
        return {block.table: block.rows for block in self.plan.blocks}

    @cached_property
    def _indices(self) -> dict[str, tuple[np.ndarray, ...]]:
        """For each table, the places of its rows on every axis."""
        return {
            table: tuple(np.array([row.index for row in rows], dtype=np.intp).T) for table, rows in self._rows.items()
        }

    @cached_property
    def _figures(self) -> Mapping[str, np.ndarray]:
        """All columns; sizes that have one price stand at it."""
        return at_one_price(self.computed)

    def values(self, name: str) -> list[float]:
        """What the engine says of an input or a quantity, for each row of its table."""
        table = self.computed.graph.table_of(name)
        if not self._rows[table]:
            return []
        found: list[float] = np.atleast_1d(self._figures[name][self._indices[table]]).tolist()
        return found

    def currency_of(self, table: str, row: LongRow) -> str:
        """The currency of what buyers see or are charged in a row: its channel's, elsewhere the workshop's."""
        resolved = self.computed.resolved
        place = CHANNEL_AXIS.get(table)
        return resolved.currency if place is None else resolved.channels[row.index[place]].currency

    def currencies(self, block: Block) -> list[str]:
        """The currencies of the rows of a block, each once, in the order in which they come up."""
        key = block.table, block.first_row, len(block.rows)
        if key not in self._currencies:
            rows = block.rows if block.table in CHANNEL_AXIS else block.rows[:1]
            self._currencies[key] = list(dict.fromkeys(self.currency_of(block.table, row) for row in rows))
        return self._currencies[key]

    @cached_property
    def _currencies(self) -> dict[tuple[str, int, int], list[str]]:
        return {}

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

    def row_done(self) -> None:
        """Tell whoever waits that another row of a table is written."""
        self.written += 1
        if self.progress and self.written % TELL_EVERY == 0:
            self.progress(self.written, sum(len(block.rows) for block in self.plan.blocks))
