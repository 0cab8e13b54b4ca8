"""The cells of a workbook that came in, as they are stored: what a cell holds and where it stands."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from functools import cached_property
from pathlib import Path
from typing import Any

from pricing.errors import Fault, Place, TroytagError
from pricing.folder.toml.number_meant import proposed, readings
from pricing.formulas.bounds import Bounds
from pricing.workbook.back.safe_to_open import sound_content

#: Columns that are looked at: more than any sheet of ours has.
MOST_COLUMNS = 400
#: From here on a number that should be a fraction was meant as a percentage.
SURELY_PER_CENT = 2
#: Most cells of a sheet that hold something: some three times those of a workbook of a thousand variants.
MOST_CELLS = 5_000_000
#: The sheet of checks, the words beside its verdict, and the rows among which that is looked for.
CHECKS, ALL_CHECKS, VERDICT_ROWS = "Checks", "All checks", 20
#: A sheet ends for us behind so many empty rows.
EMPTY_ROWS = 2_000


@dataclass(frozen=True, slots=True)
class ReadCell:
    """One cell: its sheet and address, and what it holds: a number, a text, a switch, a date, or nothing."""

    sheet: str
    address: str
    value: object = None
    is_formula: bool = False

    @property
    def place(self) -> Place:
        """`Products!D7`."""
        return Place(f"{self.sheet}!{self.address}")

    @property
    def text(self) -> str:
        """Its words; a whole number as its digits."""
        if self.value is None or self.is_formula:
            return ""
        if isinstance(self.value, float) and self.value.is_integer():
            return str(int(self.value))
        return str(self.value).strip()

    def fault(self, key: str, problem: str, mend: str = "") -> Fault:
        return Fault(self.place, key, problem, mend)


@dataclass(frozen=True)
class ReadSheet:
    """A sheet's cells that hold something, by row (counted from 1) and column (counted from 0)."""

    name: str
    rows: Mapping[int, Mapping[int, ReadCell]]

    def cell(self, row: int, column: int) -> ReadCell:
        """The cell there, also an empty one."""
        held = self.rows.get(row, {}).get(column)
        return held if held is not None else ReadCell(self.name, address(row, column))

    def text(self, row: int, column: int) -> str:
        held = self.rows.get(row, {}).get(column)
        return held.text if held is not None else ""

    @cached_property
    def last_row(self) -> int:
        return max(self.rows, default=0)

    @cached_property
    def blocks(self) -> dict[tuple[str, str], Any]:
        """Its blocks that were found already, by table and title: see `find_blocks.block_rows`."""
        return {}

    @cached_property
    def texts(self) -> Mapping[str, Sequence[tuple[int, int]]]:
        """Where each text stands: its rows and columns, in their order."""
        found: dict[str, list[tuple[int, int]]] = {}
        for row in sorted(self.rows):
            for column, cell in sorted(self.rows[row].items()):
                if isinstance(cell.value, str) and not cell.is_formula:
                    found.setdefault(cell.text, []).append((row, column))
        return found


@dataclass(frozen=True)
class Incoming:
    """A workbook that came in: its sheets, what it says of itself (custom properties), and the verdict of its checks.

    The verdict is as the program that saved it computed it; empty where none did.
    """

    path: Path
    sheets: Mapping[str, ReadSheet]
    says: Mapping[str, str]
    verdict: str = ""


def address(row: int, column: int) -> str:
    """`D7` of row 7 (counted from 1) and column 3 (counted from 0)."""
    letters = ""
    column += 1
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(ord("A") + rest) + letters
    return f"{letters}{row}"


def read_workbook(path: Path, names: Iterable[str]) -> Incoming:
    """Those of the named sheets that a workbook has.

    Raises UsageFault where there is no such file, TroytagError (one sentence) where it cannot or should not be opened.
    """
    content = sound_content(path)
    import io
    import warnings

    import openpyxl

    verdict = ""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # extensions that it does not know are of no concern here
            book = openpyxl.load_workbook(io.BytesIO(content), read_only=True, keep_links=False)
            try:
                sheets: dict[str, ReadSheet] = {}
                for name in names:
                    if name in book.sheetnames:
                        sheets[name] = _sheet(book[name], name, path)
                says = {each.name: str(each.value) for each in book.custom_doc_props.props}
            finally:
                book.close()
            if CHECKS in sheets:
                verdict = _verdict(openpyxl.load_workbook(io.BytesIO(content), read_only=True, data_only=True))
    except TroytagError:
        raise
    except Exception as fault:  # the library lets pass whatever its parsers meet in a file that is not what it claims
        raise TroytagError(
            f"{path} is no workbook that can be read ({type(fault).__name__}). Save it again as .xlsx."
        ) from None
    return Incoming(path, sheets, says, verdict)


