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
from pricing.workbook.sheets.heads import in_words
from pricing.workbook.sheets.writing import ORDER
from tests.lists.fernhollow import IN_EURO, changed_folder, costing_of
from tests.workbook.wide_workshop import CURRENCIES, NOTE, wide_workshop
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


def test_sheets_lie_in_order_and_open_on_the_list(book):
    assert tuple(book.sheetnames) == ORDER == (
        "Read me", "Inputs", "Parts", "Steps", "Costs", "Channels", "Prices", "Price list", "Checks", "Words",
    )  # fmt: skip
    assert book.active.title == "Price list"
    assert [sheet.title for sheet in book.worksheets if sheet.sheet_state != "visible"] == []


def test_metal_prices_stand_on_top_of_inputs(book, sample):
    sheet = book["Inputs"]
    names = [sheet.cell(row, 1).value for row in range(9, 13)]
    assert names == ["brass-grain", "silicon-bronze-grain", "Silver (Ag)", "Gold (Au)"]
    assert len(names) == len(sample.computed.resolved.metals)


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


def test_columns_are_headed_in_words_and_their_code_names_stand_small_below(book, sample):
    plan = plan_of(sample)
    headed = 0
    for block in plan.blocks:
        for place, item in enumerate(block.items):
            if block.on_end or item is None or item.kind not in ("input", "result", "working"):
                continue
            words = book[block.sheet].cell(block.head_row - 2, place + 1)
            code = book[block.sheet].cell(block.head_row, place + 1)
            assert code.value == item.name and words.value and words.alignment.wrap_text
            assert words.font.size > code.font.size and words.font.bold and not code.font.bold
            assert "_" not in words.value, item.name
            headed += 1
    assert headed > 150
    said = {name: in_words(plan.graph, name) for name in ("pack_price", "profit", "metal_cost", "shared", "melt_loss")}
    assert said == {
        "pack_price": "price of a pack", "profit": "what a sale leaves over", "metal_cost": "metal",
        "shared": "the load is filled up with other work", "melt_loss": "share of a charge lost in the melt",
    }  # fmt: skip


def test_no_figure_is_wider_than_its_column(tmp_path):
    """By the widest digits that a spreadsheet program may have instead of Arial's: 0.64 of the size of the type."""
    for currency in CURRENCIES:
        costing = costing_of(wide_workshop(tmp_path / currency, currency))
        path = tmp_path / f"{currency}.xlsx"
        write_workbook(costing, path)
        book, layout = openpyxl.load_workbook(path), plan_of(costing).layout
        for name in ("price", "net_sales", "unit_cost", "quote_price", "spot_per_g"):
            column = layout[name]
            place = openpyxl.utils.column_index_from_string(column.letter)
            (width,) = {
                each.width for each in book[column.sheet].column_dimensions.values() if each.min <= place <= each.max
            }
            digits = len(f"{float(costing.computed[name].max()):,.{book_digits(book, column)}f}")
            assert width * 7 >= digits * 0.64 * 10 * 96 / 72, name


def book_digits(book, column) -> int:
    return len(book[column.sheet][column.cell(1)].number_format.partition(".")[2])


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
    book, layout = openpyxl.load_workbook(tmp_path / "live.xlsx", read_only=True), plan_of(costing).layout
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


def test_the_lines_of_the_chart_differ_in_colour_and_in_hatching(written):
    with zipfile.ZipFile(written) as packed:
        (name,) = [name for name in packed.namelist() if name.startswith("xl/charts/chart")]
        series = re.findall(r"<c:ser>.*?</c:ser>", packed.read(name).decode("utf-8"), re.DOTALL)
    grounds = [re.search(r"<c:spPr>.*?(?=<a:ln)", each, re.DOTALL)[0] for each in series]
    hatchings = [re.findall(r'prst="(\w+)"', ground) for ground in grounds]
    colours = [set(re.findall(r'srgbClr val="(\w+)"', ground)) - {"FFFFFF"} for ground in grounds]
    assert hatchings[0] == [] and len({tuple(each) for each in hatchings}) == len(series) == len(COST_LINES)
    assert all(len(each) == 1 for each in colours) and len({min(each) for each in colours}) == len(series)


def test_masses_on_the_list_have_three_digits(book):
    masses = [row[3] for row in book["Price list"].iter_rows(min_row=8) if row[3].data_type == "f"]
    assert {cell.number_format for cell in masses} == {"[<9.995]0.00;[<99.95]0.0;#,##0"}


@pytest.mark.skipif(not which("pdftotext"), reason="needs pdftotext (Debian: poppler-utils)")
@pytest.mark.parametrize(("currency", "paper"), [("JPY", "A4"), ("KWD", "Letter")])
def test_sums_over_a_million_and_long_names_are_whole_in_print(office, tmp_path, currency, paper):
    costing = costing_of(wide_workshop(tmp_path / "folder", currency))
    write_workbook(costing, tmp_path / "live.xlsx")
    on_paper(tmp_path / "live.xlsx", tmp_path / "paper.xlsx", {"A4": "9", "Letter": "1"}[paper])
    with office.open(tmp_path / "paper.xlsx") as opened:
        opened.save_as(tmp_path / "live.pdf", "pdf")
    pages = printed(tmp_path / "live.pdf")
    assert not [page for page in pages if "###" in page]
    assert all(len(page.split()) > 30 for page in pages)
    sized = subprocess.run(["pdfinfo", tmp_path / "live.pdf"], capture_output=True, check=True).stdout.decode()
    assert f"({paper.lower()}" in sized.lower()
    lists = [page for page in pages if "Price list" in page]
    assert 1 <= len(lists) <= 3
    text = " ".join(" ".join(lists).split())
    for row, variant in enumerate(costing.computed.resolved.variants):
        first, last = costing.folder.stated.products[variant.sku].name.rsplit(" tail,", 1)
        assert text.count(last.strip(". ")) >= 1 and first in text
        digits = {"JPY": 0, "KWD": 3}[currency]
        for price in costing.computed["price"][row]:
            assert price > 1_000_000 and f"{price:,.{digits}f}" in text
    assert NOTE in " ".join(" ".join(page for page in pages if "Inputs" in page).split())


def on_paper(path, into, size: str) -> None:
    """The same workbook set up for another paper, as a reader would choose it before printing."""
    with zipfile.ZipFile(path) as packed, zipfile.ZipFile(into, "w", zipfile.ZIP_DEFLATED) as other:
        for name in packed.namelist():
            other.writestr(name, packed.read(name).replace(b'paperSize="9"', b'paperSize="%s"' % size.encode()))


def printed(path) -> list[str]:
    said = subprocess.run(["pdftotext", "-layout", path, "-"], capture_output=True, check=True)
    return said.stdout.decode("utf-8").split("\f")[:-1]


@pytest.mark.skipif(not which("pdftotext"), reason="needs pdftotext (Debian: poppler-utils)")
def test_printed_pages_show_no_hash_signs_and_no_page_is_blank(office, written, tmp_path):
    with office.open(written) as opened:
        opened.save_as(tmp_path / "live.pdf", "pdf")
    pages = printed(tmp_path / "live.pdf")
    assert len(pages) > len(ORDER)
    assert not [page for page in pages if "###" in page or "#NAME" in page or "#VALUE" in page or "Err:" in page]
    assert all(len(page.split()) > 30 for page in pages)
    text = "".join(pages)
    assert "Acorn drawer knob, pair" in text and "Sterling silver" in text and "WRONG" not in text
