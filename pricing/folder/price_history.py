"""The price history, `metal_prices.csv`, to quotes; every fault with the line and column of its field."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import date
from typing import Any

from pydantic import ValidationError

from pricing.errors import Fault, Faults, Place, did_you_mean
from pricing.folder.places import Path
from pricing.folder.telling import refusals
from pricing.folder.text import shown
from pricing.model.quote import Quote

FILE = "metal_prices.csv"
COLUMNS = ("date", "metal", "price", "per", "currency", "source")
HEADER = ",".join(COLUMNS)

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_PRICE = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,4})?", re.ASCII)
_LINE_END = re.compile(r"\r\n|\r|\n")


class PriceLines:
    """The lines of the file, and where the fields of a record begin."""

    def __init__(self, text: str):
        self.text = text
        self._lines = _LINE_END.split(text)

    def at(self, path: Path) -> Place:
        """The place of a path, which is nothing, a line, or a line and the name of a column."""
        if not path or not isinstance(path[0], int) or not 1 <= path[0] <= len(self._lines):
            return Place(FILE)
        header = [
            name.strip().strip('"') for name in next((line for line in self._lines if line.strip()), "").split(",")
        ]
        if len(path) > 1 and path[1] in header:
            return self.field(path[0], header.index(str(path[1])))
        return self.place(path[0])

    def place(self, line: int, column: int = 1) -> Place:
        content = self._lines[line - 1] if line <= len(self._lines) else ""
        return Place(FILE, line, column, shown(content))

    def field(self, line: int, number: int) -> Place:
        """Where field `number` (from 0) begins in the record that begins on `line`, behind its leading blanks."""
        column, quoted = 0, False
        while number:
            content = self._lines[line - 1]
            if column >= len(content):  # a quoted field goes on, on the next line
                line, column = line + 1, 0
                if line > len(self._lines):
                    return self.place(len(self._lines))
                continue
            if content[column] == '"':
                quoted = not quoted
            elif content[column] == "," and not quoted:
                number -= 1
            column += 1
        rest = self._lines[line - 1][column:]
        return self.place(line, column + 1 + len(rest) - len(rest.lstrip(" ")))


def read_quotes(lines: PriceLines) -> tuple[tuple[Quote, ...], list[Fault]]:
    """The quotes on these lines, in their order, and a fault for everything that is none.

    The first line names the columns date, metal, price, per, currency, source, in any order. Empty lines are
    passed over, and blanks around a field do not count.
    """
    quotes: list[Quote] = []
    faults: list[Fault] = []
    columns: tuple[str, ...] = ()
    try:
        for line, record in _records(lines):
            if not columns:
                columns = _columns(lines, line, record)
                continue
            found, wrong = _quote(lines, line, dict(zip(columns, record, strict=False)), columns, record)
            if found is not None:
                quotes.append(found)
            faults += wrong
    except Faults as ended:
        return tuple(quotes), [*faults, *ended.faults]
    if not columns:
        faults.append(Fault(Place(FILE), "", "the file is empty", f"Its first line is {HEADER}."))
    return tuple(quotes), faults


def _records(lines: PriceLines) -> Iterator[tuple[int, list[str]]]:
    """Every record that is not empty, with the line on which it begins."""
    reader = csv.reader(io.StringIO(lines.text, newline=""), strict=True)
    line = 1
    while True:
        try:
            record = next(reader)
        except StopIteration:
            return
        except csv.Error as error:
            raise Faults([_unreadable(lines, line, str(error))]) from None
        if any(field.strip() for field in record):
            yield line, [field.strip() for field in record]
        line = reader.line_num + 1


def _unreadable(lines: PriceLines, line: int, message: str) -> Fault:
    if "end of data" in message:
        return Fault(
            lines.place(line), "", "a quote is opened on this line and never closed", "Close it, or take it out."
        )
    if "expected after" in message:
        mend = 'Write a quote inside quotes twice: "a ""b"" c".'
        return Fault(lines.place(line), "", "there is text behind a closing quote", mend)
    if "field limit" in message:
        problem = "a field that begins on this line is longer than any can be"
        return Fault(lines.place(line), "", problem, "See where its quotes should close.")
    return Fault(lines.place(line), "", f"this line cannot be read ({message})", f"Write it as {HEADER}.")


def _columns(lines: PriceLines, line: int, record: list[str]) -> tuple[str, ...]:
    """The names of the columns, in the file's order; Faults for what is missing, unknown or there twice."""
    faults = []
    for number, name in enumerate(record):
        if name not in COLUMNS:
            place = lines.field(line, number)
            if _DAY.fullmatch(name) or number == 0 and not set(record) & set(COLUMNS):
                mend = f"Put this line above it: {HEADER}"
                if ";" in name or "\t" in name:
                    mend = f"Put commas between the fields, and in the first line: {HEADER}"
                raise Faults([Fault(lines.place(line), "", "the line with the names of the columns is missing", mend)])
            faults.append(Fault(place, "", f'no column is called "{name}"', did_you_mean(name, COLUMNS)))
        elif name in record[:number]:
            faults.append(Fault(lines.field(line, number), "", f'the column "{name}" is there twice', "Keep one."))
    missing = [name for name in COLUMNS if name not in record]
    if missing and not faults:
        faults.append(Fault(lines.place(line), "", f"the column {missing[0]} is missing", f"Write {HEADER}."))
    if faults:
        raise Faults(faults)
    return tuple(record)


