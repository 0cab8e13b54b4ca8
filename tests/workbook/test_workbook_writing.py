"""Writing the live workbook: whole or not at all, never over another file unasked, on the library as it is expected."""

from __future__ import annotations

import inspect
import re
import tempfile
import zipfile
import zlib
from dataclasses import replace
from datetime import datetime

import numpy as np
import openpyxl
import pytest
from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from pricing.errors import TroytagError, UsageFault
from pricing.resources import sample_catalog
from pricing.studies.prices_out import prices_out
from pricing.workbook.sheets import plan as planning
from pricing.workbook.sheets import write_workbook
from pricing.workbook.sheets.book import Book, planned
from pricing.workbook.sheets.columns_xml import column_cells
from pricing.workbook.sheets.labels import Words
from pricing.workbook.sheets.names import cell_name, unique
from pricing.workbook.sheets.plan import of_little_use
from pricing.workbook.sheets.ready_cells import (
    ReadySheet,
    escaped_formula,
    formula_cell,
    held,
    number_cell,
    text_cell,
)
from pricing.workbook.sheets.strands import told, woven
from pricing.workbook.sheets.styles import Styles
from pricing.workbook.sheets.writing import check_size
from pricing.workbook.sheets.zipped import LEVEL, QuicklyZipped
from tests.cli.conftest import troytag  # noqa: F401
from tests.folder.workshops import Change, changed
from tests.folder.workshops import write as write_folder
from tests.lists.fernhollow import costing_of
from tests.workbook.workbooks import bare_workshop, live_twin, plan_of

# ---- in its place, whole or not at all


def test_a_file_that_stands_already_is_kept_unless_told(sample, tmp_path):
    path = tmp_path / "live.xlsx"
    path.write_bytes(b"mine")
    with pytest.raises(UsageFault, match="stands already.*--force"):
        write_workbook(sample, path)
    assert path.read_bytes() == b"mine"
    write_workbook(sample, path, force=True)
    assert openpyxl.load_workbook(path, read_only=True).sheetnames[0] == "Read me"
    assert [each.name for each in tmp_path.iterdir()] == ["live.xlsx"]


class Interrupted(Exception):
    """What stops the writing half-way."""


def test_writing_that_is_interrupted_leaves_the_old_file_and_nothing_else(sample, tmp_path, monkeypatch):
    scratch, path = tmp_path / "scratch", tmp_path / "live.xlsx"
    scratch.mkdir()
    monkeypatch.setattr(tempfile, "tempdir", str(scratch))
    path.write_bytes(b"mine")
    told = []

    def stop(done: int, of: int) -> None:
        told.append((done, of))
        if done > 600:
            raise Interrupted

    with pytest.raises(Interrupted):
        write_workbook(sample, path, force=True, progress=stop)
    assert path.read_bytes() == b"mine"
    assert sorted(each.name for each in tmp_path.iterdir()) == ["live.xlsx", "scratch"]
    assert list(scratch.iterdir()) == []
    assert told[0] == (200, told[-1][1]) and told[-1][0] < told[-1][1]


def test_a_place_that_cannot_be_written_to_is_told_in_one_sentence(sample, tmp_path):
    with pytest.raises(UsageFault, match="is no folder. Make it"):
        write_workbook(sample, tmp_path / "nowhere" / "live.xlsx")
    with pytest.raises(TroytagError, match="cannot be used .File name too long"):
        write_workbook(sample, tmp_path / f"{'x' * 300}.xlsx")


def test_a_workbook_that_fits_no_sheet_is_refused_beforehand(sample):
    plan = plan_of(sample)
    check_size(plan)
    steps = plan.block("Steps", "step")
    with pytest.raises(TroytagError, match="Steps would need .* rows, and a sheet holds 1,048,576"):
        check_size(replace(plan, blocks=(replace(steps, top=1_048_576),)))


# ---- the command


