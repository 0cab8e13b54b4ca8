"""LibreOffice behind JSON lines, for `tests/office.py`.

Run by a Python that has LibreOffice's bridge (`import uno`), which a virtual environment has not:
hence a program of its own, with nothing but the standard library and the bridge. It takes one
request a line from stdin, `{"do": "values", ...}`, and gives one answer a line to stdout:
`{"answer": ...}`, `{"fault": "what was wrong with the request"}` or `{"dead": "how LibreOffice ended"}`.
When stdin closes it ends LibreOffice and itself, so nothing outlives the tests, however they end.
"""

from __future__ import annotations

import json
import os
import queue
import shutil
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path

import uno
from com.sun.star.beans import PropertyValue
from com.sun.star.connection import NoConnectException
from com.sun.star.table import TableSortField

START_LIMIT_SECONDS = 300
END_LIMIT_SECONDS = 60
FORMULA_RESULT_ERROR = uno.getConstantByName("com.sun.star.sheet.FormulaResult.ERROR")
CONTENT = 1 | 2 | 4 | 16  # number, date, text and formula of com.sun.star.sheet.CellFlags: all but notes and looks
TRUE_AND_FALSE = {"=TRUE()", "=FALSE()"}  # how LibreOffice keeps a plain true or false
FORMULA = uno.Enum("com.sun.star.table.CellContentType", "FORMULA")

READ_FILTERS = {".xlsx": "Calc MS Excel 2007 XML", ".ods": "calc8"}
WRITE_FILTERS = {"xlsx": "Calc MS Excel 2007 XML", "ods": "calc8", "pdf": "calc_pdf_Export"}

# Recalculation on load: 0 is "always", 1 "never"; left alone, LibreOffice believes the values that a file carries.
# No lock files: one left behind by a killed LibreOffice would keep the next from opening the workbook.
PROFILE = """<?xml version="1.0" encoding="UTF-8"?>
<oor:items xmlns:oor="http://openoffice.org/2001/registry">
<item oor:path="/org.openoffice.Office.Calc/Formula/Load">
<prop oor:name="OOXMLRecalcMode" oor:op="fuse"><value>{mode}</value></prop>
<prop oor:name="ODFRecalcMode" oor:op="fuse"><value>{mode}</value></prop>
</item>
<item oor:path="/org.openoffice.Office.Common/Misc">
<prop oor:name="UseDocumentOOoLockFile" oor:op="fuse"><value>false</value></prop>
<prop oor:name="UseDocumentSystemFileLocking" oor:op="fuse"><value>false</value></prop>
</item>
</oor:items>
"""


class RequestFault(Exception):
    """The request cannot be done, and LibreOffice is well."""


class Dead(Exception):
    """LibreOffice has ended, or never began."""


def named(**properties):
    """UNO's way to pass keyword arguments."""
    values = []
    for name, value in properties.items():
        values.append(PropertyValue())
        values[-1].Name, values[-1].Value = name, value
    return tuple(values)