def _quote(
    lines: PriceLines, line: int, written: dict[str, str], columns: tuple[str, ...], record: list[str]
) -> tuple[Quote | None, list[Fault]]:
    if len(record) != len(columns):
        return None, [_wrong_count(lines, line, columns, record)]

    def fault(column: str, problem: str, mend: str) -> Fault:
        return Fault(lines.field(line, columns.index(column)), column, problem, mend)

    faults = []
    values: dict[str, Any] = {**written, "line": line}
    for column in COLUMNS[:-1]:
        if not written[column]:
            faults.append(fault(column, "nothing stands here", f"Write the {column}."))
            del values[column]
    for column, read in (("date", _day), ("price", _price)):
        if column in values:
            try:
                values[column] = read(written[column])
            except _NotRead as wrong:
                faults.append(fault(column, wrong.problem, wrong.mend))
                del values[column]
    try:
        return Quote.model_validate(values), faults
    except ValidationError as error:
        told = [one for one in refusals(Quote, values, error) if one.kind != "missing"]
        faults += [fault(str(one.path[0]), one.problem, one.mend) for one in told]
        return None, faults


def _wrong_count(lines: PriceLines, line: int, columns: tuple[str, ...], record: list[str]) -> Fault:
    """More or fewer fields than columns; the usual reasons are told by name."""
    price = columns.index("price")
    if len(record) == len(columns) + 1 and record[price].isdecimal() and record[price + 1].isdecimal():
        mend = f"Write it with a point: {record[price]}.{record[price + 1]}."
        return Fault(lines.field(line, price), "price", "a comma cuts the price in two", mend)
    problem = f"{len(record)} fields stand where {len(columns)} belong"
    if len(record) > len(columns) and columns[-1] == "source":
        mend = 'Put a source that has a comma in quotes: "a, b".'
        return Fault(lines.field(line, len(columns) - 1), "source", problem, mend)
    if len(record) == len(columns) - 1 and columns[-1] == "source":
        return Fault(lines.place(line), "", problem, "Add a comma at its end where there is no source.")
    return Fault(lines.place(line), "", problem, f"Write {','.join(columns)}.")


class _NotRead(Exception):
    """A field that is not what belongs there."""

    def __init__(self, problem: str, mend: str):
        super().__init__(problem)
        self.problem, self.mend = problem, mend


def _day(text: str) -> date:
    if not _DAY.fullmatch(text):
        raise _NotRead(f'"{text}" is no day', "Write year, month, day as 2026-11-20.")
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise _NotRead(f'"{text}" is no day of the calendar', "Look it up again.") from None


def _price(text: str) -> float:
    if not _PRICE.fullmatch(text):
        raise _NotRead(f'"{text}" is no number', _number_mend(text))
    if float(text) == float("inf"):
        raise _NotRead(f'"{text}" is no number to count with', "Write a smaller one.")
    return float(text)


def _number_mend(text: str) -> str:
    if re.fullmatch(r"\d+,\d{1,2}", text, re.ASCII):
        return f"Write it with a point: {text.replace(',', '.')}."
    bare = re.sub(r"[^\d.]", "", text, flags=re.ASCII)
    return f"Write digits and a point only: {bare}." if _PRICE.fullmatch(bare) else "Write digits and a point only."
