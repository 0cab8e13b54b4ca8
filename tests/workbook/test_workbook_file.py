"""The file of the live workbook, read back: formulas and their values, inputs, names, locks, bounds, texts."""

from __future__ import annotations

import math
import re
import zipfile
from pathlib import Path

import numpy
import openpyxl
import pandas
import pytest
from openpyxl.utils import range_boundaries

from pricing.formulas.bounds import bounds_of, is_share
from pricing.formulas.sheet_layout import SHEETS, long_rows
from pricing.formulas.tables import INPUTS
from pricing.words import CONSTANTS
from pricing.workbook.sheets import write_workbook
from pricing.workbook.sheets.writing import ORDER
from tests.folder.workshops import FILES
from tests.folder.workshops import write as write_folder
from tests.lists.fernhollow import costing_of
from tests.workbook.workbooks import from_here, inputs, plan_of

#: Sheets that look back on others, and which they may look at: a chain of formulas never returns to a sheet it left.
BACK_TO = {sheet: set(SHEETS[: place + 1]) for place, sheet in enumerate(SHEETS)} | {
    "Price list": {*SHEETS, "Price list"},
    "Checks": {*SHEETS, "Checks"},
    "Read me": {"Checks", "Inputs"},
}
#: Functions that every spreadsheet program has had since long ago.
PLAIN_FUNCTIONS = {
    "IF", "AND", "OR", "NOT", "MIN", "MAX", "ABS", "INT", "SUM", "SUMPRODUCT", "PRODUCT", "INDEX", "CHOOSE", "COUNTIF",
    "COUNT", "MOD", "ROW", "ROWS", "FIXED",
}  # fmt: skip


@pytest.fixture(scope="module")
def written(sample, tmp_path_factory):
    path = tmp_path_factory.mktemp("workbook") / "live.xlsx"
    write_workbook(sample, path)
    return path


@pytest.fixture(scope="module")
def book(written):
    return openpyxl.load_workbook(written)


@pytest.fixture(scope="module")
def carried(written):
    return openpyxl.load_workbook(written, data_only=True)


@pytest.fixture(scope="module")
def plan(sample):
    return plan_of(sample)


def formulas(book):
    for sheet in book.worksheets:
        for row in sheet.iter_rows():
            for cell in row:
                if cell.data_type == "f":
                    yield sheet.title, cell


# ---- formulas


def test_every_computed_cell_is_a_formula_and_carries_the_engines_value_in_full(sample, book, carried, plan):
    rows = long_rows(sample.computed.resolved)
    compared = 0
    for name, quantity in sample.computed.graph.quantities.items():
        if name not in plan.layout:
            continue  # of a table that this workshop has no row of
        column = plan.layout[name]
        for position, row in enumerate(rows[quantity.table], 1):
            address, value = column.cell(position), float(sample.computed[name][row.index])
            assert book[column.sheet][address].data_type == "f", f"{column.sheet}!{address} {name}"
            held = carried[column.sheet][address].value
            assert held == (value if math.isfinite(value) else None), f"{column.sheet}!{address} {name}"
            compared += 1
    assert compared > 15_000


def test_there_is_one_formula_down_each_column(book, plan):
    for name in plan.graph.quantities:
        if name not in plan.layout:
            continue
        column = plan.layout[name]
        texts = {
            from_here(book[column.sheet][column.cell(position)].value, column.first_row + position - 1)
            for position in range(1, column.rows + 1)
        }
        assert len(texts) == 1, name


def test_formulas_use_plain_functions_only(book):
    used = set()
    for _, cell in formulas(book):
        used |= set(re.findall(r"([A-Z][A-Z0-9.]*)\(", re.sub(r'"[^"]*"', "", cell.value)))
    assert used <= PLAIN_FUNCTIONS
    assert {"SUMPRODUCT", "INDEX", "IF"} <= used


