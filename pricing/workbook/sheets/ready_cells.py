"""A sheet that takes its cells ready-made: XlsxWriter's own file, without its pass over every formula.

XlsxWriter runs some thirty regular expressions over each formula, to put prefixes before functions that are newer
than its file format. Our formulas have none of these, and 9 of 10 cells are formulas; so a row comes here as the
text of its cells and is passed through, and a table as the text of many rows. This leans on private methods
(`_check_dimensions`, `_write_single_row`, `_write_cell`, `_write_optimized_sheet_data`, and `_get_xf_index` of a
format) and on the two files of a sheet; tests hold what is expected of them, and the version is pinned.
Numbers are written in full (XlsxWriter keeps 16 digits), so that what is read back is what was stated.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import cache
from math import isfinite
from pathlib import Path
from shutil import copyfileobj
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

#: Bytes.
COPIED_AT_ONCE = 2**20


class ReadyRow(NamedTuple):
    """All cells of a row as they stand in the file."""

    xml: str
    format: None = None


class ReadySheet(Worksheet):  # type: ignore[misc]  # the library tells no types
    """A worksheet of a workbook with `constant_memory`: rows come from the top down, each once."""

    previous_row: int  # the next to be written, counted from 0

    def write_ready(self, row: int, columns: tuple[int, int], cells: Iterable[str]) -> None:
        """Put a row (counted from 1) whose cells lie within `columns` (first and last, counted from 0) in its place."""
        place = row - 1
        first, last = columns
        if self._check_dimensions(place, first) or self._check_dimensions(place, last):
            raise ValueError(f"row {row} of {self.name} is out of order, or the sheet is full")
        if place > self.previous_row:
            self._write_single_row(place)
        self.table[place][first] = ReadyRow("".join(cells))

    def write_rows(self, row: int, rows: int, columns: tuple[int, int], xml: str) -> None:
        """Put so many whole rows, from `row` (counted from 1) on, in their place; none has a height of its own."""
        place, (first, last) = row - 1, columns
        if self._check_dimensions(place, first) or self._check_dimensions(place + rows - 1, last):
            raise ValueError(f"row {row} of {self.name} is out of order, or the sheet is full")
        if place > self.previous_row:
            self._write_single_row(place)
        self.fh.write(xml)
        self.previous_row = place + rows

    def _write_optimized_sheet_data(self) -> None:
        """The library's way, but for the rows: their bytes are copied, not read as text and written as text again."""
        if self.dim_rowmin is None:
            super()._write_optimized_sheet_data()
            return
        self._xml_start_tag("sheetData")
        self.fh.flush()
        self.row_data_fh.flush()
        self.row_data_fh.buffer.seek(0)
        copyfileobj(self.row_data_fh.buffer, self.fh.buffer, COPIED_AT_ONCE)
        self.row_data_fh.close()
        Path(self.row_data_filename).unlink()
        self._xml_end_tag("sheetData")

    def _write_cell(self, row: int, col: int, cell: Any) -> None:
        if cell.__class__ is ReadyRow:
            self.fh.write(cell.xml)
        else:
            super()._write_cell(row, col, cell)


@cache  # there are no more than a sheet has columns
def letter(column: int) -> str:
    """The letters of a column counted from 0."""
    return str(xl_col_to_name(column))


def text_cell(address: str, style: int, text: str) -> str:
    """A cell that holds text, whatever the text begins with."""
    return f'<c r="{address}"{text_body(style, text)}'


def text_body(style: int, text: str) -> str:
    """What follows the address in a cell that holds text."""
    space = ' xml:space="preserve"' if text != text.strip() else ""
    return f' s="{style}" t="inlineStr"><is><t{space}>{_escaped(text)}</t></is></c>'


def number_cell(address: str, style: int, number: float | None) -> str:
    """A cell that holds a number, or nothing."""
    return f'<c r="{address}"{number_body(style, number)}'


def number_body(style: int, number: float | None) -> str:
    """What follows the address in a cell that holds a number, or nothing."""
    return f' s="{style}"/>' if number is None else f' s="{style}"><v>{number!r}</v></c>'


def formula_cell(address: str, style: int, formula: str, value: float | bool | str) -> str:
    """A cell that holds a formula (escaped, with no equals sign) and the value that it has now."""
    head, tail = formula_ends(style, value)
    return f'<c r="{address}"{head}{formula}{tail}'


def formula_ends(style: int, value: float | bool | str) -> tuple[str, str]:
    """What stands between the address and the formula in a cell that holds one, and what follows the formula."""
    if value.__class__ is float:
        return f' s="{style}"><f>', f"</f><v>{value!r}</v></c>"
    if value is True or value is False:
        return f' s="{style}" t="b"><f>', f"</f><v>{value:d}</v></c>"
    return f' s="{style}" t="str"><f>', f"</f><v>{_escaped(str(value))}</v></c>"


def as_stated(value: float | bool | None) -> float | int | None:
    """A stated figure as a cell holds it: switches as 0 and 1, nothing where nothing is stated."""
    if value is None:
        return None
    return int(value) if value == int(value) else float(value)


def held(value: float, unit: str) -> float | bool | str:
    """The value that a formula has now: empty text for what is undefined."""
    if unit == "switch":
        return bool(value)
    return float(value) if isfinite(value) else ""


def escaped_formula(text: str) -> str:
    """A formula as it stands in the file: no equals sign, no bare < > &."""
    return escape(text.removeprefix("="))


def _escaped(text: str) -> str:
    """Text as XML holds it; what XML cannot hold (control characters) becomes a blank."""
    if not text.isprintable():
        text = "".join(sign if sign.isprintable() or sign == "\n" else " " for sign in text)
    return escape(text)
