"""A real spreadsheet program for tests: open a workbook, edit inputs, recalculate, read every cell.

    with Office() as office:
        book = office.open(path)
        book.set({("Inputs", "B7"): 30.25})
        book.recalculate()
        assert book.errors() == []
        assert book.values("Prices")["D2"] == 41.0

One LibreOffice serves all; tests take it from the fixture `office`. It recalculates every workbook
on load; to see that it does, and that no result was merely read back, spoil the values that the
file carries first (`spoil_cached_values`).
"""

from __future__ import annotations

import hashlib
import json
import math
import os
import shutil
import signal
import subprocess
import tempfile
import threading
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from functools import cache
from pathlib import Path

SERVER = Path(__file__).with_name("office_server.py")
END_LIMIT_SECONDS = 150
DAY_ZERO = date(1899, 12, 30)  # of the numbers that a sheet shows as dates
Content = float | str | bool | date | None


class OfficeMissing(Exception):
    """LibreOffice, or a Python that can drive it, is not installed."""


class OfficeFailure(Exception):
    """A request was wrong, or LibreOffice ended or did not answer in time."""


@cache
def office_programs() -> tuple[str, str]:
    """Paths of `soffice` and of a Python that has its bridge; raises OfficeMissing."""
    soffice = shutil.which("soffice") or shutil.which("libreoffice")
    if soffice is None:
        raise OfficeMissing("LibreOffice is not installed (Debian: libreoffice-calc)")
    beside = Path(soffice).resolve().with_name("python")
    for python in ("/usr/bin/python3", str(beside)):
        # -I: neither the folder we stand in nor the virtual environment's variables reach it
        command = [python, "-I", "-c", "import uno"]
        if Path(python).exists() and subprocess.run(command, capture_output=True).returncode == 0:
            return soffice, python
    raise OfficeMissing("no Python has LibreOffice's bridge (Debian: python3-uno)")


@dataclass(frozen=True)
class CellError:
    """A formula whose result is an error: LibreOffice's own `code` (532: division by zero), and what the cell shows."""

    sheet: str
    cell: str
    code: int
    shown: str
    formula: str


class Office:
    """One LibreOffice with a profile of its own in a temporary folder; starts on the first `open`.

    A time limit holds for each request; what outlasts it is killed. After that, or after a crash, the
    books that were open are lost, and the next `open` starts anew.
    """

    def __init__(self, *, recalculate_on_load: bool = True, limit_seconds: float = 600):
        self.recalculate_on_load = recalculate_on_load
        self.limit_seconds = limit_seconds
        self._server: subprocess.Popen | None = None

    def __enter__(self) -> Office:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def start(self) -> None:
        if self._server is not None:
            return
        soffice, python = office_programs()
        self.directory = Path(tempfile.mkdtemp(prefix="troytag-office-"))
        self._said = tempfile.TemporaryFile()  # closed in `close`
        recalculate = "recalculate" if self.recalculate_on_load else "believe"
        self._server = subprocess.Popen(
            [python, "-I", str(SERVER), str(self.directory), soffice, recalculate],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=self._said,
            text=True,
            start_new_session=True,  # the server and its LibreOffice are one group, and end as one
        )
        self._hear("start")

    def open(self, path: Path | str) -> Book:
        path = Path(path).resolve()
        if not path.is_file():
            raise OfficeFailure(f"{path}: no such file")
        if path.stat().st_size == 0:
            raise OfficeFailure(f"{path}: the file is empty")  # LibreOffice would show a workbook without content
        self.start()
        opened = self._ask("open", path=str(path))
        return Book(self, self._server, opened["book"], tuple(opened["sheets"]))

    def close(self) -> None:
        """End LibreOffice and everything that it started; harmless if it has ended."""
        server, self._server = self._server, None
        if server is None:
            return
        try:
            server.stdin.close()
            server.wait(END_LIMIT_SECONDS)
        except (BrokenPipeError, subprocess.TimeoutExpired):
            pass
        finally:
            _kill_group(server)
            server.wait()
            server.stdout.close()
            self._said.close()
            shutil.rmtree(self.directory, ignore_errors=True)
            for pipe in _pipes(self.directory):
                pipe.unlink(missing_ok=True)

    @property
    def process_group(self) -> int | None:
        """Number of the group in which LibreOffice and its server run; None when none runs."""
        return None if self._server is None else self._server.pid

    def _ask(self, do: str, **arguments: object):
        try:
            self._server.stdin.write(json.dumps({"do": do, **arguments}) + "\n")
            self._server.stdin.flush()
        except BrokenPipeError:
            pass  # why it ended is the next thing to hear
        return self._hear(do)

    def _hear(self, do: str):
        late = threading.Event()
        server = self._server

        def give_up() -> None:
            late.set()
            _kill_group(server)

        alarm = threading.Timer(self.limit_seconds, give_up)
        alarm.start()
        try:
            line = server.stdout.readline()
        finally:
            alarm.cancel()
        if line:
            heard = json.loads(line)
            if "answer" in heard:
                return heard["answer"]
            if "fault" in heard:
                raise OfficeFailure(heard["fault"])
            reason = heard["dead"]
        elif late.is_set():
            reason = f"LibreOffice did not answer within {self.limit_seconds} s"
        else:
            self._said.seek(0)
            reason = f"the server ended; it said: {self._said.read().decode(errors='replace').strip()[-2000:]}"
        self.close()
        raise OfficeFailure(f"{do}: {reason}")


