"""Blocks of an exported workbook, found by their words: titles, names of columns, words at the left of each row.

Nothing is found by where it stood when it was exported, so that rows may be sorted, and a folder may have grown.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

from pricing.shown import metal_named
from pricing.workbook.back.cells import ReadCell, ReadSheet
from pricing.workbook.sheets.blocks import SPECS
from pricing.workbook.sheets.check_sections import fingerprint_of
from pricing.workbook.sheets.constants import TITLE as CONSTANTS_TITLE
from pricing.workbook.sheets.plan import HEAD_ROWS

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
        "link": ("sku", "alloy", "name"),
        "part": ("sku", "alloy", "piece", "in alloy"),
        "size": ("sku", "alloy", "size"),
        "use": ("sku", "alloy", "step", "material"),
        "step": ("sku", "alloy", "step"),
        "fee": ("channel", "fee"),
        "price_step": ("channel", "step"),
        "postage_tier": ("channel", "tier"),
        "price": ("sku", "alloy", "channel"),
        "price_fee": ("sku", "alloy", "channel", "fee"),
        "workshop": (),
    }
)  # fmt: skip
#: A program that keeps 15 digits of every cell moves a fingerprint by no more than this much of what it sums.
KEPT_DIGITS = 4e-15
#: Heads of the columns on *Checks* that hold a fingerprint of every column of inputs.
PRINT_HEADS = ("column of inputs", "sheet", "cells", "fingerprint as exported")


@dataclass(frozen=True)
class FoundRow:
    """A row of a block: the words that name it and which it is of those alike, its first cell, its cells by column."""

    words: tuple[str, ...]
    turn: int
    lead: ReadCell
    cells: Mapping[str, ReadCell]


def block_rows(sheet: ReadSheet, table: str, title: str) -> Sequence[FoundRow] | None:
    """The rows of the block with this title, in their order; None where there is no such block.

    They are looked for once, and held by the sheet: who matches them and who tells what is off both need them.
    """
    if (table, title) not in sheet.blocks:
        sheet.blocks[table, title] = _rows_of_block(sheet, table, title)
    found: Sequence[FoundRow] | None = sheet.blocks[table, title]
    return found


def _rows_of_block(sheet: ReadSheet, table: str, title: str) -> Sequence[FoundRow] | None:
    """A block goes on to the next title: rows that were put in between and left empty, or hold only a note in a column
    of their own, end nothing.
    """
    tops = sheet.texts.get(title, ())  # a sheet's own title may say the same
    if table == "workshop":
        return next(([lines] for each in tops if (lines := _lines_on_end(sheet, each))), None)
    heads = (
        (top, row) for top, _ in tops for row in range(top + 1, top + HEAD_ROWS) if _is_head(sheet, row, KEYS[table])
    )
    top, head = next(heads, (0, None))
    if head is None:
        return None
    places: dict[str, int] = {}
    for place, cell in sorted(sheet.rows[head].items()):
        places.setdefault(cell.text, place)
    maybe = {row for title in TITLES for row, _ in sheet.texts.get(title, ())}
    end = min((row for row in maybe if row > head and _is_title(sheet, row)), default=sheet.last_row + 1)
    found: list[FoundRow] = []
    seen: Counter[tuple[str, ...]] = Counter()
    keys = {places[key] for key in KEYS[table]}
    has_ended = False
    for row in range(head + 1, end):
        words = tuple(_word_of_now(table, sheet.text(row, places[key])) for key in KEYS[table])
        figures = [place for place in sheet.rows.get(row, {}) if place not in keys and place in places.values()]
        if not any(words) or (has_ended and not figures):
            has_ended = True
            continue
        cells = {name: sheet.cell(row, place) for name, place in places.items()}
        found.append(FoundRow(words, seen[words], sheet.cell(row, min(keys)), cells))
        seen[words] += 1
    return found


def _word_of_now(table: str, word: str) -> str:
    """A word of a row as sheets say it now: of a metal an earlier one said the symbol alone."""
    return metal_named(word) if table in ("metal", "content") else word


#: What begins a block, or what stands below the last one.
TITLES = frozenset({*(spec.title for spec in SPECS), CONSTANTS_TITLE})


def _is_title(sheet: ReadSheet, row: int) -> bool:
    """Whether a row is a title, perhaps with a note of the reader's beside it: no row of figures begins so."""
    cells = sheet.rows[row]
    figures = [cell for cell in cells.values() if cell.is_formula or not isinstance(cell.value, str)]
    return not figures and cells[min(cells)].text in TITLES


def _is_head(sheet: ReadSheet, row: int, keys: tuple[str, ...]) -> bool:
    return set(keys) <= {cell.text for cell in sheet.rows.get(row, {}).values()}


def _lines_on_end(sheet: ReadSheet, top: tuple[int, int]) -> FoundRow | None:
    """The lines of a table that stands on end, by the places of its heads; None where these are missing."""
    heads = {cell.text: place for place, cell in sheet.rows.get(top[0] + 1, {}).items()}
    if not {"name", "value"} <= heads.keys():
        return None
    cells: dict[str, ReadCell] = {}
    for row in range(top[0] + 2, sheet.last_row + 1):
        if row in sheet.rows and _is_title(sheet, row):
            break
        if name := sheet.text(row, heads["name"]):
            cells[name] = sheet.cell(row, heads["value"])
    return FoundRow((), 0, sheet.cell(*top), cells)


@dataclass(frozen=True)
class Fingerprints:
    """What every column of inputs came to when it was exported, and how many cells it had; empty where nothing says."""

    exported: Mapping[str, float]
    counts: Mapping[str, int]

    def is_as_exported(self, name: str, cells: list[ReadCell]) -> bool:
        """Whether certainly nothing was typed into a column; programs that keep 15 digits count as well."""
        then = self.exported.get(name)
        if then is None or any(cell.is_formula for cell in cells):
            return False
        rows: list[int] = []
        figures: list[float] = []
        for cell in cells:
            if cell.value is not None:
                if not isinstance(cell.value, (int, float)):
                    return False
                rows.append(_row_of(cell))
                figures.append(cell.value)
        now, kept = fingerprint_of(rows, figures), KEPT_DIGITS * fingerprint_of(rows, list(map(abs, figures)))
        return abs(now - then) <= kept


def _row_of(cell: ReadCell) -> int:
    return int(cell.address.lstrip("ABCDEFGHIJKLMNOPQRSTUVWXYZ"))


def fingerprints(checks: ReadSheet | None) -> Fingerprints:
    """The fingerprints that the sheet *Checks* holds."""
    found = list(_fingerprints(checks)) if checks else []
    return Fingerprints({name: then for name, _, then in found}, {name: count for name, count, _ in found})


def _fingerprints(checks: ReadSheet) -> Iterator[tuple[str, int, float]]:
    first, places = next(
        (
            (row, places)
            for row, cells in checks.rows.items()
            if len(places := [place for each in PRINT_HEADS for place, cell in cells.items() if cell.text == each])
            == len(PRINT_HEADS)
        ),
        (checks.last_row, [0, 1, 2, 3]),
    )
    for row in range(first + 1, checks.last_row + 1):
        name, count, then = checks.text(row, places[0]), checks.cell(row, places[2]), checks.cell(row, places[3])
        if name and isinstance(then.value, (int, float)) and isinstance(count.value, (int, float)):
            yield name, int(count.value), float(then.value)
