"""Writes the live workbook of a costing."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, time
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING

from xlsxwriter import Workbook
from xlsxwriter.exceptions import FileCreateError, FileSizeError

from pricing.costing import Costing
from pricing.errors import TroytagError
from pricing.formulas.sheet_layout import SHEETS as TABLE_SHEETS
from pricing.safe_files import placed
from pricing.studies.map.price_map import Map
from pricing.studies.prices_out import Wanted, prices_out
from pricing.workbook.sheets.book import Book, Progress, planned
from pricing.workbook.sheets.checks import write_checks
from pricing.workbook.sheets.defined import define_names
from pricing.workbook.sheets.glossary_sheet import write_words
from pricing.workbook.sheets.labels import Words
from pricing.workbook.sheets.map_sheet import MEANING as MAP_MEANING
from pricing.workbook.sheets.map_sheet import NAME as MAP
from pricing.workbook.sheets.map_sheet import write_maps
from pricing.workbook.sheets.marks import mark_prices
from pricing.workbook.sheets.plan import Plan, of_little_use
from pricing.workbook.sheets.price_list import write_price_list
from pricing.workbook.sheets.read_me import write_read_me
from pricing.workbook.sheets.ready_cells import ReadySheet
from pricing.workbook.sheets.styles import ACCENT, FONT, Styles
from pricing.workbook.sheets.tables_sheet import write_table_sheet
from pricing.workbook.sheets.zipped import QuicklyZipped

if TYPE_CHECKING:
    from pricing.studies.doubt.in_doubt import InDoubt

#: Rows of a sheet in every spreadsheet program that reads this format.
MOST_ROWS = 1_048_576
#: Names of the custom properties that say where a workbook comes from.
WORKSHOP, AS_OF, CURRENCY = "troytag workshop", "troytag as of", "troytag currency"
#: Sheets as they lie, from the left.
ORDER = ("Read me", *TABLE_SHEETS, "Price list", "Checks", "Words")


def write_workbook(
    costing: Costing,
    path: Path,
    force: bool = False,
    progress: Progress | None = None,
    wanted: Wanted = None,
    maps: Sequence[Map] = (),
    doubt: InDoubt | None = None,
    advise: Callable[[str], None] | None = None,
) -> None:
    """Write the live workbook of a costing to `path`, whole or not at all.

    `wanted` are the prices that its price list shows at first; all else is live, at what is asked. `maps` stand as
    they are on a sheet of their own; without any there is none. With a `doubt`, *Prices* says how sure each price is.

    `advise` is told, before it is written, where it is too large to be of use; `progress` now and then how many rows of
    how many are written. Raises UsageFault where a file stands already and `force` is not given, TroytagError where it
    cannot be written or would not fit a sheet.
    """
    words, out = Words(costing, doubt), prices_out(costing, wanted)
    plan, formulas = planned(costing.computed, words)
    check_size(plan)
    if advise and (little := of_little_use(plan.cells)):
        advise(little)
    with placed(path, force) as beside, TemporaryDirectory(ignore_cleanup_errors=True) as rows:
        workbook = _new_workbook(costing, beside, rows)
        styles = Styles(workbook, costing.computed.resolved.currency)
        _write(Book(costing, workbook, words, plan, formulas, styles, out, progress), maps)
        try:
            workbook.close()
        except (FileCreateError, FileSizeError) as fault:  # the library's own words for it
            raise OSError(str(fault)) from None


def carried(costing: Costing) -> dict[str, str]:
    """What a workbook says of where it comes from, so that it can be brought back: custom properties by name."""
    resolved = costing.computed.resolved
    workshop = costing.folder.stated.workshop.name
    return {WORKSHOP: workshop, AS_OF: resolved.as_of.isoformat(), CURRENCY: resolved.currency}


def check_size(plan: Plan) -> None:
    """Raise TroytagError where a sheet would have more rows than spreadsheet programs take."""
    for block in plan.blocks:
        if block.last_row > MOST_ROWS:
            raise TroytagError(
                f"{block.sheet} would need {block.last_row:,} rows, and a sheet holds {MOST_ROWS:,}. "
                "Split the folder, or leave products out."
            )


def _new_workbook(costing: Costing, path: Path, rows: str) -> Workbook:
    """An empty workbook that keeps its unfinished rows in the folder `rows`."""
    options = {
        "constant_memory": True, "strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False,
        "tmpdir": rows, "default_format_properties": {"font_name": FONT, "font_size": 10},
    }  # fmt: skip
    workbook: Workbook = QuicklyZipped(path, options)
    workbook.worksheet_class = ReadySheet
    # The day of the metal, not of the writing: the same costing gives the same file.
    created = datetime.combine(costing.computed.resolved.as_of, time())
    title = f"{costing.folder.stated.workshop.name}: costs and prices"
    workbook.set_properties({"title": title, "created": created, "comments": "Written by troytag."})
    for name, words in carried(costing).items():
        workbook.set_custom_property(name, words, "text")
    return workbook


def _write(book: Book, maps: Sequence[Map]) -> None:
    for sheet in (*ORDER, *([MAP] if maps else [])):
        book.sheets[sheet] = book.workbook.add_worksheet(sheet)
    for sheet in ("Read me", "Inputs", "Prices", "Price list"):
        book.sheets[sheet].set_tab_color(ACCENT)
    # The list is what most open it for, with an edition or without: it says itself whether its prices are published.
    book.sheets["Price list"].activate()
    write_read_me(book, ((MAP, MAP_MEANING),) if maps else ())
    for sheet in TABLE_SHEETS:
        write_table_sheet(book, sheet)
    mark_prices(book)
    write_price_list(book)
    write_checks(book)
    write_words(book)
    if maps:
        write_maps(book, maps)
    define_names(book)
