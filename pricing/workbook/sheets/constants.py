"""The constants of the formulas, each in a cell of its own: factors between units, tolerances, codes."""

from __future__ import annotations

from pricing.words import CONSTANTS
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.ready_cells import letter, number_cell, text_cell

TITLE = "Constants of the formulas"
PLACE = 2


def write_constants(book: Book, top: int) -> None:
    """Write them below the inputs, from the row `top`, and define their names."""
    sheet, styles = book.sheet("Inputs"), book.styles
    sheet.write_ready(top, (0, 0), [text_cell(f"A{top}", styles.index("band"), TITLE)])
    heads = (("name", "head_left"), ("unit", "head_left"), ("value", "head"))
    cells = [
        text_cell(f"{letter(place)}{top + 1}", styles.index(kind), text) for place, (text, kind) in enumerate(heads)
    ]
    sheet.write_ready(top + 1, (0, PLACE), cells)
    for number, name in enumerate(sorted(book.layout.constants), top + 2):
        constant = CONSTANTS[name]
        value = float(constant)
        cells = [
            text_cell(f"A{number}", styles.index("label"), name),
            text_cell(f"B{number}", styles.index("unit_left"), styles.unit(constant.unit)),
            number_cell(
                f"{letter(PLACE)}{number}", styles.index("fixed"), int(value) if value == int(value) else value
            ),
        ]
        sheet.write_ready(number, (0, PLACE), cells)
        book.workbook.define_name(name, f"=Inputs!${letter(PLACE)}${number}")
