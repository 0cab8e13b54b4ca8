"""The spreadsheet harness itself: does it see what a workbook computes, and does it end as it should?"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
from datetime import date
from decimal import Decimal
from pathlib import Path

import openpyxl
import pytest
import xlsxwriter

from tests.office import CellError, Office, OfficeFailure, OfficeMissing, office_programs, spoil_cached_values
from tests.waiting import LONG

MASS_G = 20.7
PRICE_PER_G = 0.5
# 20.7 g at 0.50 a gram: 10.35
METAL_COST = 10.35
ROWS, COLUMNS = 1000, 10


@pytest.fixture(scope="module")
def workbook(tmp_path_factory) -> Path:
    """Two sheets with inputs, results that hang on them, and a table of 10,000 formulas; every cached value right."""
    path = tmp_path_factory.mktemp("book") / "pieces.xlsx"
    with xlsxwriter.Workbook(path, {"strings_to_formulas": False}) as book:
        inputs = book.add_worksheet("Inputs")
        inputs.write_column("B1", [MASS_G, PRICE_PER_G, "knob", "=1+1", True])
        inputs.write_datetime("B6", date(2026, 11, 20), book.add_format({"num_format": "yyyy-mm-dd"}))
        costs = book.add_worksheet("Unit costs")
        costs.write_formula("C3", "=Inputs!B1*Inputs!B2", value=METAL_COST)
        costs.write_formula("C4", '=Inputs!B3&"!"', value="knob!")
        costs.write_formula("C5", "=C3>10", value=True)
        costs.write_formula("C6", '=IF(C3>10,"","cheap")', value="")
        costs.write_formula("C7", "=YEAR(Inputs!B6)", value=2026)
        table = book.add_worksheet("Table")
        for row in range(ROWS):
            for column in range(COLUMNS):
                formula = f"=Inputs!$B$1*{row}+{column}"
                table.write_formula(row, column, formula, value=MASS_G * row + column)
    return path


@pytest.fixture(scope="module")
def spoilt(workbook) -> Path:
    """The same workbook with every cached value wrong."""
    path = workbook.with_name("spoilt.xlsx")
    assert spoil_cached_values(workbook, path) == 5 + ROWS * COLUMNS
    return path


@pytest.fixture
def book(office, spoilt):
    with office.open(spoilt) as book:
        yield book


def members(group: int) -> dict[int, str]:
    """Living processes of a group, by number, with their names."""
    listed = subprocess.run(["ps", "-e", "-o", "pid=,pgid=,stat=,comm="], capture_output=True, text=True, check=True)
    rows = [line.split(None, 3) for line in listed.stdout.splitlines()]
    return {int(pid): name for pid, pgid, state, name in rows if int(pgid) == group and not state.startswith("Z")}


def emptied(group: int) -> bool:
    """Whether nothing of the group is left; what was killed needs a moment to go."""
    end = time.monotonic() + LONG
    while members(group) and time.monotonic() < end:
        time.sleep(0.05)
    return not members(group)


@pytest.fixture(scope="module")
def own_office(office):
    """A LibreOffice that tests may maltreat: it starts on the first `open`, and anew after each that ends it.

    It believes what a file carries; the files that are opened here to be ended carry what is right.
    """
    own = Office(recalculate_on_load=False)
    yield own
    last = own.process_group
    own.close()
    assert last is None or emptied(last)


def test_spoiling_makes_every_cached_value_wrong_and_leaves_formulas_and_inputs(workbook, spoilt):
    def cells(path: Path, data_only: bool) -> dict:
        opened = openpyxl.load_workbook(path, data_only=data_only)
        return {(sheet.title, cell.coordinate): cell.value for sheet in opened for row in sheet for cell in row}

    right, wrong = cells(workbook, True), cells(spoilt, True)
    formulas = cells(workbook, False)
    assert cells(spoilt, False) == formulas
    for where, content in formulas.items():
        computed = where[0] != "Inputs" and content is not None
        assert (wrong[where] != right[where]) == computed, where


def test_without_forced_recalculation_the_wrong_values_would_be_believed(spoilt, own_office):
    """The reason for the profile, and the proof that the other tests here can fail."""
    with own_office.open(spoilt) as believing:
        assert believing.values("Unit costs")["C3"] > 1000


def test_every_value_is_computed_on_load(book):
    assert book.sheets == ("Inputs", "Unit costs", "Table")
    assert book.values("Unit costs") == {"C3": METAL_COST, "C4": "knob!", "C5": 1, "C6": "", "C7": 2026}
    # date(2026, 11, 20) is 46,346 days after 1899-12-30
    assert (date(2026, 11, 20) - date(1899, 12, 30)).days == 46346
    assert book.values("Inputs") == {"B1": MASS_G, "B2": PRICE_PER_G, "B3": "knob", "B4": "=1+1", "B5": 1, "B6": 46346}
    assert book.errors() == []


def test_inputs_are_edited_and_results_follow(book):
    inputs = {"B1": Decimal("4"), "B2": 0.25, "B3": "=B1", "B4": None, "B5": False, "B6": date(2031, 1, 2)}
    book.set({("Inputs", cell): value for cell, value in inputs.items()})
    for recalculate in (lambda: None, book.recalculate):
        recalculate()
        # 4 g at 0.25 is 1, which is below 10
        assert book.values("Unit costs") == {"C3": 1, "C4": "=B1!", "C5": 0, "C6": "cheap", "C7": 2031}
    assert book.values("Inputs") == {"B1": 4, "B2": 0.25, "B3": "=B1", "B5": 0, "B6": book.values("Inputs")["B6"]}
    assert book.values("Table")["J1000"] == 4 * 999 + 9


def test_ten_thousand_cells_are_read_by_asking_once(book, office, monkeypatch):
    asked, ask = [], office._ask
    monkeypatch.setattr(office, "_ask", lambda do, **arguments: asked.append(do) or ask(do, **arguments))
    values = book.values("Table")
    assert asked == ["values"]  # a cell at a time would take seconds
    assert len(values) == ROWS * COLUMNS
    assert values["A1"] == 0 and values["J1"] == 9
    assert values["J1000"] == pytest.approx(MASS_G * 999 + 9, rel=1e-12)


def test_errors_are_found_with_code_and_formula(office, tmp_path):
    path = tmp_path / "faulty.xlsx"
    with xlsxwriter.Workbook(path) as written:
        sheet = written.add_worksheet("A B")
        sheet.write_formula("B2", "=1/A1", value=7)
        sheet.write_formula("B3", "=B2+1", value=8)
        sheet.write_formula("AB4", "=NOSUCHWORD(1)", value=9)
        sheet.write_formula("C2", "=A1+1", value=1)
    with office.open(path) as book:
        division = CellError("A B", "B2", 532, "#DIV/0!", "=1/A1")  # 532 and 525 are LibreOffice's own codes
        follows = CellError("A B", "B3", 532, "#DIV/0!", "=B2+1")
        name = CellError("A B", "AB4", 525, "#NAME?", "=nosuchword(1)")
        assert sorted(book.errors(), key=lambda error: error.code) == [name, division, follows]
        assert book.values("A B") == {"B2": None, "B3": None, "AB4": None, "C2": 1}
        book.set({("A B", "A1"): 4})
        assert book.errors() == [name]
        assert book.values("A B") == {"A1": 4, "B2": 0.25, "B3": 1.25, "AB4": None, "C2": 5}


@pytest.mark.parametrize(
    ("sheet", "cell", "told"),
    [
        ("Unit costs", "C3", r"Unit costs\.C3 is no input: it holds =.*B1\*"),
        ("Unit cost", "C3", 'no sheet "Unit cost"; there are Inputs, Unit costs, Table'),
        ("Inputs", "7", r"Inputs\.7: no such cell"),
    ],
)
def test_an_edit_that_is_none_is_refused_and_nothing_is_written(book, sheet, cell, told):
    with pytest.raises(OfficeFailure, match=told):
        book.set({("Inputs", "B1"): 99, (sheet, cell): 1})
    assert book.values("Inputs")["B1"] == MASS_G


def test_it_saves_as_workbook_and_as_pdf(book, tmp_path):
    book.set({("Inputs", "B1"): 30})
    saved = book.save_as(tmp_path / "saved.xlsx", "xlsx")
    # 30 g at 0.50
    assert openpyxl.load_workbook(saved, data_only=True)["Unit costs"]["C3"].value == 15
    assert book.save_as(tmp_path / "saved.pdf", "pdf").read_bytes().startswith(b"%PDF-")
    with pytest.raises(OfficeFailure, match="no such folder"):
        book.save_as(tmp_path / "nowhere" / "saved.pdf", "pdf")
    with pytest.raises(OfficeFailure, match='no kind "doc" to save as; known: xlsx, ods, pdf'):
        book.save_as(tmp_path / "saved.doc", "doc")


@pytest.mark.parametrize(
    ("name", "keep", "told"),
    [
        ("cut.xlsx", 3000, "cannot read it as a workbook"),
        ("empty.xlsx", 0, "the file is empty"),
        ("pieces.txt", -1, "not a workbook by its name"),
    ],
)
def test_what_is_no_workbook_is_told_and_the_office_lives_on(office, workbook, tmp_path, name, keep, told):
    path = tmp_path / name
    path.write_bytes(workbook.read_bytes()[:keep])
    with pytest.raises(OfficeFailure, match=told):
        office.open(path)
    with pytest.raises(OfficeFailure, match="no such file"):
        office.open(tmp_path / "none.xlsx")
    with office.open(workbook) as book:
        assert book.values("Unit costs")["C3"] == METAL_COST


def soffice_of(office: Office) -> int:
    return next(pid for pid, name in members(office.process_group).items() if name == "soffice.bin")


def leavings(folder: Path) -> list[Path]:
    """What still lies there of a LibreOffice's own folder and of the socket that bears its name."""
    return [path for path in (folder, *Path("/tmp").glob(f"OSL_PIPE_*{folder.name}*")) if path.exists()]


