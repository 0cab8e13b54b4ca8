"""How the live workbook stands on the screen and on paper."""

from __future__ import annotations

import re
import subprocess
import zipfile
from shutil import which

import openpyxl
import pytest

from pricing.records import COST_LINES
from pricing.workbook.sheets import write_workbook
from pricing.workbook.sheets.writing import ORDER
from tests.lists.fernhollow import IN_EURO, changed_folder, costing_of
from tests.workbook.workbooks import plan_of

YEN = {"workshop.toml": {'"GBP"': '"JPY"'}, "metal_prices.csv": {",GBP,": ",JPY,"}}


@pytest.fixture(scope="module")
def written(sample, tmp_path_factory):
    path = tmp_path_factory.mktemp("workbook") / "live.xlsx"
    write_workbook(sample, path)
    return path


@pytest.fixture(scope="module")
def book(written):
    return openpyxl.load_workbook(written)


def test_sheets_lie_in_order_and_open_on_read_me(book):
    assert tuple(book.sheetnames) == ORDER == (
        "Read me", "Inputs", "Parts", "Steps", "Costs", "Channels", "Prices", "Price list", "Checks", "Words",
    )  # fmt: skip
    assert book.active.title == "Read me"
    assert [sheet.title for sheet in book.worksheets if sheet.sheet_state != "visible"] == []


def test_metal_prices_stand_on_top_of_inputs(book, sample):
    sheet = book["Inputs"]
    names = [sheet.cell(row, 1).value for row in range(8, 12)]
    assert names == [metal.name for metal in sample.computed.resolved.metals]


@pytest.mark.parametrize("name", ORDER)
def test_every_sheet_prints_one_page_wide_with_its_own_area(book, name):
    sheet = book[name]
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    assert (sheet.page_setup.fitToWidth or 1, sheet.page_setup.fitToHeight) == (1, 0)
    assert sheet.page_setup.orientation == "landscape"
    assert sheet.page_setup.paperSize == 9  # A4
    assert name == "Read me" or sheet.print_area
    assert "Fernhollow Castings" in sheet.oddHeader.left.text


@pytest.mark.parametrize("name", ["Steps", "Costs", "Prices", "Price list", "Words"])
def test_heads_stay_in_sight_and_are_printed_on_every_page(book, name):
    assert book[name].freeze_panes
    assert book[name].print_title_rows


@pytest.mark.parametrize("name", ["Steps", "Costs", "Prices", "Words"])
def test_long_tables_have_filters(book, name):
    assert book[name].auto_filter.ref


def test_row_numbers_are_hidden_and_nothing_else_is(book, sample):
    for block in plan_of(sample).blocks:
        if block.on_end:
            continue
        for place, item in enumerate(block.items):
            if item:
                letter = openpyxl.utils.get_column_letter(place + 1)
                hidden = any(
                    each.hidden
                    for each in book[block.sheet].column_dimensions.values()
                    if each.min <= place + 1 <= each.max
                )
                assert hidden == (item.kind in ("word", "structure")), f"{block.sheet}!{letter} {item.name}"


@pytest.mark.parametrize(
    ("changes", "money", "per_gram"),
    [({}, "#,##0.00", "#,##0.00000"), (IN_EURO, "#,##0.00", "#,##0.00000"), (YEN, "#,##0", "#,##0.000")],
    ids=["pound", "euro", "yen"],
)
def test_money_has_the_digits_of_its_currency(tmp_path, changes, money, per_gram):
    costing = costing_of(changed_folder(tmp_path / "folder", changes))
    write_workbook(costing, tmp_path / "live.xlsx")
    book, layout = openpyxl.load_workbook(tmp_path / "live.xlsx"), plan_of(costing).layout
    for name, numbers in (
        ("price", money),
        ("unit_cost", money),
        ("melt_value_per_g", per_gram),
        ("finished_g", "#,##0.00"),
    ):
        column = layout[name]
        assert book[column.sheet][column.cell(1)].number_format == numbers


def test_a_price_below_cost_and_an_unsold_row_are_marked(book, sample):
    layout = plan_of(sample).layout
    sold, profit = (f"${layout[name].letter}{layout[name].first_row}" for name in ("sold", "profit"))
    rules = {
        (str(cells.sqref).split(":")[0], rule.formula[0])
        for cells, found in book["Prices"].conditional_formatting._cf_rules.items()
        for rule in found
    }
    for name in ("price", "profit", "margin"):
        assert (layout[name].cell(1), f"AND({sold}=1,{profit}<0)") in rules
    assert (f"A{layout['sold'].first_row}", f"{sold}=0") in rules


def test_the_chart_has_a_series_for_each_cost_line_and_a_bar_for_each_variant(written, sample):
    with zipfile.ZipFile(written) as packed:
        (name,) = [name for name in packed.namelist() if name.startswith("xl/charts/chart")]
        xml = packed.read(name).decode("utf-8")
    layout, variants = plan_of(sample).layout, len(sample.computed.resolved.variants)
    assert re.findall(r"<c:ser>.*?<c:tx>.*?<c:v>(.*?)</c:v>", xml, re.DOTALL) == list(COST_LINES.values())
    for name in COST_LINES:
        column = layout[name]
        first, last = column.first_row, column.first_row + variants - 1
        assert f"Costs!${column.letter}${first}:${column.letter}${last}" in xml
    assert '<c:grouping val="stacked"/>' in xml and '<c:barDir val="bar"/>' in xml


@pytest.mark.skipif(not which("pdftotext"), reason="needs pdftotext (Debian: poppler-utils)")
def test_printed_pages_show_no_hash_signs_and_no_page_is_blank(office, written, tmp_path):
    with office.open(written) as opened:
        opened.save_as(tmp_path / "live.pdf", "pdf")
    said = subprocess.run(["pdftotext", "-layout", tmp_path / "live.pdf", "-"], capture_output=True, check=True)
    pages = said.stdout.decode("utf-8").split("\f")[:-1]
    assert len(pages) > len(ORDER)
    assert not [page for page in pages if "###" in page or "#NAME" in page or "#VALUE" in page or "Err:" in page]
    assert all(len(page.split()) > 30 for page in pages)
    text = "".join(pages)
    assert "Acorn drawer knob, pair" in text and "Sterling silver" in text and "WRONG" not in text
