"""The Products template: exported, filled in a spreadsheet, brought in as new product files."""

from __future__ import annotations

import sys
from pathlib import Path

import openpyxl
import pytest

from pricing.cli.main import main
from pricing.errors import Faults
from pricing.folder.read import read_folder
from pricing.workbook.back import writing
from pricing.workbook.incoming import propose
from pricing.workbook.template.sheet import COLUMNS, FIRST_ROW, HEAD_ROW, SHEET, write_template
from tests.workbook.incoming_workshop import costing_of, workshop

PLACE = {column.name: number for number, column in enumerate(COLUMNS, 1)}
PIN = {
    "sku": "oak-pin", "name": "Oak leaf pin", "collection": "Hedgerow", "alloys": "yellow-brass, sterling",
    "process": "cast", "flask": "medium", "pieces_per_flask": 30, "sprue_ratio": 0.4, "expected_sales": 80,
    "count": 1, "volume_cm3": 0.75, "area_cm2": 4.2, "sold_in": "shop, trade",
}  # fmt: skip
SMALL = {"sku": "oak-pin-small", "name": "Oak leaf pin, small", "like": "oak-pin", "scale": 0.8}


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    directory = tmp_path_factory.mktemp("template")
    root = workshop(directory / "workshop")
    write_template(read_folder(root), directory / "products.xlsx")
    return root, directory / "products.xlsx"


def filled(made, into: Path, *rows: dict[str, object]) -> Path:
    book = openpyxl.load_workbook(made[1])
    for number, row in enumerate(rows, FIRST_ROW):
        for name, value in row.items():
            book[SHEET].cell(number, PLACE[name], value)
    book.save(into / "filled.xlsx")
    return into / "filled.xlsx"


def told(path: Path, root: Path) -> dict[str, str]:
    with pytest.raises(Faults) as refused:
        propose(path, root)
    return {str(fault.place): f"{fault.key}: {fault.problem}. {fault.mend}" for fault in refused.value.faults}


def test_the_template_offers_the_folders_own_names(made):
    book = openpyxl.load_workbook(made[1])
    assert [cell.value for cell in book[SHEET][HEAD_ROW]] == [column.name for column in COLUMNS]
    lists = {column[0].value: [cell.value for cell in column[1:] if cell.value] for column in book["Lists"].columns}
    assert lists["alloys"] == ["sterling", "yellow-brass"] and lists["processes"] == ["cast", "sawn"]
    rules = book[SHEET].data_validations.dataValidation
    sources = {str(rule.sqref).split(":")[0]: rule.formula1 for rule in rules}
    at = book[SHEET].cell(FIRST_ROW, PLACE["process"]).coordinate
    assert sources[at] == "Lists!$D$2:$D$3"  # the fourth list, two names below its head
    assert len(sources) == len(COLUMNS)


def test_an_empty_template_changes_nothing(made, root):
    assert dict(propose(made[1], root).files) == {}


def test_filled_rows_become_product_files_that_cost(made, root, tmp_path, monkeypatch, capsys):
    path = filled(made, tmp_path, PIN, SMALL)
    monkeypatch.setattr(sys, "argv", ["troytag", "import", str(path), "--into", str(root), "--write"])
    with pytest.raises(SystemExit) as end:
        main()
    assert not end.value.code
    written = "products/oak-pin.toml  new product\nproducts/oak-pin-small.toml  new product\n"
    assert capsys.readouterr().out == written
    assert (
        (root / "products" / "oak-pin.toml").read_text()
        == """\
sku = "oak-pin"
name = "Oak leaf pin"
collection = "Hedgerow"
alloys = ["yellow-brass", "sterling"]
process = "cast"
flask = "medium"
pieces_per_flask = 30
sprue_ratio = 0.4
expected_sales = 80
castings = [{ name = "oak-pin", count = 1, volume_cm3 = 0.75, area_cm2 = 4.2 }]
sold_in = ["shop", "trade"]
"""
    )
    skus = {variant.sku for variant in costing_of(root).computed.resolved.variants}
    assert skus == {"acorn-knob", "large-knob", "ring", "oak-pin", "oak-pin-small"}
    found = propose(path, root)  # the same sheet once more
    assert (dict(found.files), found.changes) == ({}, ())