def test_nothing_is_left_when_it_ends(own_office, workbook):
    book = own_office.open(workbook)
    group = own_office.process_group
    assert "soffice.bin" in members(group).values()
    assert leavings(own_office.directory)
    own_office.close()
    assert own_office.process_group is None
    assert emptied(group)
    assert leavings(own_office.directory) == []
    book.close()
    with pytest.raises(OfficeFailure, match="the LibreOffice that had this workbook open has ended"):
        book.values("Inputs")


def test_a_crash_is_told_and_the_next_open_starts_anew(own_office, workbook):
    lost = own_office.open(workbook)
    group = own_office.process_group
    os.kill(soffice_of(own_office), signal.SIGKILL)
    # a shell gives 128 + 9 for what was killed by signal 9
    with pytest.raises(OfficeFailure, match="values: LibreOffice ended by itself with code 137"):
        lost.values("Inputs")
    assert emptied(group)
    assert leavings(own_office.directory) == []
    assert own_office.open(workbook).values("Unit costs")["C3"] == METAL_COST
    with pytest.raises(OfficeFailure, match="has ended"):
        lost.values("Inputs")


def test_a_hang_is_ended_at_the_time_limit(own_office, workbook, monkeypatch):
    book = own_office.open(workbook)
    group = own_office.process_group
    monkeypatch.setattr(own_office, "limit_seconds", 0.5)
    os.kill(soffice_of(own_office), signal.SIGSTOP)
    with pytest.raises(OfficeFailure, match=r"recalculate: LibreOffice did not answer within 0\.5 s"):
        book.recalculate()
    assert emptied(group)
    assert leavings(own_office.directory) == []


def test_nothing_is_left_when_the_tests_themselves_are_killed(office, workbook):
    opener = (
        "import sys, time; from tests.office import Office; office = Office(); office.open(sys.argv[1]);"
        "print(office.process_group, office.directory, flush=True); time.sleep(600)"
    )
    command = [sys.executable, "-c", opener, str(workbook)]
    with subprocess.Popen(command, cwd=Path(__file__).parent.parent, stdout=subprocess.PIPE, text=True) as killed:
        group, folder = killed.stdout.readline().split()
        assert "soffice.bin" in members(int(group)).values() and Path(folder).is_dir()
        killed.kill()
    assert emptied(int(group))
    assert leavings(Path(folder)) == []


def test_a_missing_libreoffice_is_told_with_the_package_that_holds_it(monkeypatch, tmp_path):
    monkeypatch.setenv("PATH", str(tmp_path))
    office_programs.cache_clear()
    try:
        with pytest.raises(OfficeMissing, match="libreoffice-calc"):
            office_programs()
    finally:
        office_programs.cache_clear()
