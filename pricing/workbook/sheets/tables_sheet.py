"""Writes the sheets of the plan: Inputs, Parts, Steps, Costs, Channels, Prices."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from pricing.formulas.bounds import is_share
from pricing.workbook.sheets.book import TELL_EVERY, Book
from pricing.workbook.sheets.columns_xml import column_cells
from pricing.workbook.sheets.constants import write_constants
from pricing.workbook.sheets.editable import is_editable
from pricing.workbook.sheets.plan import MEANING_PLACE, NAME_PLACE, UNIT_PLACE, VALUE_PLACE, Block, PlannedColumn
from pricing.workbook.sheets.printing import column_widths, for_screen_and_paper, head_words, is_headed
from pricing.workbook.sheets.ready_cells import (
    as_stated,
    escaped_formula,
    formula_cell,
    held,
    letter,
    number_cell,
    text_cell,
)
from pricing.workbook.sheets.strands import Strand, woven
from pricing.workbook.sheets.validation import remark, validate
from pricing.workbook.sheets.widths import HEAD_SIZE, height_of, lines_of

#: What each sheet is for, in one line.
LEADS: Mapping[str, str] = MappingProxyType(
    {
        "Inputs": "Change a figure on a tinted ground, and every price follows. Nothing else can be typed over.",
        "Parts": "What goes into each product: castings and their volume, findings, materials used up by the steps.",
        "Channels": "Where it is sold: tax, what an order costs, fees, rounding. What a price asks stands on Prices.",
    }
)
#: What a group of columns is.
BANDS: Mapping[str, str] = MappingProxyType(
    {
        "sure": "how sure, when exported",
        "input": "figures you may change",
        "result": "what follows",
        "was": "where it comes from",
        "working": "workings",
    }
)


def write_table_sheet(book: Book, name: str) -> None:
    """Write one sheet of the plan."""
    sheet, styles = book.sheet(name), book.styles
    blocks = book.plan.on_sheet(name)
    sheet.write_ready(1, (0, 0), [text_cell("A1", styles.index("title"), name)])
    sheet.set_row(0, 28)
    if name in LEADS:
        sheet.write_ready(2, (0, 0), [text_cell("A2", styles.index("lead"), LEADS[name])])
    for block in blocks:
        if block.on_end:
            _write_on_end(book, block)
        else:
            _write_head(book, block)
            _write_rows(book, block)
            validate(book, block)
    if name == "Inputs":
        write_constants(book, blocks[-1].last_row + 3)
    for_screen_and_paper(book, name, blocks)


def _write_head(book: Book, block: Block) -> None:
    """Title, groups of columns, units and names of a block."""
    sheet, styles = book.sheet(block.sheet), book.styles
    span = (0, max(len(block.items) - 1, 0))
    sheet.write_ready(block.top, (0, 0), [text_cell(f"A{block.top}", styles.index("band"), block.title)])
    bands, before = [], ""
    for place, item in block.shown_items:
        kind = "was" if item.kind == "after" else "result" if item.kind == "spelled" else item.kind
        if kind != before and kind in BANDS:
            bands.append(text_cell(f"{letter(place)}{block.top + 1}", styles.index("unit_left"), BANDS[kind]))
        before = kind
    sheet.write_ready(block.top + 1, span, bands)
    words, units, names = [], [], []
    widths, lines = column_widths(book, book.plan.on_sheet(block.sheet)), 1
    for place, item in ((place, item) for place, item in enumerate(block.items) if item is not None):
        at = letter(place)
        if said := head_words(book, item):
            words.append(text_cell(f"{at}{block.top + 2}", styles.index("head_words", *_own_ground(item)), said))
            lines = max(lines, lines_of(said, widths[place], HEAD_SIZE, bold=True))
        if item.kind not in ("label", "after", "structure", "spelled"):
            unit = book.unit_words("price" if item.kind == "sure" else item.name, block.table)
            units.append(text_cell(f"{at}{block.top + 3}", styles.index("unit"), unit))
        names.append(text_cell(f"{at}{block.head_row}", styles.index(*_head_kinds(item)), _head(item)))
    sheet.set_row(block.top + 1, height_of(lines, HEAD_SIZE))
    sheet.write_ready(block.top + 2, span, words)
    sheet.write_ready(block.top + 3, span, units)
    sheet.write_ready(block.head_row, span, names)
    for place, item in block.shown_items:
        if item.kind in ("input", "result", "working"):
            remark(book, sheet, block.head_row, place, item.name)


def _head(item: PlannedColumn) -> str:
    return "as exported" if item.kind == "was" else item.name


def _own_ground(item: PlannedColumn) -> tuple[str, ...]:
    return ("input_head",) if item.kind == "input" else ()


def _head_kinds(item: PlannedColumn) -> tuple[str, ...]:
    if item.kind == "label":
        return ("head_left",)
    if item.kind in ("after", "spelled"):
        return ("head_left", "set_in")
    if item.kind in ("word", "structure"):
        return ("hidden",)
    return ("head", "code", *_own_ground(item)) if is_headed(item) else ("head",)


def _write_rows(book: Book, block: Block) -> None:
    """The rows of a block, from the top down, a number of them at a time."""
    if not block.rows:
        return
    filled = [(place, item) for place, item in enumerate(block.items) if item]
    strands: list[Strand] = ['<row r="', book.numbers(block), '">']
    for place, item in filled:
        strands += column_cells(book, block, place, item)
    strands.append("</row>")
    number, span = block.first_row, (filled[0][0], filled[-1][0])
    for rows, xml in woven(strands, len(block.rows), TELL_EVERY):
        book.sheet(block.sheet).write_rows(number, rows, span, xml)
        number += rows
        book.rows_done(rows)


def _write_on_end(book: Book, block: Block) -> None:
    """A table of one row, a line for each of its columns: name, unit, value, meaning."""
    sheet, styles, graph = book.sheet(block.sheet), book.styles, book.computed.graph
    sheet.write_ready(block.top, (0, 0), [text_cell(f"A{block.top}", styles.index("band"), block.title)])
    heads = (
        ("name", ("head_left",)),
        ("unit", ("head_left",)),
        ("value", ("head",)),
        ("meaning", ("head_left", "set_in")),
    )
    head = [
        text_cell(f"{letter(place)}{block.head_row}", styles.index(*kinds), text)
        for place, (text, kinds) in enumerate(heads)
    ]
    sheet.write_ready(block.head_row, (0, MEANING_PLACE), head)
    for number, (_, item) in enumerate(block.shown_items, block.first_row):
        unit = graph.unit_of(item.name)
        cells = [
            text_cell(f"{letter(NAME_PLACE)}{number}", styles.index("label"), item.name),
            text_cell(
                f"{letter(UNIT_PLACE)}{number}", styles.index("unit_left"), styles.unit(unit, is_share(item.name))
            ),
            _value_on_end(book, block, item, number, unit),
            text_cell(f"{letter(MEANING_PLACE)}{number}", styles.index("set_in"), graph.known(item.name).meaning),
        ]
        sheet.write_ready(number, (0, MEANING_PLACE), cells)
        if item.kind == "input":
            validate(book, block, line=(number, item.name))


def _value_on_end(book: Book, block: Block, item: PlannedColumn, number: int, unit: str) -> str:
    styles, address = book.styles, f"{letter(VALUE_PLACE)}{number}"
    (value,) = book.values(item.name)
    if item.kind == "input":
        kind = "input" if is_editable(book.words, block.table, item.name, block.rows[0]) else "fixed"
        return number_cell(address, styles.index(kind, numbers=styles.stated(unit)), as_stated(value))
    style = styles.index("result", numbers=styles.computed(unit))
    return formula_cell(address, style, escaped_formula(book.formulas[item.name].at(1)), held(value, unit))