@dataclass(frozen=True)
class Book:
    """A workbook open in LibreOffice; `sheets` holds their names in order."""

    office: Office
    server: subprocess.Popen
    number: int
    sheets: tuple[str, ...]

    def set(self, cells: Mapping[tuple[str, str], Content], over_formulas: bool = False) -> None:
        """Write inputs, `{("Inputs", "B7"): 30.25}`, as a maker would type them; None empties a cell.

        Text is text, even if it begins with `=`; a cell that holds a formula is refused unless that is wanted.
        """
        plain = [[sheet, cell, _plain(value)] for (sheet, cell), value in cells.items()]
        self._ask("set", cells=plain, over_formulas=over_formulas)

    def delete_rows(self, sheet: str, first: int, count: int) -> None:
        """Take rows out of a sheet, as a maker does who has taken its protection off."""
        self._ask("delete_rows", sheet=sheet, first=first, count=count)

    def insert_column(self, sheet: str, before: int) -> None:
        """Put an empty column before the one at this place, counted from 0."""
        self._ask("insert_column", sheet=sheet, before=before)

    def sort(self, sheet: str, area: str, column: int) -> None:
        """Sort the rows of an area (`A5:F20`) by one of its columns, from the greatest down."""
        self._ask("sort", sheet=sheet, area=area, column=column)

    def recalculate(self, everything: bool = True) -> None:
        """Compute every formula of the workbook anew, or only those that were made wrong by what was typed."""
        self._ask("recalculate", everything=everything)

    def values(self, sheet: str) -> dict[str, float | str | None]:
        """What each cell of a sheet holds, by its name; None where its formula fails, 1 and 0 for true and false.

        Empty cells are left out; a formula that gives empty text is there with "".
        """
        return self._ask("values", sheet=sheet)

    def errors(self) -> list[CellError]:
        """Every formula of the workbook whose result is an error."""
        return [CellError(*error) for error in self._ask("errors")]

    def save_as(self, path: Path | str, kind: str) -> Path:
        """Write the workbook as it stands, as "xlsx", "ods" or "pdf"; gives back the path."""
        path = Path(path).resolve()
        if not path.parent.is_dir():
            raise OfficeFailure(f"{path}: no such folder")  # LibreOffice would make it
        self._ask("save_as", path=str(path), kind=kind)
        return path

    def close(self) -> None:
        """Close it without saving; harmless if LibreOffice has ended."""
        if self.office._server is self.server:
            self._ask("close")

    def __enter__(self) -> Book:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def _ask(self, do: str, **arguments: object):
        if self.office._server is not self.server:
            raise OfficeFailure(f"{do}: the LibreOffice that had this workbook open has ended")
        return self.office._ask(do, book=self.number, **arguments)


def _kill_group(server: subprocess.Popen) -> None:
    try:
        os.killpg(server.pid, signal.SIGKILL)
    except ProcessLookupError:
        pass


def _pipes(directory: Path) -> tuple[Path, Path]:
    """The sockets that a killed LibreOffice leaves behind: ours, and the one named after its profile's address."""
    profile = hashlib.md5((directory / "profile").as_uri().encode("utf-16-le")).digest()
    names = (directory.name, "SingleOfficeIPC_" + "".join(f"{byte:x}" for byte in profile))
    return tuple(Path("/tmp") / f"OSL_PIPE_{os.getuid()}_{name}" for name in names)


def _plain(value: Content) -> float | str | bool | None:
    """A cell's content as the server takes it: a date is the number of its day, a Decimal or numpy number a float."""
    if value is None or isinstance(value, str | bool):
        return value
    return (value - DAY_ZERO).days if isinstance(value, date) else float(value)


def spoil_cached_values(source: Path | str, target: Path | str) -> int:
    """Copy a workbook, with a wrong number in the place of every value that stands beside a formula.

    Gives the count of spoilt cells. A program that shows the right results afterwards has computed them.
    """
    from lxml import etree

    main = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
    spoilt = 0
    with (
        zipfile.ZipFile(source) as before,
        zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as after,
    ):
        for member in before.infolist():
            content = before.read(member)
            if member.filename.startswith("xl/worksheets/") and member.filename.endswith(".xml"):
                tree = etree.fromstring(content)
                for formula in tree.iter(f"{main}f"):
                    cell = formula.getparent()
                    value = cell.find(f"{main}v")
                    if value is None:
                        value = etree.SubElement(cell, f"{main}v")
                    spoilt += 1
                    value.text = repr(_wrong(value.text, spoilt))
                    cell.attrib.pop("t", None)  # the value's type, if it was no number
                content = etree.tostring(tree, xml_declaration=True, encoding="UTF-8", standalone=True)
            after.writestr(member, content)
    return spoilt


def _wrong(right: str | None, ordinal: int) -> float:
    """A number that is not `right`, and not its neighbour's either."""
    try:
        number = float(right or 0)
    except ValueError:  # text, or an error's name
        number = 0.0
    return (number if math.isfinite(number) else 0.0) + 1000 * (1 + abs(number)) + ordinal
