"""The sheet Checks: does the metal balance, does the sheet say what the engine said, were inputs changed."""

from __future__ import annotations

from collections.abc import Sequence

from pricing.model.alloy import COMPOSITION_TOLERANCE
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.check_sections import (
    CHANGED,
    FINGERPRINT_TOLERANCE,
    OK,
    TOLERANCE,
    WRONG,
    CheckSection,
    balances,
    compositions,
    fingerprints,
    prices,
)
from pricing.workbook.sheets.free_rows import CellPut, FreeSheet, Live
from pricing.workbook.sheets.printing import ALLOWED, on_paper

FIRST_SECTION = 10
VERDICT_CELL = "$B$4"


def write_checks(book: Book) -> None:
    """Write the sheet."""
    page = FreeSheet(book, "Checks")
    sections: list[CheckSection] = []
    top = FIRST_SECTION
    for make in (compositions, balances, prices, fingerprints):
        section = make(book, top)
        sections.append(section)
        top = section.last_row + 3
    _write_top(book, page, sections)
    for section in sections:
        page.row(section.top, [CellPut(section.title, ("band",))])
        page.row(
            section.top + 1, [CellPut(head, section.head_kinds(place)) for place, head in enumerate(section.heads)]
        )
        for number, cells in enumerate(section.rows, section.first_row):
            page.row(number, cells)
        _mark_what_is_wrong(book, section)
    page.sheet.set_column(0, 0, 42)
    page.sheet.set_column(1, 2, 18)
    page.sheet.set_column(3, 8, 17)
    page.sheet.freeze_panes(4, 0)
    on_paper(book, page.sheet)
    page.sheet.print_area(0, 0, sections[-1].last_row - 1, 8)
    page.sheet.protect(options=dict(ALLOWED))


def _write_top(book: Book, page: FreeSheet, sections: Sequence[CheckSection]) -> None:
    *checked, prints = sections
    (states,) = prints.verdicts
    # Whatever is neither OK nor explained counts as wrong, also an error.
    not_right = "+".join(
        f'ROWS({cells})-COUNTIF({cells},"{OK}")-COUNTIF({cells},"{CHANGED}")'
        for section in checked
        for cells in section.verdict_ranges()
    )
    verdict = (
        f'IF({not_right or 0}>0,"{WRONG}: look below for {WRONG}",'
        f'IF(inputs_changed>0,"{OK}, with inputs changed since the export","{OK}"))'
    )
    changed = f'COUNTIF({states}{prints.first_row}:{states}{prints.last_row},"changed")'
    page.row(1, [CellPut("Checks", ("title",))], 28)
    page.row(2, [CellPut("Every line must say OK. A word in red says what to look at.", ("lead",))])
    page.row(4, [CellPut("All checks", ("strong",)), CellPut(Live(verdict, OK), ("verdict",))])
    page.row(
        5, [CellPut("Columns of inputs changed since the export"), CellPut(Live(changed, 0.0), ("computed",), "0")]
    )
    page.row(6, [CellPut("Tolerance against the engine, relative"), CellPut(TOLERANCE, ("fixed",), "0E+0")])
    page.row(7, [CellPut("Tolerance of a fingerprint, relative"), CellPut(FINGERPRINT_TOLERANCE, ("fixed",), "0E+0")])
    page.row(8, [CellPut("Tolerance of a composition's sum"), CellPut(COMPOSITION_TOLERANCE, ("fixed",))])
    names = {
        4: "all_checks",
        5: "inputs_changed",
        6: "check_tolerance",
        7: "fingerprint_tolerance",
        8: "composition_tolerance",
    }
    for row, name in names.items():
        book.workbook.define_name(name, f"=Checks!$B${row}")
    page.sheet.conditional_format(
        "B4", {"type": "text", "criteria": "begins with", "value": WRONG, "format": book.styles.alarm()}
    )


def _mark_what_is_wrong(book: Book, section: CheckSection) -> None:
    for cells in section.verdict_ranges():
        for word in (WRONG, "changed", CHANGED):
            form = book.styles.alarm() if word == WRONG else book.styles.idle()
            rule = {"type": "cell", "criteria": "==", "value": f'"{word}"', "format": form}
            book.sheet("Checks").conditional_format(cells, rule)
        book.sheet("Checks").conditional_format(cells, {"type": "errors", "format": book.styles.alarm()})


def verdict_address() -> str:
    """Where the verdict over all checks stands."""
    return f"Checks!{VERDICT_CELL}"


def variant_names(book: Book, count: int) -> str:
    """The cells that hold the names of the first variants, product and alloy in one."""
    first = _balances_top(book) + 2
    return f"=Checks!$A${first}:$A${first + count - 1}"


def _balances_top(book: Book) -> int:
    return FIRST_SECTION + len(book.computed.resolved.alloys) + 4
