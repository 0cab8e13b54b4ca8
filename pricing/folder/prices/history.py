"""The price history, `metal_prices.csv`, to quotes; every fault with the line and column of its field."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from datetime import date
from typing import Any, get_args

from pydantic import ValidationError

from pricing.errors import Fault, Faults, Place, did_you_mean
from pricing.extremes import LONGEST_NUMBER
from pricing.folder.files import PRICES_FILE
from pricing.folder.refused_values import refusals
from pricing.folder.toml.number_meant import proposed, readings
from pricing.folder.toml.places import KeyPath
from pricing.folder.toml.text import shown
from pricing.model.quote import Quote, QuotedPer

COLUMNS = ("date", "metal", "price", "per", "currency", "source")
HEADER = ",".join(COLUMNS)

_DAY = re.compile(r"\d{4}-\d{2}-\d{2}", re.ASCII)
_PRICE = re.compile(r"[+-]?(?:\d+(?:\.\d*)?|\.\d+)(?:[eE][+-]?\d{1,4})?", re.ASCII)
_LINE_END = re.compile(r"\r\n|\r|\n")

#: So many faults of one file are told; a maker who mends these has mended the reason of the others.
MOST_FAULTS = 50


class PriceLines:
    """The lines of the file, and where the fields of a record begin."""

    def __init__(self, text: str):
        self.text = text
        self._lines = _LINE_END.split(text)

    def at(self, path: KeyPath) -> Place:
        """The place of a path, which is nothing, a line, or a line and the name of a column."""
        if not path or not isinstance(path[0], int) or not 1 <= path[0] <= len(self._lines):
            return Place(PRICES_FILE)
        header = [
            name.strip().strip('"') for name in next((line for line in self._lines if line.strip()), "").split(",")
        ]
        if len(path) > 1 and path[1] in header:
            return self.field(path[0], header.index(str(path[1])))
        return self.place(path[0])

    def place(self, line: int, column: int = 1) -> Place:
        content = self._lines[line - 1] if line <= len(self._lines) else ""
        return Place(PRICES_FILE, line, column, shown(content))

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
    passed over, and blanks around a field do not count; nor do empty fields behind the last column, which spreadsheets
    write. Of very many faults the first are told, and how many more there are.
    """
    quotes: list[Quote] = []
    faults: list[Fault] = []
    columns: tuple[str, ...] = ()
    try:
        for line, record in _records(lines):
            if not columns:
                columns = _columns(lines, line, _without_empty_end(record, 1))
                continue
            record = _without_empty_end(record, len(columns))
            found, wrong = _quote(lines, line, dict(zip(columns, record, strict=False)), columns, record)
            if found is not None:
                quotes.append(found)
            faults += wrong
    except Faults as ended:
        return tuple(quotes), _first_of([*faults, *ended.faults])
    if not columns:
        faults.append(Fault(Place(PRICES_FILE), "", "the file is empty", f"Its first line is {HEADER}."))
    return tuple(quotes), _first_of(faults)


def _without_empty_end(record: list[str], least: int) -> list[str]:
    """The record without empty fields at its end, but never fewer than `least` of its fields."""
    count = len(record)
    while count > least and not record[count - 1]:
        count -= 1
    return record[:count]


def _first_of(faults: list[Fault]) -> list[Fault]:
    more = len(faults) - MOST_FAULTS
    if more <= 1:
        return faults
    place = faults[MOST_FAULTS].place
    return [*faults[:MOST_FAULTS], Fault(place, "", f"… and {more} more like these", "Mend those above first.")]


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
    if strange := _strange_header(lines, line, record):
        raise Faults([strange])
    faults = []
    for number, name in enumerate(record):
        if name not in COLUMNS:
            place = lines.field(line, number)
            if _DAY.fullmatch(name) or number == 0 and not set(record) & set(COLUMNS):
                mend = f"Put this line above it: {HEADER}"
                if not any(_DAY.fullmatch(field) or readings(field) for field in record):
                    mend = f"This one has other names: write {HEADER}"
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


def _strange_header(lines: PriceLines, line: int, record: list[str]) -> Fault | None:
    """A first line as spreadsheets make it: one that tells them the separator, or names in capitals."""
    if re.fullmatch(r"sep=.?", record[0], re.IGNORECASE):
        problem = "this line tells a spreadsheet which sign stands between the fields, and is none of the history"
        return Fault(lines.place(line), "", problem, f"Take it out, so that the first line is {HEADER}.")
    small = [name.lower() for name in record]
    if small != record and sorted(small) == sorted(COLUMNS):
        problem = "the names of the columns have capitals in them"
        return Fault(lines.place(line), "", problem, f"Write them small: {','.join(small)}.")
    return None


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
    if written["per"] == "unit" and written["metal"] and written["metal"] == written["currency"]:
        problem = f'the exchange rate of "{written["metal"]}" is told in itself'
        faults.append(fault("currency", problem, "Name the currency that one of it costs, or take the line out."))
        return None, faults
    try:
        return Quote.model_validate(values), faults
    except ValidationError as error:
        told = [one for one in refusals(Quote, values, error) if one.kind != "missing"]
        faults += [fault(str(one.path[0]), one.problem, one.mend) for one in told]
        return None, faults


def _wrong_count(lines: PriceLines, line: int, columns: tuple[str, ...], record: list[str]) -> Fault:
    """More or fewer fields than columns; the usual reasons are told by name."""
    price = columns.index("price")
    more = len(record) - len(columns)
    pieces_of_price = record[price : price + more + 1]
    cut = ",".join(pieces_of_price)
    if more > 0 and all(pieces_of_price) and (found := readings(cut)):
        mend = _number_mend(cut) if len(found) == 1 else f"Write {proposed(found)}."
        pieces = "two" if more == 1 else f"{more + 1} pieces"
        return Fault(lines.field(line, price), "price", f"a comma cuts the price in {pieces}", mend)
    fields = "1 field stands" if len(record) == 1 else f"{len(record)} fields stand"
    problem = f"{fields} where {len(columns)} belong"
    if more > 0 and columns[-1] == "source" and record[columns.index("per")] in get_args(QuotedPer):
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
    if len(text) > LONGEST_NUMBER:
        raise _NotRead(f'"{text[:12]}…" has {len(text)} signs', "Write it with the digits that a price has.")
    if not _PRICE.fullmatch(text):
        raise _NotRead(f'"{text}" is no number', _number_mend(text))
    if float(text) == float("inf"):
        raise _NotRead(f'"{text}" is no number to count with', "Write a smaller one.")
    return float(text)


def _number_mend(text: str) -> str:
    found = readings(text)
    if not found:
        return "Write digits and a point only."
    if re.fullmatch(r"[+-]?\d+,\d+", text, re.ASCII) and len(found) == 1:
        return f"Write it with a point: {found[0]}."
    return f"Write digits and a point only: {proposed(found)}."