def _verdict(book: Any) -> str:
    """What stands first on *Checks*, as it was computed last."""
    sheet = book[CHECKS]
    sheet.reset_dimensions()
    try:
        for row in sheet.iter_rows(max_row=VERDICT_ROWS, max_col=MOST_COLUMNS):
            texts = [str(cell.value) for cell in row if cell.value is not None]
            if texts[:1] == [ALL_CHECKS]:
                return texts[1] if len(texts) > 1 else ""
        return ""
    finally:
        book.close()


def _sheet(sheet: Any, name: str, path: Path) -> ReadSheet:
    sheet.reset_dimensions()  # what it claims is no reason to read on
    rows: dict[int, dict[int, ReadCell]] = {}
    empty = count = 0
    for number, row in enumerate(sheet.iter_rows(max_col=MOST_COLUMNS), 1):
        held = {
            place: ReadCell(name, address(number, place), cell.value, cell.data_type == "f")
            for place, cell in enumerate(row)
            if cell.value is not None
        }
        if held:
            rows[number] = held
            empty = 0
            count += len(held)
            if count > MOST_CELLS:
                raise TroytagError(f"{path} is not read: its sheet {name} has more than {MOST_CELLS:,} filled cells.")
        elif (empty := empty + 1) > EMPTY_ROWS:
            break
    return ReadSheet(name, rows)


def number_fault(cell: ReadCell, key: str, bounds: Bounds | None, optional: bool = False) -> Fault | None:
    """What is wrong with a cell that holds a figure, or None."""
    value = cell.value
    if cell.is_formula:
        return cell.fault(key, "a formula stands where a figure belongs", "Type the figure itself.")
    if value is None:
        return None if optional else cell.fault(key, "nothing stands here", "Type the figure.")
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        return cell.fault(key, f"{_kind_in_words(value)} stands where a number belongs", _number_meant(value))
    if value != value or abs(value) == float("inf"):
        return cell.fault(key, f"{value} is no number to count with", "Type a finite number.")
    if bounds is not None and not _within(bounds, value):
        hint = f" {value:g} % is {value / 100:g}." if bounds.high == 1 and SURELY_PER_CENT <= value <= 100 else ""
        return cell.fault(key, f"{value:g} is out of bounds", f"Type {bounds.words()}.{hint}")
    return None


def switch_fault(cell: ReadCell, key: str) -> Fault | None:
    """What is wrong with a cell that holds a yes or no, or None."""
    if cell.is_formula:
        return cell.fault(key, "a formula stands where 1 or 0 belongs", "Type 1 for yes, 0 for no.")
    if isinstance(cell.value, (bool, int, float)) and cell.value in (0, 1):
        return None
    said = "nothing" if cell.value is None else _kind_in_words(cell.value)
    return cell.fault(key, f"{said} stands where 1 or 0 belongs", "Type 1 for yes, 0 for no.")


def _within(bounds: Bounds, value: float) -> bool:
    low, high = bounds.low, bounds.high
    if low is not None and not (value > low if bounds.open_low else value >= low):
        return False
    if high is not None and not (value < high if bounds.open_high else value <= high):
        return False
    return not bounds.whole or value == int(value)


def _kind_in_words(value: object) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (date, datetime, time, timedelta)):
        return "a date or a time"
    text = str(value)
    return f'the text "{text if len(text) <= 40 else text[:39] + "…"}"'


def _number_meant(value: object) -> str:
    found = readings(value) if isinstance(value, str) else ()
    if isinstance(value, (date, datetime)):
        return "The spreadsheet took it for one: set the cell's format to a number and type it again."
    return f"Type {proposed(found)}." if found else "Type a number."
