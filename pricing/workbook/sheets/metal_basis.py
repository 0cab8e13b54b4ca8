"""What the prices stand on: each metal at its price, live, and whether that price was typed into the workbook."""

from __future__ import annotations

from pricing.model.rows import MetalRow
from pricing.shown import metal_named
from pricing.workbook.sheets.book import Book
from pricing.workbook.sheets.labels import metal_unit
from pricing.workbook.sheets.ready_cells import letter

TYPED = " (typed into this workbook)"
#: Digits of a metal price in a sentence: two, or as many as were stated.
LEAST_DIGITS, MOST_DIGITS = 2, 6


def basis(book: Book) -> list[tuple[str, str]]:
    """For each metal a formula for what it stands at, and what that says now: `Silver (Ag) 38.40 USD/ozt of …`."""
    block = book.plan.block("Inputs", "metal")
    places = {(item.kind, item.name): letter(place) for place, item in block.shown_items}
    found = []
    for number, metal in enumerate(book.computed.resolved.metals, block.first_row):
        name, unit = (f"Inputs!${places['label', head]}${number}" for head in ("name", "quoted in"))
        price, was = (f"Inputs!${places[kind, 'quote_price']}${number}" for kind in ("input", "was"))
        quoted_on = f"Inputs!${places['after', 'quoted on']}${number}"
        digits = _digits(metal)
        since = f'IF({price}={was}," of "&{quoted_on},"{TYPED}")'
        now = (
            f"{metal_named(metal.name)} {metal.quote_price:,.{digits}f} {metal_unit(metal)} of {metal.quoted_on or ''}"
        )
        found.append((f'{name}&" "&FIXED({price},{digits})&" "&{unit}&{since}', now))
    return found


def _digits(metal: MetalRow) -> int:
    text = f"{metal.quote_price:.{MOST_DIGITS}f}".rstrip("0")
    return max(LEAST_DIGITS, len(text.partition(".")[2]))
