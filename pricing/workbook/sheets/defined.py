"""Gives names to columns and single inputs: formulas read like sentences, and the name box leads to a figure."""

from __future__ import annotations

from collections.abc import Iterator

from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.names import cell_name, unique
from pricing.workbook.sheets.plan import Block
from pricing.workbook.sheets.ready_cells import letter

#: Sheets whose single inputs have names; on the others there are too many.
NAMED_SHEETS = ("Inputs", "Channels")


def define_names(book: Book) -> None:
    """Define the names of all columns that have rows, and of the inputs on Inputs and Channels."""
    columns = {column.name: column for column in book.layout.columns.values() if column.rows}
    for name, column in columns.items():
        first = f"${column.letter}${column.first_row}"
        last = f":${column.letter}${column.first_row + column.rows - 1}" if column.rows > 1 else ""
        book.workbook.define_name(name, f"={column.sheet}!{first}{last}")
    cells = [each for block in book.plan.blocks if block.sheet in NAMED_SHEETS for each in _single_inputs(book, block)]
    taken = [*columns, *book.layout.constants]
    for name, (_, address) in zip(unique((name for name, _ in cells), taken), cells, strict=True):
        book.workbook.define_name(name, f"={address}")


def _single_inputs(book: Book, block: Block) -> Iterator[tuple[str, str]]:
    """A name and an address for each input of a block that may be changed; the workshop's have their column's name."""
    if block.on_end:
        return
    labels = [item.label for _, item in block.shown_items if item.kind == "label" and item.label is not None]
    if block.table not in ("content", "fee", "price_step"):
        labels = labels[:1]
    for place, item in block.shown_items:
        if item.kind != "input":
            continue
        for number, row in enumerate(block.rows, block.first_row):
            if is_editable(book.words, block.table, item.name, row):
                rows = [(label.plain or label.words)(row) for label in labels]
                yield cell_name(item.name, *rows), f"{block.sheet}!${letter(place)}${number}"