def test_a_row_of_a_product_that_stands_changes_it(made, root, tmp_path):
    row = {"sku": "ring", "sprue_ratio": 0.35, "collection": "Hedgerow"}
    writing.write(propose(filled(made, tmp_path, row), root))
    text = (root / "products" / "ring.toml").read_text()
    assert "sprue_ratio = 0.35          # offcut\n" in text and 'collection = "Hedgerow"\n' in text
    assert text.startswith("# a ring, sawn from sheet\n")


def test_every_bad_cell_is_told_at_once(made, root, tmp_path):
    rows = (
        {**PIN, "sprue_ratio": "0,4", "volume_cm3": "=1+1", "count": 1.5},
        {"name": "Nameless"},
        {**SMALL, "sku": "oak-pin"},
    )
    at = {name: openpyxl.utils.get_column_letter(place) for name, place in PLACE.items()}
    assert told(filled(made, tmp_path, *rows), root) == {
        f"Products!{at['sprue_ratio']}5": 'sprue_ratio: the text "0,4" stands where a number belongs. Type 0.4.',
        f"Products!{at['count']}5": "count: 1.5 stands where a whole number belongs. Type it without a point.",
        f"Products!{at['volume_cm3']}5": "volume_cm3: a formula stands where a figure belongs. Type the figure itself.",
        "Products!A6": "sku: this row has no sku. Give the product a short name of its own.",
        "Products!A7": 'sku: "oak-pin" stands in Products!A5 already. Give one of them another sku.',
    }


def test_what_the_folder_would_not_take_is_told_at_the_cell(made, root, tmp_path):
    rows = ({**PIN, "alloys": "sterlin", "volume_cm3": -1}, {**PIN, "sku": "b", "process": "casd"})
    at = {name: openpyxl.utils.get_column_letter(place) for name, place in PLACE.items()}
    found = told(filled(made, tmp_path, *rows), root)
    assert found[f"Products!{at['alloys']}5"] == 'alloys: no alloy "sterlin". Did you mean "sterling"?'
    assert found[f"Products!{at['process']}6"] == 'process: no process "casd". Did you mean "cast"?'
    assert "-1 is not above 0" in found[f"Products!{at['volume_cm3']}5"]


def test_columns_may_be_moved_left_out_and_misspelt(made, root, tmp_path):
    book = openpyxl.Workbook()
    sheet = book.active
    sheet.title = SHEET
    for row in (["sku", "process", "naem"], ["ring-b", "sawn", "Ring"]):
        sheet.append(row)
    book.save(tmp_path / "own.xlsx")
    assert told(tmp_path / "own.xlsx", root) == {"Products!C1": ': no column "naem" is known. Did you mean "name"?'}
    sheet["C1"], sheet["D1"], sheet["D2"] = "name", "like", "ring"
    book.save(tmp_path / "own.xlsx")
    writing.write(propose(tmp_path / "own.xlsx", root))
    assert read_folder(root).stated.products["ring-b"].like == "ring"


def test_export_writes_it_and_overwrites_nothing(made, root, tmp_path, monkeypatch, capsys):
    target = tmp_path / "new.xlsx"
    monkeypatch.setattr(sys, "argv", ["troytag", "export", str(root), "template", "--to", str(target)])
    with pytest.raises(SystemExit) as end:
        main()
    assert not end.value.code and capsys.readouterr().out.strip() == str(target)
    with pytest.raises(SystemExit) as end:
        main()
    assert end.value.code == 2 and "stands already" in capsys.readouterr().err
