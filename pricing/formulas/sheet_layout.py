"""Where every column lies in a workbook, and the row numbers that lead from one table to another.

In a sheet a table is a block of rows, one below the other: all steps of the first variant, then all of
the second, and so on. How rows hang together (which variant a step belongs to, where its siblings begin
and end, which row its role is) does not change while numbers are edited, so it stands in columns of plain
row numbers, counted from 1 within each block; 0 is an open key.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any

from pricing.formulas.tables import CHILDREN, CROSSED, INPUTS, OUTERMOST, TABLES, name_of
from pricing.model.rows import Resolved

#: The sheet on which a table's columns stand, unless SHEET_OF_QUANTITY says otherwise.
SHEET_OF_TABLE: Mapping[str, str] = MappingProxyType(
    {
        "workshop": "Inputs",
        "currency": "Inputs",
        "metal": "Inputs",
        "alloy": "Inputs",
        "content": "Inputs",
        "role": "Inputs",
        "machine": "Inputs",
        "material": "Inputs",
        "flask": "Inputs",
        "casting": "Parts",
        "link": "Parts",
        "size": "Parts",
        "finding": "Parts",
        "use": "Parts",
        "step": "Steps",
        "part": "Costs",
        "variant": "Costs",
        "channel": "Channels",
        "fee": "Channels",
        "price_step": "Channels",
        "postage_tier": "Channels",
        "price": "Prices",
        "price_fee": "Prices",
    }
)
#: Columns of the variants that steps need, so that no chain of formulas comes back to a sheet it has left.
SHEET_OF_QUANTITY: Mapping[str, str] = MappingProxyType(
    dict.fromkeys(
        ("mean_length_mm", "size_growth", "finished_share", "castings_per_set", "mean_effort", "pattern_cm3",
         "pattern_cm2", "as_cast_g", "finished_g", "run_share", "set_count", "sets_in_run"),
        "Parts",
    )
)  # fmt: skip
#: Sheets in the order in which formulas may look back.
SHEETS = ("Inputs", "Parts", "Steps", "Costs", "Channels", "Prices")


def sheet_of(column: str, table: str) -> str:
    """The sheet of an input or a quantity; what is stated of a variant stands with its parts."""
    if table == "variant" and column in INPUTS:
        return "Parts"
    return SHEET_OF_QUANTITY.get(column, SHEET_OF_TABLE[table])


@dataclass(frozen=True)
class Column:
    """A column of one block: its sheet, its letter, its first row and how many rows it has.

    `name` is the workbook's defined name for all its rows; formulas use it where there is one.
    """

    sheet: str
    letter: str
    first_row: int
    rows: int
    name: str = ""

    def cell(self, position: int) -> str:
        """The address of the cell at a position counted from 1, without its sheet."""
        return f"{self.letter}{self.first_row + position - 1}"


@dataclass
class Layout:
    """Columns by name; names of structure columns are made by `own`, `parent`, `first`, `last` and `key`.

    `constants` are those of the vocabulary that the workbook has defined names for. `sure` are the structure columns
    in which no key is open (`key`) and no row is without rows below it (`first`): formulas need not ask there.
    """

    columns: dict[str, Column] = field(default_factory=dict)
    constants: frozenset[str] = frozenset()
    sure: frozenset[str] = frozenset()

    def __getitem__(self, name: str) -> Column:
        return self.columns[name]

    def __contains__(self, name: str) -> bool:
        return name in self.columns


def own(table: str) -> str:
    """Name of the column that holds a row's own position."""
    return f"{table}: own row"


def parent(table: str, above: str) -> str:
    """Name of the column that holds the position of the row of `above` that a row is nested in."""
    return f"{table}: row of {above}"


def first(table: str, below: str) -> str:
    """Name of the column that holds where the rows of `below` begin that belong to a row."""
    return f"{table}: first {below}"


def last(table: str, below: str) -> str:
    """Name of the column that holds where the rows of `below` end that belong to a row."""
    return f"{table}: last {below}"


def key(table: str, name: str) -> str:
    """Name of the column that holds the position that a key leads to, 0 where it is open."""
    return f"{table}: key {name}"


@dataclass(frozen=True)
class LongRow:
    """One row of a block: its place on the axes of its table (from 0), and the resolved row itself."""

    index: tuple[int, ...]
    row: Any  # of the row class of its table