def test_the_command_writes_names_and_does_not_overwrite(troytag, tmp_path):  # noqa: F811
    path, folder = tmp_path / "live.xlsx", bare_workshop(tmp_path / "hedge-forge")
    words = ("export", folder, "xlsx", "--as-of", "2026-11-20", "--to", path)
    ran = troytag(*words)
    assert (ran.code, ran.out.strip()) == (0, str(path))
    book = openpyxl.load_workbook(path, read_only=True, data_only=True)
    assert book["Read me"]["A2"].value == "Costs and prices in JPY, metal of 2026-11-20"
    again = troytag(*words)
    assert again.code == 2 and "stands already" in again.err and again.out == ""
    assert troytag(*words, "--force").code == 0


def test_without_a_place_it_goes_here_by_the_folders_name(troytag, tmp_path, monkeypatch):  # noqa: F811
    monkeypatch.chdir(tmp_path)
    folder = bare_workshop(tmp_path / "hedge-forge")
    assert troytag("export", folder, "xlsx", "--as-of", "2026-11-20").out == "hedge-forge.xlsx\n"
    assert (tmp_path / "hedge-forge.xlsx").is_file()


def test_an_unknown_export_is_told_with_the_nearest(troytag):  # noqa: F811
    ran = troytag("export", sample_catalog(), "xlss")
    assert ran.code == 2
    assert ran.err.strip() == 'there is no export "xlss". Did you mean "xlsx"?'


# ---- workshops that lack things


def test_a_workshop_without_roles_machines_materials_findings_and_fees_has_a_workbook(office, tmp_path):
    costing = costing_of(bare_workshop(tmp_path / "folder"))
    twin = live_twin(office, costing, tmp_path)
    assert not twin.differences()[0]
    twin.edit("quote_price", 1, 5000.0)
    assert not twin.differences()[0]
    assert not twin.book.errors()
    assert twin.book.values("Checks")["B4"] == "OK, with inputs changed since the export"
    twin.book.close()


def test_names_that_differ_only_in_signs_get_names_of_their_own(tmp_path):
    second = '[labour.bench]\nrate = 24.0\n[labour."be nch"]\nrate = 1.0\n[labour."be-nch"]\nrate = 2.0\n'
    files = changed(Change("workshop.toml", "[labour.bench]\nrate = 24.0\n", second))
    files["alloys.toml"] = files["alloys.toml"].replace(
        'priced_by = "content"', 'priced_by = "content"\nunpriced = ["Cu"]'
    )
    write_workbook(costing_of(write_folder(tmp_path / "folder", files)), tmp_path / "live.xlsx")
    book = openpyxl.load_workbook(tmp_path / "live.xlsx")
    assert {"wage_bench", "wage_be_nch", "wage_be_nch_2"} <= set(book.defined_names)


def test_a_name_is_made_of_what_names_may_hold():
    assert cell_name("wage", "Zoë's bench!") == "wage_Zoë_s_bench"
    assert cell_name("fee_rate", "shop", "card 2") == "fee_rate_shop_card_2"
    assert cell_name("wage", "!") == "wage"
    assert len(cell_name("wage", "x" * 400)) == 255
    assert list(unique(["a", "A", "b", "a"], taken=["B"])) == ["a", "A_2", "b_2", "a_3"]


# ---- what is expected of XlsxWriter


@pytest.mark.parametrize(
    ("holder", "method", "parameters"),
    [
        (Format, "_get_xf_index", ["self"]),
        (Worksheet, "_check_dimensions", ["self", "row", "col", "ignore_row", "ignore_col"]),
        (Worksheet, "_write_single_row", ["self", "current_row_num"]),
        (Worksheet, "_write_cell", ["self", "row", "col", "cell"]),
        (Worksheet, "_write_optimized_sheet_data", ["self"]),
    ],
)
def test_the_private_methods_are_as_expected(holder, method, parameters):
    assert list(inspect.signature(getattr(holder, method)).parameters) == parameters


def ready_book(path, rows):
    """A workbook whose one sheet has these rows of ready cells."""
    book = Workbook(path, {"constant_memory": True})
    sheet = book.add_worksheet("One", worksheet_class=ReadySheet)
    for row, cells in rows:
        sheet.write_ready(row, (0, len(cells) - 1), cells)
    book.close()
    return book


