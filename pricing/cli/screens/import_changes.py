"""What `troytag import` prints."""

from __future__ import annotations

import textwrap

from pricing.errors import visible
from pricing.folder.files import PRICES_FILE
from pricing.shown import metal_named
from pricing.workbook.back.changes import FolderChange
from pricing.workbook.back.proposal import Proposal
from pricing.workbook.back.quotes import NewQuote

#: How far what is said of a change is set in, and how wide it may be.
INDENT, WIDTH = "    ", 80


def show(found: Proposal, dated: bool) -> None:
    """What would change, file by file."""
    if not found.files:
        print("nothing that the folder takes has changed" if found.notes else "nothing has changed")
        return
    for change in found.changes:
        for line in _lines(change):
            print(visible(line))
    for quote in found.quotes:
        print(visible(_quote_line(quote)))
    if found.quotes:
        (on,) = {each.quote.date for each in found.quotes}
        said = f"dated {on}" if dated else f"dated today, {on}; another day with --as-of"
        print(f"{INDENT}new {'line' if len(found.quotes) == 1 else 'lines'} of the price history, {said}")
    for file in found.new_products:
        print(visible(f"{file}  new product"))


def _lines(change: FolderChange) -> list[str]:
    told = change.from_and_to()
    lines = [f"{change.file}  {path}  {_from_to(old, new)}" for path, old, new in told]
    if change.why:
        lines += textwrap.wrap(f"({change.why})", WIDTH, initial_indent=INDENT, subsequent_indent=INDENT)
    return lines


def _from_to(old: str, new: str) -> str:
    return f"stays {new}" if old == new else f"{old} -> {new}"


def _quote_line(new: NewQuote) -> str:
    quote = new.quote
    unit = f"{quote.currency}/{quote.per}" if quote.per != "unit" else quote.currency
    return f"{PRICES_FILE}  {metal_named(quote.metal)}  {new.old.price:g} -> {new.price} {unit}"


def tell_written(found: Proposal) -> None:
    """Which files were written, to stderr."""
    from pricing.cli.screens.screen import err

    err().print(f"\nWritten: {', '.join(found.files)}.")
