"""Which column stands where: blocks of a sheet one below the other, each with words, inputs, results and workings.

Every input and every quantity of the graph gets its place; those that no list names come after the others. Row numbers
that lead from table to table, and switches that stand for words, go to hidden columns on the right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple

from pricing.formulas.engine import Computed
from pricing.formulas.graph import Graph
from pricing.formulas.sheet_layout import SHEETS, Column, Layout, LongRow, long_rows, sheet_of, structure, sure_columns
from pricing.formulas.tables import ROW_OF
from pricing.model.rows import Resolved
from pricing.workbook.sheets.blocks import EXPORTED, RESULTS, SPECS, WHERE_ANY, Spec
from pricing.workbook.sheets.labels import SURE, Label, Words
from pricing.workbook.sheets.names import column_name
from pricing.workbook.sheets.ready_cells import letter

#: Most cells of a workbook that is brought back, in all sheets together: twice those of one of a thousand variants.
MOST_BROUGHT_BACK = 3_000_000
#: What a spreadsheet program takes to open a million cells, in seconds (LibreOffice 7.4 on one core).
SECONDS_A_MILLION = 5
#: From so much on of what can be brought back a workbook is of little use: the sheets beside the tables, and what other
#: programs write where a cell is only coloured, count as well.
NEAR_THE_MOST = 0.9
#: Rows above the data of a block: its title, what a group of columns is, heads in words, units, names.
HEAD_ROWS = 5
#: Columns of the lines that stand on end: name, unit, value, meaning.
NAME_PLACE, UNIT_PLACE, VALUE_PLACE, MEANING_PLACE = range(4)


@dataclass(frozen=True)
class PlannedColumn:
    """One column of a block.

    `kind` is label, sure (how sure a price was when exported), input, result, spelled (a code in words), was (an input
    as it was exported), after (words that follow the figures), working, word (a switch behind a word, hidden) or
    structure (row numbers, hidden).
    """

    kind: str
    name: str
    label: Label | None = None


@dataclass(frozen=True)
class Block:
    """One table on one sheet. `rows` are its rows, `items` its columns from the left, None where one stays empty.

    `top` is the row of its title, counted from 1. The workshop's one row stands on end: a line for each column.
    """

    sheet: str
    table: str
    title: str
    top: int
    rows: Sequence[LongRow]
    items: tuple[PlannedColumn | None, ...]

    @property
    def on_end(self) -> bool:
        return self.table == "workshop"

    @property
    def first_row(self) -> int:
        """Row of the first data, counted from 1."""
        return self.top + (2 if self.on_end else HEAD_ROWS)

    @property
    def last_row(self) -> int:
        """Row of the last data; a table without rows keeps one free."""
        return self.first_row + (len(self.shown_items) if self.on_end else max(len(self.rows), 1)) - 1

    @property
    def head_row(self) -> int:
        """Row of the columns' names."""
        return self.first_row - 1

    @property
    def shown_items(self) -> list[tuple[int, PlannedColumn]]:
        """Columns that are not hidden, each with its place from the left."""
        return [
            (place, item) for place, item in enumerate(self.items) if item and item.kind not in ("word", "structure")
        ]

    def address(self, place: int, position: int) -> str:
        """The cell of a column at a position counted from 1."""
        return f"{letter(place)}{self.first_row + position - 1}"


@dataclass(frozen=True)
class Plan:
    """Where everything stands in one workbook."""

    graph: Graph
    blocks: tuple[Block, ...]
    layout: Layout
    structure: Mapping[str, Mapping[str, list[int]]]
    words: Words

    @property
    def cells(self) -> int:
        """How many cells the tables have."""
        return sum(len(block.rows) * sum(item is not None for item in block.items) for block in self.blocks)

    def on_sheet(self, sheet: str) -> list[Block]:
        """The blocks of a sheet from the top down."""
        return [block for block in self.blocks if block.sheet == sheet]

    def block(self, sheet: str, table: str) -> Block:
        """One block."""
        return next(block for block in self.blocks if (block.sheet, block.table) == (sheet, table))


class Tables(NamedTuple):
    """The rows of every table, and how they hang together."""

    rows: Mapping[str, list[LongRow]]
    structure: Mapping[str, Mapping[str, list[int]]]


def tables_of(resolved: Resolved) -> Tables:
    """The tables of a costing."""
    rows = long_rows(resolved)
    return Tables(rows, structure(rows))


