"""Adding to the price history: what a person wrote there by hand is neither changed nor moved."""

from __future__ import annotations

import codecs
import csv
import io
import re
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from pricing.errors import Fault, Faults, Place
from pricing.folder.files import PRICES_FILE
from pricing.folder.prices.history import COLUMNS, HEADER, PriceLines, read_quotes
from pricing.folder.toml.text import content_hash, decoded, read_content
from pricing.folder.whole_files import held, put_in_place
from pricing.model.quote import Quote

_LINE_END = re.compile(r"\r\n|\r|\n")
#: So often a file may be changed by somebody else while a line is added to it.
_TRIES = 5


def typed_quote(fields: Mapping[str, str]) -> Quote:
    """The quote that these texts say, by the names of the columns; the rules and the words are the file's own.

    Raises Faults whose keys are the names of the columns.
    """
    text = HEADER + "\n" + _line([fields.get(column, "") for column in COLUMNS])
    quotes, faults = read_quotes(PriceLines(text))
    if faults:
        raise Faults([Fault(Place(PRICES_FILE), fault.key, fault.problem, fault.mend) for fault in faults])
    if not quotes:  # a line in which nothing stands is none
        raise Faults([Fault(Place(PRICES_FILE), key, f"{key} is missing", "Type it.") for key in ("metal", "price")])
    return quotes[0].model_copy(update={"line": 0})


def append_quote(root: Path, quote: Quote, price: str | None = None) -> None:
    """Add one line at the end of `metal_prices.csv`; of several of one day the last counts.

    `price` is the number as it was typed, to be written so. Raises Faults where the file has a fault behind which no
    line can be read, and where it cannot be written; then nothing has changed.
    """
    append_quotes(root, [(quote, price)])


def append_quotes(root: Path, quotes: Sequence[tuple[Quote, str | None]]) -> None:
    """Add several lines at once, all or none; as `append_quote`. A file that is not there is begun."""
    with held(root):
        for attempt in range(1, _TRIES + 1):
            exists = (root / PRICES_FILE).exists()
            content = read_content(root, PRICES_FILE) if exists else b""
            new = with_lines(content, quotes)
            try:
                put_in_place(root, PRICES_FILE, new, content_hash(content) if exists else None)
                return
            except Faults:
                unchanged = (root / PRICES_FILE).exists() == exists and (
                    not exists or read_content(root, PRICES_FILE) == content
                )
                if unchanged or attempt == _TRIES:
                    raise


def with_lines(content: bytes, quotes: Sequence[tuple[Quote, str | None]]) -> bytes:
    """The bytes of a price history with lines for these quotes at their end, in its own columns and line ends."""
    text = decoded(PRICES_FILE, content)
    line_ends = _LINE_END.findall(text)
    line_end = line_ends[-1] if line_ends else "\n"
    before, faults_before = read_quotes(PriceLines(text))
    addition = line_end if text and not text.endswith(("\r", "\n")) else ""
    columns = _columns(text)
    if columns is None:
        columns = COLUMNS
        addition += HEADER + line_end
        faults_before = []
    for quote, price in quotes:
        addition += _line(_fields(quote, price, columns)) + line_end
    new = text + addition
    after, faults_after = read_quotes(PriceLines(new))
    same = len(faults_after) == len(faults_before) and _alike(after) == _alike(before) + _alike([q for q, _ in quotes])
    if not same:
        raise Faults(faults_before or faults_after or [_unlike()])
    begun = content if text else codecs.BOM_UTF8 * content.startswith(codecs.BOM_UTF8)
    return begun + addition.encode()


def _columns(text: str) -> tuple[str, ...] | None:
    """The names of the columns in the file's order; None where nothing stands in it."""
    try:
        for record in csv.reader(io.StringIO(text, newline="")):
            if any(field.strip() for field in record):
                return tuple(field.strip() for field in record)
    except csv.Error:
        return COLUMNS  # the reading tells what is wrong
    return None


def _fields(quote: Quote, price: str | None, columns: Sequence[str]) -> list[str]:
    written = {
        "date": quote.date.isoformat(),
        "metal": quote.metal,
        "price": price if price is not None else repr(quote.price),
        "per": quote.per,
        "currency": quote.currency,
        "source": quote.source,
    }
    return [written.get(column, "") for column in columns]


def _line(fields: Sequence[str]) -> str:
    out = io.StringIO()
    csv.writer(out, lineterminator="").writerow(fields)
    return out.getvalue()


def _alike(quotes: Sequence[Quote]) -> list[tuple[Any, ...]]:
    """What is compared: everything but the line, and the source without blanks around it."""
    return [(each.date, each.metal, each.price, each.per, each.currency, each.source.strip()) for each in quotes]


def _unlike() -> Fault:
    return Fault(Place(PRICES_FILE), "", "a line would not be read back as it was meant", "Add it by hand.")