def test_no_chain_of_formulas_returns_to_a_sheet_that_it_left(book):
    places = {}  # of names that lead to formulas; inputs and row numbers pass nothing on
    for name, defined in book.defined_names.items():
        sheet, first = re.match(r"'?([^'!]+)'?!([$A-Z0-9]+)", defined.attr_text).groups()
        if book[sheet][first.replace("$", "")].data_type == "f":
            places[name] = sheet
    for sheet, cell in formulas(book):
        text = re.sub(r'"[^"]*"', "", cell.value)
        seen = {
            there
            for there, column, row in re.findall(r"([A-Z][a-z]+)!\$?([A-Z]+)\$?(\d+)", text)
            if book[there][f"{column}{row}"].data_type == "f"
        }
        seen |= {places[word] for word in re.findall(r"[A-Za-z_]\w*", text) if word in places}
        assert seen <= BACK_TO[sheet], f"{sheet}!{cell.coordinate} {cell.value}"


def test_no_figure_that_a_maker_states_stands_inside_a_formula(book, sample):
    """Numbers within formulas are only 0, 1, the smallest whole that a ratio divides by, a fingerprint's cycle, and on
    the list to print how many channels there are."""
    for sheet, cell in formulas(book):
        text = re.sub(r'"[^"]*"|\$?[A-Z]{1,3}\$?\d+|(?<!\d)[A-Za-z_]\w*', "", cell.value)
        numbers = set(re.findall(r"\d+(?:\.\d+)?(?:E-?\d+)?", text))
        allowed = {"0", "1"} | {
            "Checks": {"101"},
            "Price list": {str(len(sample.computed.resolved.channels)), "2"},
            "Prices": {"1E-12"},
            "Parts": {"1E-12"},
        }.get(sheet, set())
        if cell.value.startswith(("=Inputs!", "=CHOOSE")):
            continue  # digits of FIXED in a sentence, codes in words
        assert numbers <= allowed, f"{sheet}!{cell.coordinate} {cell.value}"


def test_no_column_of_truth_values_is_summed(book, sample):
    """A sum or a maximum over a range leaves out true and false in most programs, though not in LibreOffice."""
    taken = set()
    for _, cell in formulas(book):
        taken |= set(re.findall(r"\b(?:SUM|MAX|PRODUCT)\((?:0,)?INDEX\((\w+),", cell.value))
    assert "step_labour_cost" in taken
    assert [name for name in taken if sample.computed.graph.unit_of(name) == "switch"] == []


def test_other_programs_read_figures_by_their_names(sample, written, plan):
    block = plan.block("Prices", "price")
    table = pandas.read_excel(written, sheet_name="Prices", header=block.head_row - 1, nrows=len(block.rows))
    variants, channels = len(sample.computed.resolved.variants), len(sample.computed.resolved.channels)
    assert len(block.rows) == variants * channels
    for name in ("price", "profit", "margin", "earned_per_hour"):
        numpy.testing.assert_array_equal(table[name].to_numpy(), sample.computed[name].ravel())
    assert list(table["sku"][:channels]) == [sample.computed.resolved.variants[0].sku] * channels


# ---- inputs


def test_inputs_hold_exactly_what_was_stated(sample, book, plan):
    for block, name, position, row, _ in inputs(sample):
        value = book[block.sheet][plan.layout[name].cell(position)].value
        stated = getattr(row.row, name)
        assert value == stated if stated is not None else value is None, f"{name} of row {position}"


def test_only_inputs_that_have_an_effect_are_unlocked(sample, book, plan):
    open_cells = {
        (block.sheet, plan.layout[name].cell(position))
        for block, name, position, _, editable in inputs(sample)
        if editable
    }
    unlocked = {
        (sheet.title, cell.coordinate)
        for sheet in book.worksheets
        for row in sheet.iter_rows()
        for cell in row
        if not cell.protection.locked
    }
    assert unlocked == open_cells
    assert len(open_cells) > 3000
    for sheet in book.worksheets:
        assert sheet.protection.sheet and not sheet.protection.password, sheet.title


@pytest.mark.parametrize(
    ("table", "name", "where", "editable"),
    [
        ("step", "step_minutes", lambda step: step.role is None, False),
        ("step", "step_minutes", lambda step: step.role is not None, True),
        ("step", "machine_minutes", lambda step: step.machine is None, False),
        ("step", "metal_loss", lambda step: not step.is_from_metal, False),
        ("step", "good", lambda step: step.from_g > 0, False),
        ("step", "from_g", lambda step: step.from_g > 0, True),
        ("price", "asked_margin", lambda price: price.policy_kind == "margin", True),
        ("price", "asked_margin", lambda price: price.policy_kind == "markup", False),
        ("price", "fixed_price", lambda price: price.policy_kind == "fixed", True),
        ("price_step", "applies_below", lambda step: step.applies_below is None, False),
        ("casting", "volume_cm3", lambda casting: casting.model_g is not None, False),
        ("casting", "model_density", lambda casting: casting.model_g is not None, True),
        ("content", "is_priced", lambda content: content.metal is None, False),
        ("currency", "exchange_rate", lambda currency: currency.name == "GBP", False),
    ],
)
def test_a_figure_without_effect_cannot_be_changed(sample, table, name, where, editable):
    found = {
        able for block, each, _, row, able in inputs(sample) if (block.table, each) == (table, name) and where(row.row)
    }
    assert found == {editable}


