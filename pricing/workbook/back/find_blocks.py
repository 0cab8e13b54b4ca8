"""Blocks of an exported workbook, found by their words: titles, names of columns, words at the left of each row.

Nothing is found by where it stood when it was exported, so that rows may be sorted, and a folder may have grown.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pricing.workbook.back.cells import ReadCell, ReadSheet
from pricing.workbook.sheets.check_sections import fingerprint_of
from pricing.workbook.sheets.plan import HEAD_ROWS, NAME_PLACE, VALUE_PLACE

#: The words that tell the rows of a table apart; of rows that are alike in them the order counts.
KEYS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        **dict.fromkeys(
            ("metal", "currency", "role", "alloy", "machine", "material", "flask", "channel"), ("name",)
        ),
        "content": ("alloy", "element or quote"),
        "variant": ("sku", "alloy"),
        "casting": ("sku", "alloy", "name"),
        "finding": ("sku", "alloy", "name"),
        "use": ("sku", "alloy", "step", "material"),
        "step": ("sku", "alloy", "step"),
        "fee": ("channel", "fee"),
        "price_step": ("channel", "step"),
        "price": ("sku", "alloy", "channel"),
        "workshop": (),
    }
)  # fmt: skip
#: Heads of the columns on *Checks* that hold a fingerprint of every column of inputs.
PRINT_HEADS = ("column of inputs", "sheet", "cells", "fingerprint as exported")


@dataclass(frozen=True)
class FoundRow:
    """A row of a block: the words that name it and which it is of those alike, its first cell, its cells by column."""

    words: tuple[str, ...]
    turn: int
    lead: ReadCell
    cells: Mapping[str, ReadCell]


def block_rows(sheet: ReadSheet, table: str, title: str) -> list[FoundRow] | None:
    """The rows of the block with this title, in their order; None where there is no such block."""
    tops = [row for row in sheet.rows if sheet.text(row, 0) == title]  # a sheet's own title may say the same
    if table == "workshop":
        return [_lines_on_end(sheet, tops[0])] if tops else None
    heads = (row for top in tops for row in range(top + 1, top + HEAD_ROWS) if _is_head(sheet, row, KEYS[table]))
    head = next(heads, None)
    if head is None:
        return None
    places: dict[str, int] = {}
    for place, cell in sorted(sheet.rows[head].items()):
        places.setdefault(cell.text, place)
    found: list[FoundRow] = []
    seen: Counter[tuple[str, ...]] = Counter()
    row = head + 1
    while words := _words(sheet, row, [places[key] for key in KEYS[table]]):
        cells = {name: sheet.cell(row, place) for name, place in places.items()}
        found.append(FoundRow(words, seen[words], sheet.cell(row, 0), cells))
        seen[words] += 1
        row += 1
    return found


def _is_head(sheet: ReadSheet, row: int, keys: tuple[str, ...]) -> bool:
    return set(keys) <= {cell.text for cell in sheet.rows.get(row, {}).values()}


def _words(sheet: ReadSheet, row: int, places: list[int]) -> tuple[str, ...]:
    """The words that name a row; none where the block has ended."""
    words = tuple(sheet.text(row, place) for place in places)
    return words if any(words) else ()


def _lines_on_end(sheet: ReadSheet, top: int) -> FoundRow:
    cells: dict[str, ReadCell] = {}
    row = top + 2
    while name := sheet.text(row, NAME_PLACE):
        cells[name] = sheet.cell(row, VALUE_PLACE)
        row += 1
    return FoundRow((), 0, sheet.cell(top, 0), cells)


@dataclass(frozen=True)
class Fingerprints:
    """What every column of inputs came to when it was exported; empty where the workbook does not say."""

    exported: Mapping[str, float]

    def is_as_exported(self, name: str, cells: list[ReadCell]) -> bool:
        """Whether certainly nothing was typed into a column; programs that keep 15 digits count as well."""
        then = self.exported.get(name)
        if then is None or any(cell.is_formula for cell in cells):
            return False
        held = [(_row_of(cell), cell.value) for cell in cells]
        if any(value is not None and not isinstance(value, (int, float)) for _, value in held):
            return False
        now = fingerprint_of((row, value) for row, value in held)  # type: ignore[misc]
        return now == then or f"{now:.15g}" == f"{then:.15g}"


def _row_of(cell: ReadCell) -> int:
    return int(cell.address.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))


def fingerprints(checks: ReadSheet | None) -> Fingerprints:
    """The fingerprints that the sheet *Checks* holds."""
    return Fingerprints(dict(_fingerprints(checks)) if checks else {})


def _fingerprints(checks: ReadSheet) -> Iterator[tuple[str, float]]:
    places = range(len(PRINT_HEADS))
    heads = (row for row in checks.rows if tuple(checks.text(row, place) for place in places) == PRINT_HEADS)
    row = next(heads, checks.last_row) + 1
    while name := checks.text(row, 0):
        value = checks.cell(row, len(PRINT_HEADS) - 1).value
        if isinstance(value, (int, float)):
            yield name, float(value)
        row += 1
