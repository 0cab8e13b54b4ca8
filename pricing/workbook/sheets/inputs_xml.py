"""The cells of a column of inputs: figures that may be changed, and locked ones that follow those."""

from __future__ import annotations

from collections.abc import Iterator

from pricing.formulas.sheet_layout import LongRow
from pricing.formulas.tables import INPUTS
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.plan import Block, PlannedColumn
from pricing.workbook.sheets.ready_cells import as_stated, formula_ends, number_body
from pricing.workbook.sheets.strands import Strand
from pricing.workbook.sheets.styles import UNSEEN


def inputs(book: Book, block: Block, at: str, item: PlannedColumn) -> list[Strand]:
    """The cells of an input: as stated where the row is listed, elsewhere what stands where the figure is stated."""
    rows = book.rows(block.table)
    bodies = {kind: _body(book, block, item.name, row) for kind, row in rows.listed_kinds.items()}
    listed = [bodies[kind] for kind in rows.kinds[: rows.listed]]
    return [f'<c r="{at}', book.numbers(block), '"', [*listed, *_hidden(book, block, item.name)]]


def _hidden(book: Book, block: Block, name: str) -> Iterator[str]:
    rows, column, known = book.rows(block.table), book.layout[name], INPUTS[name]
    variants = book.words.twins.variants
    around: dict[tuple[int, str | None], tuple[str, str]] = {}
    for kind, row, stated in zip(
        rows.kinds[rows.listed :], rows.rows[rows.listed :], rows.stated_at(name), strict=True
    ):
        if stated is None:
            yield _body(book, block, name, row)
            continue
        twin, position = stated
        key = kind, variants[twin[0]].size  # all that rules look at beside the row itself
        if key not in around:
            around[key] = _pointing(book, block, name, LongRow(twin, row.row))
        head, tail = around[key]
        there = f"${column.letter}{column.first_row + position - 1}"
        formula = f'IF({there}="","",{there})' if known.optional else there
        yield f"{head}{formula}{tail}"


def _body(book: Book, block: Block, name: str, row: LongRow) -> str:
    """What follows the address where the figure itself stands."""
    value = getattr(row.row, name)
    if is_editable(book.words, block.table, name, row):
        style = book.styles.index("input", numbers=_numbers(book, block, name, row))
    else:
        style = _locked(book, block, name, row, shown=not _is_idle(name, value))
    return number_body(style, as_stated(value))


def _pointing(book: Book, block: Block, name: str, row: LongRow) -> tuple[str, str]:
    """What stands around the formula of a locked cell that says what is stated in the listed row `row`."""
    value = getattr(row.row, name)
    shown = not _is_idle(name, value) or is_editable(book.words, block.table, name, row)
    style = _locked(book, block, name, row, shown)
    return formula_ends(style, "" if value is None else float(value))


def _is_idle(name: str, value: object) -> bool:
    return value == INPUTS[name].idle and not INPUTS[name].is_switch


def _locked(book: Book, block: Block, name: str, row: LongRow, shown: bool) -> int:
    return book.styles.index("fixed", numbers=_numbers(book, block, name, row) if shown else UNSEEN)


def _numbers(book: Book, block: Block, name: str, row: LongRow) -> str:
    return book.styles.stated(INPUTS[name].unit, book.currency_of(block.table, row))
