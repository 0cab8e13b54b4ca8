"""How a sheet of tables stands on the screen and on paper: widths, frozen panes, what is printed, what is protected."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.plan import Block, PlannedColumn
from pricing.workbook.sheets.ready_cells import ReadySheet

#: Columns of words that stay in sight.
FROZEN_COLUMNS: Mapping[str, int] = MappingProxyType(
    {"Inputs": 1, "Parts": 2, "Steps": 3, "Costs": 2, "Channels": 1, "Prices": 3}
)
#: What may still be done on a protected sheet, besides typing into its inputs.
ALLOWED: Mapping[str, bool] = MappingProxyType({"format_columns": True, "format_rows": True, "autofilter": True})
A4 = 9
NARROWEST = 9
#: Room for the arrow of a filter, in characters.
ARROW = 2


def for_screen_and_paper(book: Book, name: str, blocks: Sequence[Block]) -> None:
    """Set up a sheet of tables."""
    sheet = book.sheet(name)
    alone = blocks[0] if len(blocks) == 1 else None
    _set_widths(sheet, blocks, alone is not None)
    sheet.freeze_panes(alone.first_row - 1 if alone else 2, FROZEN_COLUMNS[name])
    if alone:
        sheet.autofilter(alone.head_row - 1, 0, alone.last_row - 1, alone.shown_items[-1][0])
    last = _last_printed(blocks)
    on_paper(book, sheet)
    sheet.print_area(0, 0, blocks[-1].last_row - 1, last)
    if alone:
        sheet.repeat_rows(alone.head_row - 2, alone.head_row - 1)
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
    sheet.set_header(f"&L&9 {workshop}&R&9 metal of {book.computed.resolved.as_of}")
    sheet.set_footer("&L&9 &A&R&9 page &P of &N")
    sheet.hide_gridlines(2)


#: Kinds of columns that stay off the paper, by sheet: there is no room, and nobody reads them there.
OFF_PAPER: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {"Steps": ("result", "working"), "Prices": ("input", "working")}
)


def _last_printed(blocks: Sequence[Block]) -> int:
    off_paper = OFF_PAPER.get(blocks[0].sheet, ("working",))
    return max(place for block in blocks for place, item in block.shown_items if item.kind not in off_paper)


def _set_widths(sheet: ReadySheet, blocks: Sequence[Block], with_filter: bool) -> None:
    widths: dict[int, float] = {}
    hidden: set[int] = set()
    for block in blocks:
        if block.on_end:
            widths[0] = max(widths.get(0, NARROWEST), *[_width(item, with_filter) for _, item in block.shown_items])
            continue
        for place, item in enumerate(block.items):
            if item is None:
                continue
            widths[place] = max(widths.get(place, NARROWEST), _width(item, with_filter))
            if item.kind in ("word", "structure"):
                hidden.add(place)
    for place, width in widths.items():
        options = {"hidden": True, "level": 1} if place in hidden else {}
        sheet.set_column(place, place, width, None, options)


def _width(item: PlannedColumn, with_filter: bool) -> float:
    room = ARROW if with_filter else 0
    if item.label:
        return item.label.width + room
    return len(item.name) * 0.95 + 1 + room