def test_ready_cells_are_read_back_as_they_were_put(tmp_path):
    third = 0.1 + 0.2  # 0.30000000000000004: seventeen digits
    formula = escaped_formula('=IF(A2<1,"a&b",A2)')
    rows = [
        (2, [number_cell("A2", 0, third), text_cell("B2", 0, " =<text> & more "), number_cell("C2", 0, None)]),
        (
            5,
            [
                formula_cell("A5", 0, formula, "a&b"),
                formula_cell("B5", 0, "A2", third),
                formula_cell("C5", 0, escaped_formula("=1<2"), True),
            ],
        ),
        (6, [formula_cell("A6", 0, "A9", "")]),
    ]
    ready_book(tmp_path / "ready.xlsx", rows)
    texts = openpyxl.load_workbook(tmp_path / "ready.xlsx")["One"]
    values = openpyxl.load_workbook(tmp_path / "ready.xlsx", data_only=True)["One"]
    assert texts["A2"].value == third
    assert (texts["B2"].value, texts["B2"].data_type) == (" =<text> & more ", "s")
    assert texts["C2"].value is None
    assert texts["A5"].value == '=IF(A2<1,"a&b",A2)' and values["A5"].value == "a&b"
    assert values["B5"].value == third and values["C5"].value is True and not values["A6"].value


def test_a_row_that_comes_too_late_is_refused_and_not_lost_silently(tmp_path):
    with pytest.raises(ValueError, match="row 2 of One is out of order"):
        ready_book(tmp_path / "ready.xlsx", [(3, [number_cell("A3", 0, 1)]), (2, [number_cell("A2", 0, 1)])])


def test_strands_are_woven_row_by_row_a_number_of_rows_at_a_time():
    numbers, values = ["7", "8", "9"], np.array([0.1 + 0.2, 2.0, -0.25])
    strands = ['<c r="A', numbers, '"', "><v>", told(values), "</v></c>"]
    assert list(woven(strands, 3, 2)) == [
        (2, '<c r="A7"><v>0.30000000000000004</v></c><c r="A8"><v>2.0</v></c>'),
        (1, '<c r="A9"><v>-0.25</v></c>'),
    ]


def test_numbers_are_told_in_full_however_many_there_are():
    values = [number / 7 for number in range(2_500)]  # more than are turned into texts at a time
    assert list(told(np.array(values))) == list(map(repr, values))


@pytest.mark.parametrize("odd", [1e-4, 9.999e-5, -5e-324, -0.0, 9999999999999998.0, 1e16, -1.7e308, 3.0])
def test_the_smallest_and_the_greatest_numbers_are_told_as_python_tells_them(odd):
    assert list(told(np.array([0.1, odd]))) == ["0.1", repr(odd)]


def laid(costing):
    """A workbook, laid out and not written."""
    words = Words(costing)
    plan, formulas = planned(costing.computed, words)
    styles = Styles(Workbook(), costing.computed.resolved.currency)
    return Book(costing, styles.book, words, plan, formulas, styles, prices_out(costing))


def test_a_column_of_formulas_has_in_each_row_its_formula_there_and_what_the_engine_says(sample, tmp_path):
    kinds = set()
    for book in (laid(sample), laid(costing_of(bare_workshop(tmp_path)))):
        for block in book.plan.blocks:
            for place, item in () if block.on_end else block.shown_items:
                if item.kind not in ("result", "working") or item.name == "price":
                    continue  # a price of single sizes is that of all sizes, which other tests look at
                unit, formula = book.computed.graph.unit_of(item.name), book.formulas[item.name]
                cells = woven(column_cells(book, block, place, item), len(block.rows), 1)
                for position, ((_, cell), value) in enumerate(zip(cells, book.values(item.name), strict=True), 1):
                    style = int(re.search(r' s="(\d+)"', cell)[1])
                    address, text = block.address(place, position), escaped_formula(formula.at(position))
                    assert cell == formula_cell(address, style, text, held(value, unit))
                    kinds.add(type(held(value, unit)))
    assert kinds == {float, bool, str}  # str: what is undefined, as earnings an hour where there is no labour