def column_letters(column: int) -> str:
    """Column 0 is A, 26 is AA."""
    letters = ""
    column += 1
    while column:
        column, letter = divmod(column - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return letters


class Server:
    """One LibreOffice and the workbooks open in it, by number."""

    def __init__(self, directory: Path, soffice: str, recalculate_on_load: bool):
        self.directory = directory
        self.said = directory / "soffice.log"
        self.pipe = directory.name
        self.documents: dict[int, object] = {}
        self.opened = 0
        profile = directory / "profile" / "user" / "registrymodifications.xcu"
        profile.parent.mkdir(parents=True)
        profile.write_text(PROFILE.format(mode=0 if recalculate_on_load else 1))
        with self.said.open("wb") as said:
            self.office = subprocess.Popen(
                [
                    soffice,
                    f"-env:UserInstallation={(directory / 'profile').as_uri()}",
                    f"--accept=pipe,name={self.pipe};urp;",
                    *("--headless", "--invisible", "--norestore", "--nologo", "--nodefault", "--nolockcheck"),
                ],
                stdin=subprocess.DEVNULL,
                stdout=said,
                stderr=subprocess.STDOUT,
                env={**os.environ, "HOME": str(directory), "SAL_USE_VCLPLUGIN": "svp", "LC_ALL": "C.UTF-8"},
            )
        self.desktop = self.connect()

    def connect(self):
        context = uno.getComponentContext()
        resolver = context.ServiceManager.createInstanceWithContext("com.sun.star.bridge.UnoUrlResolver", context)
        end = time.monotonic() + START_LIMIT_SECONDS
        while time.monotonic() < end:
            try:
                remote = resolver.resolve(f"uno:pipe,name={self.pipe};urp;StarOffice.ComponentContext")
                return remote.ServiceManager.createInstanceWithContext("com.sun.star.frame.Desktop", remote)
            except NoConnectException:
                if self.office.poll() is not None:
                    raise self.dead() from None
                time.sleep(0.05)
        raise Dead(f"LibreOffice did not start within {START_LIMIT_SECONDS} s; it said: {self.last_words()}")

    def last_words(self) -> str:
        return self.said.read_text(errors="replace")[-2000:].strip() or "nothing"

    def dead(self) -> Dead:
        try:
            code = self.office.wait(END_LIMIT_SECONDS)
        except subprocess.TimeoutExpired:
            return Dead(f"LibreOffice closed its connection but still runs; it said: {self.last_words()}")
        return Dead(f"LibreOffice ended by itself with code {code}; it said: {self.last_words()}")

    def end(self):
        """Ask LibreOffice to end, so that it takes its pipes away; who does not hear is killed."""
        try:
            for document in self.documents.values():
                document.close(True)
            self.desktop.terminate()
        except Exception:  # whatever hinders the polite end, the other follows
            pass
        try:
            self.office.wait(END_LIMIT_SECONDS)
        except subprocess.TimeoutExpired:
            pass  # the process group goes at the end of `main`

    # What can be asked.

    def do_open(self, path: str) -> dict:
        reader = READ_FILTERS.get(Path(path).suffix)
        if reader is None:
            raise RequestFault(f"{path}: not a workbook by its name; known: {', '.join(READ_FILTERS)}")
        arguments = named(Hidden=True, FilterName=reader)
        document = self.desktop.loadComponentFromURL(Path(path).as_uri(), "_blank", 0, arguments)
        if document is None or not hasattr(document, "Sheets"):
            raise RequestFault(f"{path}: LibreOffice cannot read it as a workbook")
        self.opened += 1
        self.documents[self.opened] = document
        return {"book": self.opened, "sheets": list(document.Sheets.ElementNames)}

    def sheet(self, book: int, name: str):
        sheets = self.documents[book].Sheets
        if not sheets.hasByName(name):
            raise RequestFault(f'no sheet "{name}"; there are {", ".join(sheets.ElementNames)}')
        return sheets.getByName(name)

    def do_set(self, book: int, cells: list, over_formulas: bool = False) -> int:
        """Each of `cells` is [sheet, name, number, text, true, false or null]; a formula only if that is said."""
        found = []
        for sheet_name, cell_name, value in cells:
            sheet = self.sheet(book, sheet_name)
            try:
                cell = sheet.getCellRangeByName(cell_name).getCellByPosition(0, 0)
            except Exception:
                raise RequestFault(f"{sheet_name}.{cell_name}: no such cell") from None
            if not over_formulas and cell.Type == FORMULA and cell.Formula not in TRUE_AND_FALSE:
                raise RequestFault(f"{sheet_name}.{cell_name} is no input: it holds {cell.Formula}")
            found.append((cell, value))
        for cell, value in found:
            if value is None:
                cell.clearContents(CONTENT)
            elif isinstance(value, str):
                cell.setString(value)
            elif isinstance(value, bool):
                cell.setFormula(f"={value}()".upper())
            else:
                cell.setValue(value)
        return len(found)

    def do_delete_rows(self, book: int, sheet: str, first: int, count: int) -> None:
        """Take out `count` rows from `first` (counted from 1), after the sheet's protection."""
        found = self.sheet(book, sheet)
        found.unprotect("")
        found.Rows.removeByIndex(first - 1, count)

    def do_insert_column(self, book: int, sheet: str, before: int) -> None:
        """Put an empty column before the one at this place (counted from 0), after taking the protection off."""
        found = self.sheet(book, sheet)
        found.unprotect("")
        found.Columns.insertByIndex(before, 1)

    def do_sort(self, book: int, sheet: str, area: str, column: int) -> None:
        """Sort the rows of an area by one of its columns (counted from 0), from the greatest down."""
        found = self.sheet(book, sheet)
        found.unprotect("")
        field = TableSortField()
        field.Field, field.IsAscending = column, False
        fields = uno.Any("[]com.sun.star.table.TableSortField", (field,))
        found.getCellRangeByName(area).sort(named(SortFields=fields, ContainsHeader=False))

    def do_recalculate(self, book: int, everything: bool) -> None:
        document = self.documents[book]
        document.calculateAll() if everything else document.calculate()

    def do_values(self, book: int, sheet: str) -> dict:
        """Every cell with content; the value of a cell in error is null."""
        area = self.sheet(book, sheet).createCursor()
        area.gotoStartOfUsedArea(False)
        area.gotoEndOfUsedArea(True)
        first = area.getRangeAddress()
        rows = area.getDataArray()
        # An empty cell reads as "", as a formula's empty text does.
        empty = self.empty_cells(area) if any("" in row for row in rows) else set()
        letters = [column_letters(first.StartColumn + column) for column in range(len(rows[0]))]
        values = {}
        for number, row in enumerate(rows, first.StartRow + 1):
            for letter, value in zip(letters, row, strict=True):
                if value != "" or f"{letter}{number}" not in empty:
                    values[f"{letter}{number}"] = value
        return values

    def empty_cells(self, area) -> set:
        """The names of the cells of an area that hold nothing."""
        found = set()
        for place in area.queryEmptyCells().getRangeAddresses():
            rows = range(place.StartRow + 1, place.EndRow + 2)
            for column in range(place.StartColumn, place.EndColumn + 1):
                letter = column_letters(column)
                found.update(f"{letter}{row}" for row in rows)
        return found

    def do_errors(self, book: int) -> list:
        """[sheet, cell, code, what it shows, formula] of every formula whose result is an error."""
        errors = []
        sheets = self.documents[book].Sheets
        for name in sheets.ElementNames:
            ranges = sheets.getByName(name).queryFormulaCells(FORMULA_RESULT_ERROR)
            for index in range(ranges.getCount()):
                area = ranges.getByIndex(index)
                first = area.getRangeAddress()
                for row_index, row in enumerate(area.getFormulaArray()):
                    for column_index, formula in enumerate(row):
                        cell = area.getCellByPosition(column_index, row_index)
                        where = f"{column_letters(first.StartColumn + column_index)}{first.StartRow + row_index + 1}"
                        errors.append([name, where, cell.getError(), cell.getString(), formula])
        return errors

    def do_save_as(self, book: int, path: str, kind: str) -> None:
        if kind not in WRITE_FILTERS:
            raise RequestFault(f'no kind "{kind}" to save as; known: {", ".join(WRITE_FILTERS)}')
        Path(path).unlink(missing_ok=True)  # so that what lies there afterwards is what was written now
        self.documents[book].storeToURL(Path(path).as_uri(), named(FilterName=WRITE_FILTERS[kind], Overwrite=True))
        if not Path(path).is_file():
            raise RequestFault(f"{path}: LibreOffice said that it wrote the file, and there is none")

    def do_close(self, book: int) -> None:
        self.documents.pop(book).close(True)

    def answer(self, request: dict) -> dict:
        action = getattr(self, f"do_{request.pop('do')}")
        try:
            return {"answer": action(**request)}
        except Exception as fault:  # LibreOffice's own exceptions have no common base in Python
            if not self.answers():
                raise self.dead() from None
            return {"fault": str(fault) if isinstance(fault, RequestFault) else f"{type(fault).__name__}: {fault}"}

    def answers(self) -> bool:
        """Whether LibreOffice lives: what a dead one raises may be almost anything."""
        try:
            return self.desktop.supportsService("com.sun.star.frame.Desktop")
        except Exception:
            return False


def watched_lines(lines: queue.Queue) -> None:
    """Hand on the lines of stdin; when it closes, give the work in hand a while and then end all."""
    for line in sys.stdin:
        lines.put(line)
    lines.put(None)
    time.sleep(2 * END_LIMIT_SECONDS)
    os.killpg(0, signal.SIGKILL)


def say(message: dict) -> None:
    print(json.dumps(message), flush=True)


def main(directory: str, soffice: str, recalculate: str) -> None:
    if os.getpgrp() != os.getpid():
        sys.exit("start this in a process group of its own: it ends by killing its group")
    lines: queue.Queue = queue.Queue()
    threading.Thread(target=watched_lines, args=[lines], daemon=True).start()
    try:
        server = Server(Path(directory), soffice, recalculate == "recalculate")
        say({"answer": "ready"})
        for line in iter(lines.get, None):
            say(server.answer(json.loads(line)))
        server.end()
    except Dead as fault:
        say({"dead": str(fault)})
    except BrokenPipeError:
        pass  # nobody listens any more
    shutil.rmtree(directory, ignore_errors=True)
    os.killpg(0, signal.SIGKILL)  # whoever is left of the group that the caller made for us, ourselves last


if __name__ == "__main__":
    main(*sys.argv[1:])
