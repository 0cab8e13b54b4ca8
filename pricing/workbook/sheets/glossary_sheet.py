"""The sheet Words: what every name means, where it stands, its formula in its own words, and why it is so."""

from __future__ import annotations

from pricing.formulas.bounds import is_share
from pricing.formulas.glossary import glossary
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.free_rows import CellPut, FreeSheet
from pricing.workbook.sheets.printing import ALLOWED, on_paper

HEADS = (
    ("name", 26),
    ("unit", 14),
    ("sheet", 10),
    ("one for each", 11),
    ("meaning", 52),
    ("formula", 60),
    ("source or reason", 46),
)
HEAD_ROW = 4
#: Signs that a line of the wide columns holds, at their widths.
LINE = ((4, 58), (5, 64), (6, 52))


def write_words(book: Book) -> None:
    """Write the sheet, by the alphabet."""
    page = FreeSheet(book, "Words")
    page.row(1, [CellPut("Words", ("title",))], 28)
    page.row(
        2,
        [
            CellPut(
                "The same names everywhere: in these sheets, on the command line, in files for other programs.",
                ("lead",),
            )
        ],
    )
    page.row(HEAD_ROW, [CellPut(head, ("head_left",)) for head, _ in HEADS])
    entries = sorted(glossary(book.computed.graph), key=lambda entry: entry.name)
    for number, entry in enumerate(entries, HEAD_ROW + 1):
        unit = book.styles.unit(entry.unit, is_share(entry.name))
        sheet = book.layout[entry.name].sheet if entry.name in book.layout else ""
        because = entry.because if entry.formula else "stated by the maker"
        texts = (entry.name, unit, sheet, entry.table.replace("_", " "), entry.meaning, entry.formula, because)
        lines = max(_lines(texts[place], width) for place, width in LINE)
        kinds = [("wrapped", "strong") if place == 0 else ("wrapped",) for place in range(len(texts))]
        page.row(number, [CellPut(text, kind) for text, kind in zip(texts, kinds, strict=True)], 14.5 * lines)
    for place, (_, width) in enumerate(HEADS):
        page.sheet.set_column(place, place, width)
    last = HEAD_ROW + len(entries)
    page.sheet.freeze_panes(HEAD_ROW, 1)
    page.sheet.autofilter(HEAD_ROW - 1, 0, last - 1, len(HEADS) - 1)
    page.sheet.repeat_rows(HEAD_ROW - 1)
    on_paper(book, page.sheet)
    page.sheet.print_area(0, 0, last - 1, len(HEADS) - 1)
    page.sheet.protect(options=dict(ALLOWED))


def _lines(text: str, width: int) -> int:
    return max(1, -(-len(text) // width))