def make_plan(computed: Computed, words: Words, tables: Tables, needed: frozenset[str] | None = None) -> Plan:
    """Lay out the workbook of a costing; `needed` are the structure columns that formulas use (default: all)."""
    graph = computed.graph
    rows, columns = tables
    sure = sure_columns(columns)
    kept = {
        table: {name: at for name, at in found.items() if needed is None or name in needed}
        for table, found in columns.items()
    }
    blocks: list[Block] = []
    named: dict[str, Column] = {}
    with_row_numbers: set[str] = set()
    for sheet in SHEETS:
        here = [spec for spec in SPECS if spec.sheet == sheet and (rows[spec.table] or spec.table not in WHERE_ANY)]
        drafts = [(spec, _visible(graph, words, spec)) for spec in here]
        widest = max(len(items) for spec, items in drafts if spec.table != "workshop") + 1
        top = 2 if len(drafts) == 1 else 4  # a sheet of one block has its title in the line below the sheet's own
        for spec, items in drafts:
            hidden = [] if spec.table in with_row_numbers else _hidden(spec.table, kept)
            with_row_numbers.add(spec.table)
            padding = [None] * (widest - len(items)) if hidden else []
            block = Block(sheet, spec.table, spec.title, top, rows[spec.table], (*items, *padding, *hidden))
            blocks.append(block)
            named |= _columns(block)
            top = block.last_row + 3
    layout = Layout(named, sure=sure)
    return Plan(graph, tuple(blocks), layout, kept, words)


def _visible(graph: Graph, words: Words, spec: Spec) -> list[PlannedColumn]:
    sheet, table = spec.sheet, spec.table
    inputs = [
        known.name
        for known in graph.inputs.values()
        if known.table == table and not known.stated and known.typed and sheet_of(known.name, table) == sheet
    ]
    quantities = [
        name for name, each in graph.quantities.items() if each.table == table and sheet_of(name, table) == sheet
    ]
    chosen = RESULTS.get((sheet, table), quantities)
    items = [
        *(PlannedColumn("label", label.head, label) for label in words.labels(sheet, table)),
        *(PlannedColumn("sure", head) for head in SURE if table == "price" and words.doubt is not None),
        *(PlannedColumn("input", name) for name in inputs),
        *(PlannedColumn("result", name) for name in chosen if name in quantities),
        *([PlannedColumn("spelled", "decided by")] if table == "price" else []),
        *(PlannedColumn("was", name) for name in EXPORTED.get(table, ())),
        *(PlannedColumn("after", label.head, label) for label in words.after(table)),
        *(PlannedColumn("working", name) for name in quantities if name not in chosen),
    ]
    return sorted((item for item in items if item.kind in spec.kinds), key=lambda item: spec.kinds.index(item.kind))


def _hidden(table: str, kept: Mapping[str, Mapping[str, list[int]]]) -> list[PlannedColumn]:
    """Switches that stand for words, and row numbers; they stand with a table's first block."""
    return [
        *(
            PlannedColumn("word", name)
            for name, known in (ROW_OF[table].inputs.items() if table in ROW_OF else ())
            if known.unit and not known.typed
        ),
        *(PlannedColumn("structure", name) for name in kept[table]),
    ]


def _columns(block: Block) -> dict[str, Column]:
    """The columns of a block's inputs, quantities and row numbers, by name."""
    found: dict[str, Column] = {}
    if block.on_end:
        for line, (_, item) in enumerate(block.shown_items):
            value = letter(VALUE_PLACE)
            found[item.name] = Column(block.sheet, value, block.first_row + line, 1, column_name(item.name))
        return found
    for place, planned in enumerate(block.items):
        if planned and planned.kind in ("input", "result", "working", "word", "structure"):
            name = column_name(planned.name) if block.rows else ""
            found[planned.name] = Column(block.sheet, letter(place), block.first_row, len(block.rows), name)
    return found


def of_little_use(cells: int) -> str:
    """What to tell of a workbook whose tables have so many cells before it is written; "" if it can be worked with."""
    if cells <= NEAR_THE_MOST * MOST_BROUGHT_BACK:
        return ""
    millions = cells / 1e6
    return (
        f"The workbook has some {millions:.1f} million cells. A spreadsheet program takes "
        f"{SECONDS_A_MILLION * millions:.0f} s or more to open it, and import brings back none of more than "
        f"{MOST_BROUGHT_BACK / 1e6:g} million. The page and cost --csv show as much at once; a copy of the folder with "
        "fewer products makes a workbook to try figures in."
    )
