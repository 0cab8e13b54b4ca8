"""What is wanted of a pour, as people write it: on the command line, in a CSV, or as a list of orders."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from io import StringIO
from pathlib import Path
from typing import TypeVar

from pricing.days import day
from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.reading import NotRead, read_file

#: More of one thing is a slip, and so are more lines.
MOST_WANTED, MOST_LINES, MOST_BYTES = 100_000, 5_000, 4_000_000
WANT_COLUMNS = ("sku", "alloy", "size", "quantity")
ORDER_COLUMNS = ("order", "for", "sku", "alloy", "size", "quantity", "stone", "deposit", "due", "note")
NEEDED = ("sku", "quantity")
Found = TypeVar("Found")
_WHOLE = re.compile(r"\d{1,7}")


@dataclass(frozen=True)
class Want:
    """So many good sets of a product; alloy and size are empty where the product has but one, or they were left out."""

    sku: str
    alloy: str
    size: str
    quantity: int

    @property
    def named(self) -> str:
        return ":".join(each for each in (self.sku, self.alloy, self.size) if each)


@dataclass(frozen=True)
class Order:
    """One line of an order list: what is wanted, and what its card says. `due` is None where no day is named."""

    number: str
    customer: str
    want: Want
    stone: str
    deposit: str
    due: date | None
    note: str


def want_of(text: str) -> Want:
    """`thimble:sterling=12` or `band:gold-9ct:M=1`. Raises UsageFault for anything else."""
    what, mark, count = text.strip().rpartition("=")
    parts = [part.strip() for part in what.split(":")]
    if not mark or not parts[0] or len(parts) > 3:
        raise UsageFault(f'"{text}" is no want: write SKU:ALLOY=QUANTITY, as thimble:sterling=12, or SKU:ALLOY:SIZE=1.')
    sku, alloy, size = (*parts, "", "")[:3]
    return Want(sku, alloy, size, _counted(count, text))


def _counted(text: str, said: str) -> int:
    text = text.strip()
    if not (_WHOLE.fullmatch(text) and text.isascii() and 1 <= int(text) <= MOST_WANTED):
        raise UsageFault(f'"{said}": "{text}" is no quantity. Write a whole number from 1 to {MOST_WANTED}.')
    return int(text)


def wants_of_file(path: Path) -> list[Want]:
    """The wants of a CSV with the columns sku, alloy, size, quantity. Raises Faults with every line that is off."""
    found, faults = [], []
    for place, row in _rows(path, WANT_COLUMNS):
        try:
            found.append(_want(row))
        except UsageFault as off:
            faults.append(Fault(place, "", *_problem_and_mend(off)))
    return _all_or_faults(found, faults, path)


def orders_of_file(path: Path) -> list[Order]:
    """An order list: columns sku and quantity, and of alloy, size, order, for, stone, deposit, due, note what is known.

    Raises Faults with every line that is off.
    """
    found, faults = [], []
    for number, (place, row) in enumerate(_rows(path, ORDER_COLUMNS), 1):
        try:
            found.append(
                Order(
                    row.get("order", "") or str(number),
                    row.get("for", ""),
                    _want(row),
                    row.get("stone", ""),
                    row.get("deposit", ""),
                    day(row.get("due", "") or None),
                    row.get("note", ""),
                )
            )
        except UsageFault as off:
            faults.append(Fault(place, "", *_problem_and_mend(off)))
    return _all_or_faults(found, faults, path)


def _all_or_faults(found: list[Found], faults: list[Fault], path: Path) -> list[Found]:
    if faults:
        raise Faults(faults)
    if not found:
        raise Faults([Fault(Place(path.name), "", "nothing is wanted in it", "Add a line for each thing that is.")])
    return found


def _want(row: Mapping[str, str]) -> Want:
    for column in NEEDED:
        if not row.get(column):
            raise UsageFault(f"{column} is empty. Write what is wanted and how many.")
    return Want(row["sku"], row.get("alloy", ""), row.get("size", ""), _counted(row["quantity"], row["sku"]))


def _problem_and_mend(off: UsageFault) -> tuple[str, str]:
    problem, _, mend = str(off).partition(". ")
    return problem.rstrip("."), mend


def _rows(path: Path, known: Sequence[str]) -> list[tuple[Place, dict[str, str]]]:
    """The lines of a CSV that hold anything, with their places. Raises Faults where it is none."""
    try:
        text = read_file(path, MOST_BYTES).decode("utf-8-sig")
    except NotRead as fault:
        raise Faults([Fault(Place(str(path)), "", fault.problem, fault.mend)]) from None
    except UnicodeDecodeError:
        mend = "Save it as CSV in UTF-8 (a spreadsheet offers that when saving)."
        raise Faults([Fault(Place(path.name), "", "it is no text in UTF-8", mend)]) from None
    lines = text.splitlines()
    try:
        dialect = ";" if lines and lines[0].count(";") > lines[0].count(",") else ","
        reader = csv.reader(StringIO(text, newline=""), delimiter=dialect, strict=True)
        rows = [(reader.line_num, [cell.strip() for cell in row]) for row in reader]
    except csv.Error as off:
        mend = "Open it in a spreadsheet and save it as CSV again."
        raise Faults([Fault(Place(path.name), "", f"it is no CSV ({off})", mend)]) from None
    rows = [(line, row) for line, row in rows if any(row)]
    if not rows:
        raise Faults([Fault(Place(path.name), "", "it is empty", f"Begin it with the line {','.join(known)}.")])
    (head_line, head), *body = rows
    heads = [name.casefold() for name in head]
    place = Place(path.name, head_line)
    faults = [
        Fault(place, "", f'no column "{name}"', did_you_mean(name, known))
        for name in heads
        if name and name not in known
    ]
    faults += [
        Fault(place, "", f"the column {name} is missing", f"Begin the file with the line {','.join(known)}.")
        for name in NEEDED
        if name not in heads
    ]
    faults += [Fault(place, "", f"the column {name} stands twice", "Keep one.") for name in _twice(heads)]
    if len(body) > MOST_LINES:
        faults.append(Fault(place, "", f"it has {len(body):,} lines, and {MOST_LINES:,} is the most", "Split it."))
    faults += [
        Fault(
            Place(path.name, line), "", f"{len(row)} fields, and {len(heads)} columns", "See where a comma is missing."
        )
        for line, row in body
        if len(row) > len(heads)
    ]
    if faults:
        raise Faults(faults)
    return [(Place(path.name, line), dict(zip(heads, row, strict=False))) for line, row in body]


def _twice(names: Iterable[str]) -> list[str]:
    names = [name for name in names if name]
    return sorted({name for name in names if names.count(name) > 1})
