"""Which column stands where: blocks of a sheet one below the other, each with words, inputs, results and workings.

Every input and every quantity of the graph gets its place; those that no list names come after the others. Row numbers
that lead from table to table, and switches that stand for words, go to hidden columns on the right.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from pricing.engine import Computed
from pricing.graph import Graph
from pricing.publish.workbook.editable import WORDS_BEHIND
from pricing.publish.workbook.labels import Label, Words
from pricing.publish.workbook.names import column_name
from pricing.publish.workbook.ready import letter
from pricing.readers.layout import (
    SHEETS, Column, Layout, LongRow, long_rows, sheet_of, structure, sure_columns,
)  # fmt: skip
from pricing.records import COST_LINES, COST_QUANTITIES, MASS_QUANTITIES, PRICE_QUANTITIES, STEP_QUANTITIES

#: Blocks in the order in which they stand on their sheets, with the words over each.
BLOCKS: Mapping[tuple[str, str], str] = MappingProxyType(
    {
        ("Inputs", "metal"): "Metal prices",
        ("Inputs", "currency"): "Exchange rates",
        ("Inputs", "role"): "Hours",
        ("Inputs", "workshop"): "The workshop",
        ("Inputs", "alloy"): "Alloys: what is paid beyond the metal, and what scrap brings",
        ("Inputs", "content"): "What the alloys are worth by",
        ("Inputs", "machine"): "Machines",
        ("Inputs", "material"): "Materials",
        ("Inputs", "flask"): "Flasks",
        ("Parts", "variant"): "Each product in each alloy",
        ("Parts", "casting"): "Castings",
        ("Parts", "finding"): "Findings",
        ("Parts", "use"): "Materials that steps use up",
        ("Steps", "step"): "Every step of every product in each alloy",
        ("Costs", "variant"): "What a set costs",
        ("Channels", "channel"): "Channels",
        ("Channels", "fee"): "Selling fees, per set",
        ("Channels", "price_step"): "Rounding: prices go up in steps",
        ("Prices", "price"): "What to ask in each channel, and what it brings",
    }
)
#: Quantities that people look for, by table; the others are workings.
RESULTS: Mapping[tuple[str, str], tuple[str, ...]] = MappingProxyType(
    {
        ("Steps", "step"): ("mass_in", *STEP_QUANTITIES),
        ("Costs", "variant"): ("unit_cost", *COST_LINES, "labour_hours", "melt_value", "fresh_g", "charge_g"),
        ("Prices", "price"): (
            "price", "profit", "margin", "earned_per_hour", "ex_tax_price", "net_sales", "selling_fees", "net_receipts",
            "times_melt_value", "required_price",
        ),
        ("Parts", "variant"): ("castings_per_set", "as_cast_g", "finished_g"),
        ("Channels", "channel"): ("list_tax", "order_cost", "postage_income", "order_labour_cost"),
    }
)  # fmt: skip
#: Rows above the data of a block: its title, what a group of columns is, units, names.
HEAD_ROWS = 4
#: First row of a sheet's first block: below the sheet's title and a line of words.
FIRST_ROW = 4


@dataclass(frozen=True)
class Item:
    """One column of a block. `kind` is label, input, result, working, after, word or structure."""

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
    items: tuple[Item | None, ...]

    @property
    def on_end(self) -> bool:
        return self.table == "workshop"

    @property
    def first_row(self) -> int:
        """Row of the first data, counted from 1."""
        return self.top + (2 if self.on_end else HEAD_ROWS)

    @property
    def last_row(self) -> int:
        return self.first_row + (len(self.shown_items) if self.on_end else len(self.rows)) - 1

    @property
    def shown_items(self) -> list[tuple[int, Item]]:
        """Columns that are not hidden, each with its place from the left."""
        return [(place, item) for place, item in enumerate(self.items) if item and item.kind not in ("word", "structure")]

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

    def on_sheet(self, sheet: str) -> list[Block]:
        """The blocks of a sheet from the top down."""
        return [block for block in self.blocks if block.sheet == sheet]

    def block(self, sheet: str, table: str) -> Block:
        """One block."""
        return next(block for block in self.blocks if (block.sheet, block.table) == (sheet, table))


def make_plan(computed: Computed, words: Words, needed: frozenset[str] | None = None) -> Plan:
    """Lay out the workbook of a costing; `needed` are the structure columns that formulas use (default: all)."""
    graph = computed.graph
    rows = long_rows(computed.resolved)
    columns = structure(rows)
    sure = sure_columns(columns)
    kept = {
        table: {name: at for name, at in found.items() if needed is None or name in needed}
        for table, found in columns.items()
    }
    blocks: list[Block] = []
    named: dict[str, Column] = {}
    for sheet in SHEETS:
        drafts = {
            table: _visible(graph, words, sheet, table)
            for on_sheet, table in BLOCKS
            if on_sheet == sheet and rows[table]
        }
        widest = max((len(items) for table, items in drafts.items() if table != "workshop"), default=0) + 1
        top = FIRST_ROW
        for table, items in drafts.items():
            hidden = _hidden(graph, sheet, table, kept)
            padding = [None] * (widest - len(items)) if hidden else []
            block = Block(sheet, table, BLOCKS[sheet, table], top, rows[table], (*items, *padding, *hidden))
            blocks.append(block)
            named |= _columns(block)
            top = block.last_row + 3
    layout = Layout(named, sure=sure)
    return Plan(graph, tuple(blocks), layout, kept, words)


def _visible(graph: Graph, words: Words, sheet: str, table: str) -> list[Item | None]:
    behind = WORDS_BEHIND.get(table, ())
    labels = [Item("label", label.head, label) for label in words.labels(sheet, table)]
    inputs = [
        Item("input", known.name)
        for known in graph.inputs.values()
        if known.table == table and not known.stated and known.name not in behind and sheet_of(known.name, table) == sheet
    ]
    quantities = [name for name, each in graph.quantities.items() if each.table == table and sheet_of(name, table) == sheet]
    chosen = RESULTS.get((sheet, table))
    if chosen is None:
        results, workings = quantities, []
    else:
        results = [name for name in chosen if name in quantities]
        workings = [name for name in quantities if name not in chosen]
    after = [Item("after", label.head, label) for label in words.after(table)]
    return [
        *labels,
        *inputs,
        *(Item("result", name) for name in results),
        *after,
        *(Item("working", name) for name in workings),
    ]


def _hidden(graph: Graph, sheet: str, table: str, kept: Mapping[str, Mapping[str, list[int]]]) -> list[Item]:
    """Switches that stand for words, and row numbers; a variant's stand on the first of its two sheets."""
    if (sheet, table) == ("Costs", "variant"):
        return []
    return [
        *(Item("word", name) for name in WORDS_BEHIND.get(table, ())),
        *(Item("structure", name) for name in kept[table]),
    ]


def _columns(block: Block) -> dict[str, Column]:
    """The columns of a block's inputs, quantities and row numbers, by name."""
    found: dict[str, Column] = {}
    if block.on_end:
        for line, (_, item) in enumerate(block.shown_items):
            found[item.name] = Column(block.sheet, VALUE_LETTER, block.first_row + line, 1, column_name(item.name))
        return found
    for place, item in enumerate(block.items):
        if item and item.kind not in ("label", "after"):
            name = column_name(item.name)
            found[item.name] = Column(block.sheet, letter(place), block.first_row, len(block.rows), name)
    return found


#: Where the values of the workshop's lines stand.
VALUE_LETTER = "C"
