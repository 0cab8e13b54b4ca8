"""The sheet Map: what a price earns and what is asked against two figures, as stated numbers on a scale of colours.

Each cell is the whole folder computed again with both figures changed: no formula of a sheet does that, so this is the
one sheet that does not move with the others, and it says so.
"""

from __future__ import annotations

from collections.abc import Sequence

from pricing.shown import Shown, metal_of, shown_of
from pricing.studies.map.price_map import Map
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.free_rows import CellPut, FreeSheet
from pricing.workbook.sheets.printing import ALLOWED, on_paper
from pricing.workbook.sheets.ready_cells import letter

NAME = "Map"
#: What the sheet is for, as Read me lists it.
MEANING = "a price and a margin against two figures; stated, not live"
#: From low to high: colours that stay apart for most eyes and print as light to dark; the numbers stand in the cells.
LOW, MIDDLE, HIGH = "#F3D9B1", "#FFFFFF", "#A9CBE8"
FIRST_WIDTH, WIDTH = 22, 11


def write_maps(book: Book, maps: Sequence[Map]) -> None:
    """Write the sheet: for each map the margins of the price that goes out, then the prices that the policy asks."""
    page, shown = FreeSheet(book, NAME), shown_of(book.costing.folder.stated)
    page.row(1, [CellPut("A price against two figures", ("title",))], 30)
    told = f"Stated, not live: computed from the workshop folder, {metal_of(book.computed.resolved)}."
    page.row(2, [CellPut(f"{told} What is changed in other sheets changes nothing here.", ("lead",))])
    number = 4
    for each in maps:
        where = f"{each.sku} in {each.alloy}, {shown.channel(each.channel)}"
        margins = f"{where}: margin at {shown.price(each.channel, each.held)} {shown.currency_in(each.channel)}"
        number = _table(book, page, number, margins, each, each.margins, "0.0%")
        money = book.styles.money(currency=shown.currency_in(each.channel))
        number = _table(book, page, number, f"{where}: {_asked(each, shown)}", each, each.prices, money)
    widest = max(len(each.across.values) for each in maps)
    page.sheet.set_column(0, 0, FIRST_WIDTH)
    page.sheet.set_column(1, widest, WIDTH)
    on_paper(book, page.sheet)
    page.sheet.protect(options=dict(ALLOWED))


def _asked(each: Map, shown: Shown) -> str:
    return f"price that the policy asks, {shown.currency_in(each.channel)}"


def _table(
    book: Book,
    page: FreeSheet,
    number: int,
    title: str,
    found: Map,
    cells: Sequence[Sequence[float | None]],
    numbers: str,
) -> int:
    """One table from a row on; the row behind it and a blank."""
    across, down = found.across, found.down
    page.row(number, [CellPut(title, ("band",))])
    page.row(
        number + 1, [CellPut(f"down: {down.path}", ("unit_left",)), CellPut(f"across: {across.path}", ("unit_left",))]
    )
    page.row(
        number + 2, [CellPut("", ("head_left",)), *(CellPut(each, ("head",), _digits(each)) for each in across.values)]
    )
    first = number + 3
    for row, (value, line) in enumerate(zip(down.values, cells, strict=True), first):
        page.row(
            row,
            [
                CellPut(value, ("strong", "label"), _digits(value)),
                *(CellPut(cell, ("computed",), numbers) for cell in line),
            ],
        )
    last = first + len(down.values) - 1
    page.sheet.conditional_format(
        f"B{first}:{letter(len(across.values))}{last}",
        {"type": "3_color_scale", "min_color": LOW, "mid_color": MIDDLE, "max_color": HIGH},
    )
    return last + 2


def _digits(value: float) -> str:
    """How a value along a side is shown: as it was stated, or with few digits where it lies between two stated ones."""
    return "General" if float(f"{value:.4g}") == value else "0.00" if abs(value) >= 1 else "0.0000"