def test_every_column_with_open_inputs_takes_only_what_the_folder_takes(sample, book, plan):
    validated = {}
    for sheet in book.worksheets:
        for rule in sheet.data_validations.dataValidation:
            for cells in rule.sqref.ranges:
                validated[sheet.title, cells.min_col, cells.min_row, cells.max_row] = rule
    seen = set()
    for block, name, _, _, editable in inputs(sample):
        if not editable or name in seen:
            continue
        seen.add(name)
        column = plan.layout[name]
        place, *_ = range_boundaries(f"{column.letter}1")
        rule = validated[block.sheet, place, column.first_row, column.first_row + column.rows - 1]
        if INPUTS[name].is_switch:
            assert (rule.type, rule.formula1) == ("list", '"0,1"')
        else:
            assert rule.type == "custom"
            assert rule.formula1 == bounds_of(name).test(column.cell(1)).removeprefix("=")
        assert rule.promptTitle == name and INPUTS[name].meaning in rule.prompt
        assert rule.error
    assert len(seen) > 75


@pytest.mark.parametrize(
    ("name", "test"),
    [
        ("good", "=AND(ISNUMBER(B7),B7>0,B7<=1)"),  # FractionAboveZero
        ("melt_loss", "=AND(ISNUMBER(B7),B7>=0,B7<1)"),  # FractionBelowOne
        ("wage", "=AND(ISNUMBER(B7),B7>=0)"),  # NotNegative: an unpaid hour is one
        ("premium", "=AND(ISNUMBER(B7),B7>=0,B7<=3)"),  # Surcharge: above 3 is surely a percentage
        ("sets_per_order", "=AND(ISNUMBER(B7),B7>=1)"),  # AtLeastOne
        ("mass_fraction", "=AND(ISNUMBER(B7),B7>0,B7<=1)"),
    ],
)
def test_bounds_are_those_of_the_stated_models(name, test):
    assert bounds_of(name).test("B7") == test


def test_counts_are_whole_and_no_fractions():
    test = bounds_of("casting_count").test("B7")
    assert test.startswith("=AND(ISNUMBER(B7),B7>=1") and test.endswith("INT(B7)=B7)")
    assert is_share("premium") and is_share("good") and is_share("asked_margin")
    assert not is_share("casting_count") and not is_share("scale") and not is_share("wage")


def test_every_number_that_may_be_typed_has_bounds():
    without = {name for name, known in INPUTS.items() if not known.is_switch and bounds_of(name) is None}
    from_words_and_order = {"grams_per_unit", "step_position", "tier_position", "currency_number"}
    of_sizes = {"master_inner_mm", "inner_mm"}  # they follow from the names of the sizes
    assert without == from_words_and_order | of_sizes


# ---- names


def test_defined_names_are_valid_unique_and_lead_to_their_figures(sample, book, carried, plan):
    names = list(book.defined_names)
    assert len({name.casefold() for name in names}) == len(names)
    for name in names:
        assert re.fullmatch(r"[^\W\d]\w{0,254}", name), name
        assert not re.fullmatch(r"[A-Za-z]{1,3}\d+|[RrCc]|[RrCc]\d*[RrCc]\d*", name), name

    def figure(name):
        sheet, address = book.defined_names[name].attr_text.replace("$", "").split("!")
        return carried[sheet.strip("'")][address].value

    resolved = sample.computed.resolved
    silver = next(metal for metal in resolved.metals if metal.name == "Ag")
    bench = next(role for role in resolved.roles if role.name == "bench")
    assert figure("quote_price_Ag") == silver.quote_price == 38.40
    assert figure("exchange_rate_USD") == 0.79
    assert figure("wage_bench") == bench.wage == 18.00
    assert figure("overhead_per_month") == resolved.workshop.overhead_per_month
    assert figure("melt_loss_sterling") == 0.01
    assert figure("fee_rate_marketplace_sale") == 0.075
    assert figure("tax_rate_shop") == 0
    assert figure("minutes_per_hour") == 60
    assert figure("mass_fraction_sterling_Ag") == 0.925
    for name in plan.graph.quantities:
        if name not in plan.layout:
            continue
        column = plan.layout[name]
        assert book.defined_names[name].attr_text.startswith(f"{column.sheet}!${column.letter}${column.first_row}")
    for name in plan.layout.constants:
        assert figure(name) == float(CONSTANTS[name])