def long_rows(resolved: Resolved) -> dict[str, list[LongRow]]:
    """Every table's rows, one below the other, each with its place on the axes."""
    found: dict[str, list[LongRow]] = {"workshop": [LongRow((), resolved.workshop)]}
    for table, attribute in OUTERMOST.items():
        found[table] = [LongRow((place,), row) for place, row in enumerate(getattr(resolved, attribute))]
    for table, (above, attribute) in CHILDREN.items():
        found[table] = [
            LongRow((*upper.index, place), row)
            for upper in found[above]
            for place, row in enumerate(getattr(upper.row, attribute))
        ]
    for table, (above, beside) in CROSSED.items():
        on = [TABLES[above].axes.index(axis) for axis in TABLES[beside].axes[:-1]]
        there: dict[tuple[int, ...], list[LongRow]] = {}
        for row in found[beside]:
            there.setdefault(row.index[:-1], []).append(row)
        found[table] = [
            LongRow((*upper.index, row.index[-1]), row.row)
            for upper in found[above]
            for row in there.get(tuple(upper.index[place] for place in on), ())
        ]
    return found


def structure(rows: Mapping[str, list[LongRow]]) -> dict[str, dict[str, list[int]]]:
    """Structure columns by table and name: positions counted from 1, 0 for an open key."""
    positions = {table: {row.index: place for place, row in enumerate(block, 1)} for table, block in rows.items()}
    found: dict[str, dict[str, list[int]]] = {table: dict(_structure_of(table, rows, positions)) for table in rows}
    return found


def _structure_of(
    table: str, rows: Mapping[str, list[LongRow]], positions: Mapping[str, Mapping[tuple[int, ...], int]]
) -> Iterator[tuple[str, list[int]]]:
    block = rows[table]
    yield own(table), list(range(1, len(block) + 1))
    for above in TABLES[table].inside:
        axes, mine = TABLES[above].axes, TABLES[table].axes
        places = [mine.index(axis) for axis in axes]
        yield parent(table, above), [positions[above][tuple(row.index[place] for place in places)] for row in block]
    for below, (above, _) in {**CHILDREN, **CROSSED}.items():
        if below == table:  # its siblings: all rows that share everything but the last axis
            spans = _spans(rows[table])
            yield first(table, table), [spans[row.index[:-1]][0] for row in block]
            yield last(table, table), [spans[row.index[:-1]][1] for row in block]
        elif above == table or (table == "price" and above == "channel"):
            spans = _spans(rows[below])
            skipped = 0 if table == above else 1  # a price's place on the axis of the variants
            yield first(table, below), [spans.get(row.index[skipped:], (1, 0))[0] for row in block]
            yield last(table, below), [spans.get(row.index[skipped:], (1, 0))[1] for row in block]
    for name, target in TABLES[table].keys.items():
        if target == "price":
            names = {row.row.name: row.index[0] for row in rows["channel"]}
            yield (
                key(table, name),
                [
                    positions["price"][row.index[0], names[wanted]] if (wanted := getattr(row.row, name)) else 0
                    for row in block
                ],
            )
        else:
            names = {name_of(row.row): place for place, row in enumerate(rows[target], 1)}
            yield key(table, name), [names.get(getattr(row.row, name), 0) for row in block]


def sure_columns(structure_columns: Mapping[str, Mapping[str, list[int]]]) -> frozenset[str]:
    """Names of the structure columns in which no key is open and no row is without rows below it."""
    sure: set[str] = set()
    for table, columns in structure_columns.items():
        for name, positions in columns.items():
            if name.startswith(key(table, "")) and 0 not in positions:
                sure.add(name)
            for below in (*CHILDREN, *CROSSED):
                if name == first(table, below):
                    ends = columns[last(table, below)]
                    if all(begin <= end for begin, end in zip(positions, ends, strict=True)):
                        sure.add(name)
    return frozenset(sure)


def _spans(block: list[LongRow]) -> dict[tuple[int, ...], tuple[int, int]]:
    """First and last position of the rows that share everything but the last axis, by what they share."""
    spans: dict[tuple[int, ...], tuple[int, int]] = {}
    for place, row in enumerate(block, 1):
        begin, _ = spans.get(row.index[:-1], (place, place))
        spans[row.index[:-1]] = begin, place
    return spans
