"""How a sheet of tables stands on the screen and on paper: widths, frozen panes, what is printed, what is protected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from pricing.shown import metal_of
from pricing.workbook.sheets.blocks import WORKINGS
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.heads import in_words
from pricing.workbook.sheets.plan import NAME_PLACE, VALUE_PLACE, Block, PlannedColumn
from pricing.workbook.sheets.ready_cells import ReadySheet
from pricing.workbook.sheets.styles import NO_LIMIT
from pricing.workbook.sheets.widths import CODE_SIZE, HEAD_SIZE, figures_width, text_width

#: Columns of words that stay in sight.
FROZEN_COLUMNS: Mapping[str, int] = MappingProxyType(
    {"Inputs": 1, "Parts": 2, "Steps": 3, "Costs": 2, "Channels": 1, "Prices": 3}
)
#: Sheets whose first table is the long one, so that its heads stay in sight whatever follows below.
LONG_FIRST = ("Costs",)
#: What may still be done on a protected sheet, besides typing into its inputs.
ALLOWED: Mapping[str, bool] = MappingProxyType({"format_columns": True, "format_rows": True, "autofilter": True})
A4 = 9
NARROWEST = 9
#: Names longer than this are shrunk.
MOST_WORDS = 48
#: Room for the arrow of a filter, in characters.
ARROW = 2


def for_screen_and_paper(book: Book, name: str, blocks: Sequence[Block]) -> None:
    """Set up a sheet of tables."""
    sheet = book.sheet(name)
    printed = [block for block in blocks if block.table not in WORKINGS]
    alone = printed[0] if len(printed) == 1 else None
    long = printed[0] if alone or name in LONG_FIRST else None
    _set_widths(book, sheet, blocks)
    sheet.freeze_panes(long.first_row - 1 if long else 2, FROZEN_COLUMNS[name])
    if long:
        sheet.autofilter(long.head_row - 1, 0, long.last_row - 1, long.shown_items[-1][0])
    last = _last_printed(printed)
    on_paper(book, sheet)
    sheet.print_area(0, 0, printed[-1].last_row - 1, last)
    if alone:
        sheet.repeat_rows(alone.head_row - 3, alone.head_row - 1)
        sheet.repeat_columns(0, FROZEN_COLUMNS[name] - 1)
    sheet.protect(options=dict(ALLOWED))


def on_paper(book: Book, sheet: ReadySheet, landscape: bool = True) -> None:
    """A4, one page wide, the workshop's name above and page numbers below."""
    # A blank after the size: a name may begin with a digit.
    workshop = book.costing.folder.stated.workshop.name.replace("&", "&&")
    if landscape:
        sheet.set_landscape()
    sheet.set_paper(A4)
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.5, right=0.5, top=0.7, bottom=0.7)
    sheet.set_header(f"&L&9 {workshop}&R&9 {metal_of(book.computed.resolved)}")
    sheet.set_footer("&L&9 &A&R&9 page &P of &N")
    sheet.hide_gridlines(2)


#: Kinds of columns that stay off the paper, by sheet: there is no room, and nobody reads them there.
OFF_PAPER: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"Steps": ("result", "working"), "Prices": ("input", "working")}
)


def _last_printed(blocks: Sequence[Block]) -> int:
    off_paper = OFF_PAPER.get(blocks[0].sheet, ("working",))
    return max(place for block in blocks for place, item in block.shown_items if item.kind not in off_paper)


def _set_widths(book: Book, sheet: ReadySheet, blocks: Sequence[Block]) -> None:
    widths = column_widths(book, blocks)
    hidden = {
        place
        for block in blocks
        if not block.on_end
        for place, item in enumerate(block.items)
        if item and item.kind in ("word", "structure")
    }
    for place, width in widths.items():
        options = {"hidden": True, "level": 1} if place in hidden else {}
        sheet.set_column(place, place, width, None, options)


def column_widths(book: Book, blocks: Sequence[Block]) -> dict[int, float]:
    """The widths of a sheet's columns by their place: what stands in them is not cut, heads in words are wrapped."""
    room = ARROW if len([block for block in blocks if block.table not in WORKINGS]) == 1 else 0
    widths: dict[int, float] = {}
    for block in blocks:
        if block.on_end:
            names = max(text_width(item.name) for _, item in block.shown_items)
            widths[NAME_PLACE] = max(widths.get(NAME_PLACE, NARROWEST), names)
            figures = max(
                figures_width(book.values(item.name), "#,##0.0000", bold=True) for _, item in block.shown_items
            )
            widths[VALUE_PLACE] = max(widths.get(VALUE_PLACE, NARROWEST), figures)
            continue
        for place, item in enumerate(block.items):
            if item is not None:
                widths[place] = max(widths.get(place, NARROWEST), _width(book, block, item) + room)
    return widths


def head_words(book: Book, item: PlannedColumn) -> str:
    """What stands above a column in words, where its name alone is a code."""
    return in_words(book.computed.graph, item.name) if is_headed(item) else ""


def is_headed(item: PlannedColumn) -> bool:
    """Whether a column is headed in words, and its code name stands small below."""
    return item.kind in ("input", "result", "working")


def _width(book: Book, block: Block, item: PlannedColumn) -> float:
    if item.kind in ("word", "structure"):
        return NARROWEST
    if item.label:
        if item.kind == "after" and item == block.shown_items[-1][1]:
            return NARROWEST  # nothing stands right of it: it runs on over the cells there
        longest = text_width(max(book.texts(block, item), key=len, default=""))
        return max(min(longest, MOST_WORDS), text_width(item.label.head, HEAD_SIZE, bold=True), NARROWEST)
    if item.kind == "sure":
        return max(
            text_width(item.name, HEAD_SIZE, bold=True), _figures_width(book, block, PlannedColumn("was", "price"))
        )
    if not is_headed(item):
        return text_width(item.name if item.kind == "spelled" else "as exported", HEAD_SIZE, bold=True)
    longest_word = max(text_width(word, HEAD_SIZE, bold=True) for word in head_words(book, item).split())
    return max(longest_word, text_width(item.name, CODE_SIZE), _figures_width(book, block, item))


def _figures_width(book: Book, block: Block, item: PlannedColumn) -> float:
    """What the figures of a column take; some hundred digits that stand for "no limit" are written as words."""
    figures = book.figures(item.name)
    unit = book.computed.graph.unit_of(item.name)
    finest = book.finest_currency if unit == "quoted" else None
    is_input = item.kind == "input"
    numbers = book.styles.stated(unit, finest) if is_input else book.styles.computed(unit, block.table, finest)
    return figures_width(figures[np.abs(figures) < NO_LIMIT], numbers.rpartition(";")[2], bold=item.kind == "result")
