"""Helps to write sheets that are no tables of the model: a row at a time, from the top down."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.ready_cells import (
    ReadySheet,
    escaped_formula,
    formula_cell,
    letter,
    number_cell,
    text_cell,
)


@dataclass(frozen=True)
class Live:
    """A formula and the value that it has now."""

    formula: str
    value: float | bool | str


@dataclass(frozen=True)
class CellPut:
    """What a cell holds (text, a number, a formula, nothing), the kinds of its style and its number format."""

    content: str | float | int | Live | None
    kinds: tuple[str, ...] = ("plain",)
    numbers: str = "General"


class FreeSheet:
    """Writes the rows of one sheet."""

    def __init__(self, book: Book, name: str):
        self.book, self.name = book, name
        self.sheet: ReadySheet = book.sheet(name)

    def row(self, number: int, cells: Sequence[CellPut | None], height: float | None = None) -> None:
        """Write a row (counted from 1), its cells from column A on; None leaves one out."""
        if height is not None:
            self.sheet.set_row(number - 1, height)
        filled = [(place, put) for place, put in enumerate(cells) if put is not None]
        if filled:
            made = [self._cell(f"{letter(place)}{number}", put) for place, put in filled]
            self.sheet.write_ready(number, (filled[0][0], filled[-1][0]), made)

    def _cell(self, address: str, put: CellPut) -> str:
        style = self.book.styles.index(*put.kinds, numbers=put.numbers)
        if isinstance(put.content, Live):
            return formula_cell(address, style, escaped_formula(put.content.formula), put.content.value)
        if isinstance(put.content, str):
            return text_cell(address, style, put.content)
        return number_cell(address, style, put.content)