def test_rows_in_one_piece_stand_among_single_ones_each_in_its_place(tmp_path):
    with Workbook(tmp_path / "rows.xlsx", {"constant_memory": True}) as book:
        sheet = book.add_worksheet("One", worksheet_class=ReadySheet)
        sheet.write_ready(1, (0, 0), [text_cell("A1", 0, "naïve €")])
        rows = [
            f'<row r="{row}">{text_cell(f"A{row}", 0, "Zoë")}{number_cell(f"B{row}", 0, row)}</row>' for row in (2, 3)
        ]
        sheet.write_rows(2, 2, (0, 1), "".join(rows))
        with pytest.raises(ValueError, match="row 3 of One is out of order"):
            sheet.write_ready(3, (0, 0), [number_cell("A3", 0, 1)])
        with pytest.raises(ValueError, match="row 3 of One is out of order"):
            sheet.write_rows(3, 2, (0, 1), "")
        sheet.write_ready(4, (2, 2), [number_cell("C4", 0, 1)])
    sheet = openpyxl.load_workbook(tmp_path / "rows.xlsx")["One"]
    found = [[cell.value for cell in row] for row in sheet.iter_rows()]
    assert found == [["naïve €", None, None], ["Zoë", 2, None], ["Zoë", 3, None], [None, None, 1]]
    assert sheet.dimensions == "A1:C4"


def test_a_workbook_is_deflated_at_its_level_and_holds_what_the_library_writes(tmp_path):
    for name, kind in (("usual", Workbook), ("quick", QuicklyZipped)):
        with kind(tmp_path / f"{name}.xlsx") as book:
            book.set_properties({"created": datetime(2026, 11, 20)})
            book.add_worksheet().write_column(0, 0, [number * number % 977 for number in range(2000)])
    with zipfile.ZipFile(tmp_path / "usual.xlsx") as usual, zipfile.ZipFile(tmp_path / "quick.xlsx") as quick:
        assert {part: usual.read(part) for part in usual.namelist()} == {p: quick.read(p) for p in quick.namelist()}
        sheet = "xl/worksheets/sheet1.xml"
        deflated = zlib.compressobj(LEVEL, zlib.DEFLATED, -zlib.MAX_WBITS)
        wanted = len(deflated.compress(quick.read(sheet)) + deflated.flush())
        assert quick.getinfo(sheet).compress_size == wanted != usual.getinfo(sheet).compress_size


def test_what_xml_cannot_hold_becomes_a_blank(tmp_path):
    ready_book(tmp_path / "ready.xlsx", [(1, [text_cell("A1", 0, "a\x00b\x1fc")])])
    with zipfile.ZipFile(tmp_path / "ready.xlsx") as packed:
        assert b"a b c" in packed.read("xl/worksheets/sheet1.xml")
    assert openpyxl.load_workbook(tmp_path / "ready.xlsx")["One"]["A1"].value == "a b c"


def test_a_workbook_of_very_many_cells_is_told_before_it_is_written(sample, tmp_path, monkeypatch):
    """LibreOffice takes some 5 s to open a million cells, and no more than 3 million are brought back."""
    assert of_little_use(2_700_000) == ""  # nine tenths of 3 million
    told = of_little_use(10_000_000)
    assert told.startswith(
        "The workbook has some 10.0 million cells. A spreadsheet program takes 50 s or more to open it"
    )
    assert "import brings back none of more than 3 million" in told
    path, tables, notes = tmp_path / "live.xlsx", plan_of(sample).cells, []
    monkeypatch.setattr(planning, "MOST_BROUGHT_BACK", tables)
    write_workbook(sample, path, advise=lambda note: notes.append((note, path.exists())))
    assert notes == [(of_little_use(tables), False)]
    lines = " ".join(str(row[0].value) for row in openpyxl.load_workbook(path)["Read me"].iter_rows(max_col=1))
    assert " ".join(told.split()[-12:]) in " ".join(lines.split())  # it cannot be brought back, so nobody is told how
    assert "troytag import" not in lines
    with zipfile.ZipFile(path) as packed:
        cells = sum(packed.read(part).count(b"<c r=") for part in packed.namelist() if "worksheets/sheet" in part)
    assert tables < cells < tables * 1.2  # beside tables the words and the checks, more in so small a workshop