# ---- words


#: Names of a small workshop, and what stands in their place, wherever they stand.
HOSTILE = {
    "Fernhollow Castings": "=cmd|' /C calc'!A0",
    "bench": "=1+1",
    "shop": "@shop",
    "sterling": "-2+3",
    "Sterling silver": "+SUM(A1:A9)",
    "acorn-knob": "=knob",
    "Acorn drawer knob": "=HYPERLINK(1)",
    "M4 stud": "{=1}",
    "morning fix": "=NOW()",
    "Yellow brass": "&<brass> é £ €",
}


def test_names_that_look_like_formulas_stay_text(tmp_path):
    files = {}
    for file, text in FILES.items():
        for name, hostile in HOSTILE.items():
            quoted = file.endswith(".toml")
            text = re.sub(rf'"{name}(?=[",])', f'"{hostile}', text) if quoted else text.replace(name, hostile)
            text = re.sub(rf"(?<=\.){name}(?=[.\]])", f'"{hostile}"', text) if quoted else text
        files[file] = text.replace('priced_by = "content"', 'priced_by = "content"\nunpriced = ["Cu"]')
    costing = costing_of(write_folder(tmp_path / "folder", files))
    write_workbook(costing, tmp_path / "live.xlsx")
    book = openpyxl.load_workbook(tmp_path / "live.xlsx")
    cells = [cell for sheet in book.worksheets for row in sheet.iter_rows() for cell in row if cell.value is not None]
    texts = {cell.value for cell in cells if cell.data_type in ("s", "inlineStr")}
    for hostile in HOSTILE.values():
        assert {hostile, f"{hostile}, pair"} & texts, hostile
        assert not [cell.coordinate for cell in cells if cell.data_type == "f" and hostile in cell.value]
    links = {cell.hyperlink.location for cell in cells if cell.hyperlink}
    assert links == {f"'{name}'!A1" for name in ORDER[1:]}


def test_a_header_row_names_the_quantity_and_a_row_above_its_unit(sample, book, plan):
    units = {
        "unit_cost": "GBP", "wage": "GBP/h", "melt_loss": "fraction", "fabrication_per_g": "GBP/g", "good": "fraction",
        "times": "per set", "step_minutes": "min", "exchange_rate": "GBP for 1", "quote_price": "as quoted",
        "sold": "0 or 1", "earned_per_hour": "GBP/h", "density": "g/cm3",
    }  # fmt: skip
    for block in plan.blocks:
        if block.on_end:
            continue
        for place, item in enumerate(block.items):
            if item and item.kind in ("input", "result", "working", "word"):
                head = book[block.sheet].cell(block.head_row, place + 1)
                assert head.value == item.name
                unit = book[block.sheet].cell(block.head_row - 1, place + 1).value
                assert unit and unit == units.get(item.name, unit)
                if item.kind != "word":
                    assert sample.computed.graph.known(item.name).meaning in head.comment.text


# ---- the file


def test_the_same_costing_gives_the_same_file(sample, written, tmp_path):
    write_workbook(sample, tmp_path / "again.xlsx")
    assert members(tmp_path / "again.xlsx") == members(written)


def members(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as packed:
        return {name: packed.read(name) for name in packed.namelist()}


def test_there_are_no_macros_and_no_links_to_elsewhere(written):
    names = members(written)
    assert not [name for name in names if "vba" in name.lower() or "external" in name.lower()]
    targets = re.findall(
        rb'Target="([^"]+)"', b"".join(content for name, content in names.items() if name.endswith(".rels"))
    )
    assert not [target for target in targets if b"://" in target]
