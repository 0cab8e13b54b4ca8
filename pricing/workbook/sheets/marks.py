"""Marks on Prices: a price below cost, and rows of channels in which a product is not sold."""

from __future__ import annotations

from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.ready_cells import letter

#: Columns that are marked where a price does not pay.
MARKED = ("price", "profit", "margin")


def mark_prices(book: Book) -> None:
    """Put the conditional formats on Prices."""
    block, sheet = book.plan.block("Prices", "price"), book.sheet("Prices")
    if not block.rows:
        return
    sold, profit = (f"${book.layout[name].letter}{block.first_row}" for name in ("sold", "profit"))
    losing = book.styles.alarm()
    for name in MARKED:
        at = book.layout[name].letter
        sheet.conditional_format(
            f"{at}{block.first_row}:{at}{block.last_row}",
            {"type": "formula", "criteria": f"=AND({sold}=1,{profit}<0)", "format": losing},
        )
    last = letter(block.shown_items[-1][0])
    sheet.conditional_format(
        f"A{block.first_row}:{last}{block.last_row}",
        {"type": "formula", "criteria": f"={sold}=0", "format": book.styles.idle()},
    )
