"""What an input cell takes, and what it says of itself: bounds of the stated models, meanings of the cost model."""

from __future__ import annotations

from pricing.formulas.bounds import Bounds, bounds_of, is_share
from pricing.formulas.tables import INPUTS
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.plan import VALUE_PLACE, Block
from pricing.workbook.sheets.ready_cells import ReadySheet, letter

#: Longest texts that spreadsheet programs take.
LONGEST_TITLE, LONGEST_MESSAGE = 32, 255


def validate(book: Book, block: Block, line: tuple[int, str] | None = None) -> None:
    """Let the inputs of a block (of one `line` of it: row and name) take only what the folder would take."""
    if line is not None:
        number, name = line
        _validate(book, block.sheet, name, (number, VALUE_PLACE, number))
        return
    for place, item in block.shown_items:
        if item.kind == "input" and _is_open_somewhere(book, block, item.name):
            _validate(book, block.sheet, item.name, (block.first_row, place, block.last_row))


def _is_open_somewhere(book: Book, block: Block, name: str) -> bool:
    rows = book.rows(block.table)
    once = (*rows.listed_kinds.values(), *rows.rows[rows.listed :])  # of listed rows that are one object one tells all
    return any(is_editable(book.words, block.table, name, row) for row in once)


def _validate(book: Book, sheet: str, name: str, cells: tuple[int, int, int]) -> None:
    first, place, last = cells
    known = INPUTS[name]
    said = takes(name)
    rule = (
        {"validate": "list", "source": [0, 1]}
        if known.is_switch
        else {"validate": "custom", "value": _bounds(name).test(f"{letter(place)}{first}")}
    )
    book.sheet(sheet).data_validation(
        first - 1, place, last - 1, place,
        rule
        | {
            "ignore_blank": known.optional,
            "input_title": name[:LONGEST_TITLE],
            "input_message": f"{known.meaning} {said}."[:LONGEST_MESSAGE],
            "error_title": name[:LONGEST_TITLE],
            "error_message": f"{name} takes {said}; {_hint(name)}"[:LONGEST_MESSAGE],
        },
    )  # fmt: skip


def _bounds(name: str) -> Bounds:
    bounds = bounds_of(name)
    assert bounds is not None, f"nobody states {name}"
    return bounds


def takes(name: str) -> str:
    """What an input takes, in words: `a number from 0 to 1`."""
    known = INPUTS[name]
    if known.is_switch:
        return "1 for yes, 0 for no"
    words = _bounds(name).words()
    return f"{words}, or nothing where none is stated" if known.optional else words


def _hint(name: str) -> str:
    if INPUTS[name].is_switch:
        return "choose one of them."
    return "12 % is written 0.12." if is_share(name) else "write it without a unit."


def remark(book: Book, sheet: ReadySheet, row: int, place: int, name: str) -> None:
    """The meaning of a column, as a remark on its header."""
    graph = book.computed.graph
    text = graph.known(name).meaning
    quantity = graph.quantities.get(name)
    if quantity:
        text = f"{text}\n{quantity.because}"
    height = 20 + 15 * sum(1 + len(line) // 40 for line in text.splitlines())
    sheet.write_comment(
        row - 1,
        place,
        text,
        {"width": 260, "height": height, "font_size": 9, "font_name": "Calibri", "color": "#F5F7F8"},
    )
