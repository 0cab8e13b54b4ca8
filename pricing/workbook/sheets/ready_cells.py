"""A sheet that takes its cells ready-made: XlsxWriter's own file, without its pass over every formula.

XlsxWriter runs some thirty regular expressions over each formula, to put prefixes before functions that are newer
than its file format. Our formulas have none of these, and 9 of 10 cells are formulas; so a row comes here as the
text of its cells and is passed through. This leans on private methods (`_check_dimensions`, `_write_single_row`,
`_write_cell`, and `_get_xf_index` of a format); tests hold what is expected of them, and the version is pinned.
Numbers are written in full (XlsxWriter keeps 16 digits), so that what is read back is what was stated.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, NamedTuple
from xml.sax.saxutils import escape

from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet


class ReadyRow(NamedTuple):
    """All cells of a row as they stand in the file."""

    xml: str
    format: None = None


class ReadySheet(Worksheet):  # type: ignore[misc]  # the library tells no types
    """A worksheet of a workbook with `constant_memory`: rows come from the top down, each once."""

    def write_ready(self, row: int, columns: tuple[int, int], cells: Iterable[str]) -> None:
        """Put a row (counted from 1) whose cells lie within `columns` (first and last, counted from 0) in its place."""
        place = row - 1
        first, last = columns
        if self._check_dimensions(place, first) or self._check_dimensions(place, last):
            raise ValueError(f"row {row} of {self.name} is out of order, or the sheet is full")
        if place > self.previous_row:
            self._write_single_row(place)
        self.table[place][first] = ReadyRow("".join(cells))

    def _write_cell(self, row: int, col: int, cell: Any) -> None:
        if cell.__class__ is ReadyRow:
            self.fh.write(cell.xml)
        else:
            super()._write_cell(row, col, cell)


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
    if value.__class__ is float:
        return f'<c r="{address}" s="{style}"><f>{formula}</f><v>{value!r}</v></c>'
    if value is True or value is False:
        return f'<c r="{address}" s="{style}" t="b"><f>{formula}</f><v>{value:d}</v></c>'
    return f'<c r="{address}" s="{style}" t="str"><f>{formula}</f><v>{_escaped(str(value))}</v></c>'


def escaped_formula(text: str) -> str:
    """A formula as it stands in the file: no equals sign, no bare < > &."""
    return escape(text.removeprefix("="))


def _escaped(text: str) -> str:
    """Text as XML holds it; what XML cannot hold (control characters) becomes a blank."""
    if not text.isprintable():
        text = "".join(sign if sign.isprintable() or sign == "\n" else " " for sign in text)
    return escape(text)
