"""Workbooks made to swamp a reader are told in a sentence, within seconds and a GiB, before any of it is built."""

from __future__ import annotations

import zipfile
from collections.abc import Iterable
from pathlib import Path

import pytest

from pricing.workbook.back.safe_to_open import says_its_size
from tests.bounded import told
from tests.folder.workshops import changed, write
from tests.workbook.test_import_hostile import PLAIN, SHEET, sheet

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
BEGUN = f'<worksheet xmlns="{MAIN}">'


def refusal(folder: Path, name: str, pieces: Iterable[str]) -> str:
    """What the import says of a workbook one part of which consists of these pieces of text."""
    write(folder / "shop", changed())
    with zipfile.ZipFile(folder / "book.xlsx", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for part, content in {**PLAIN, SHEET: sheet("")}.items():
            if part != name:
                packed.writestr(part, content)
        with packed.open(name, "w", force_zip64=True) as part:
            for piece in pieces:
                part.write(piece.encode())
    said = told("import", "book.xlsx", "--into", "shop", folder=folder)
    assert said.startswith("book.xlsx is not opened: ") and said.count("\n") == 1
    return said


CELLS = '<row><c r="A1"><v>1</v></c></row>' * 1_000


@pytest.mark.parametrize(
    ("before", "rows", "said"),
    [
        (BEGUN + "<sheetData>", [CELLS] * 5_000, "does not say how large it is"),
        (BEGUN + '<!-- <dimension ref="A1:B2"/> --><sheetData>', [CELLS] * 500, "does not say how large it is"),
        (BEGUN + '<x:dimension xmlns:x="urn:x" ref="A1:B2"/><sheetData>', [CELLS] * 500, "does not say how large"),
        (BEGUN + '<dimension ref="A1:B2"/><sheetData>', ["<row/>" * 100_000] * 12, "more than 1,048,576 rows"),
        (BEGUN + '<dimension ref="A1:B2"/><sheetData><row>', ["<c/>" * 100_000] * 40, "more than 16,384 cells"),
        (BEGUN + '<dimension ref="A1:B2"/><sheetData>', ["<row>" + "<c/>" * 9_000 + "</row>"] * 400, "3,000,000 cells"),
        (f'<q:worksheet xmlns:q="{MAIN}"><q:dimension ref="A1:B2"/><q:sheetData>', ["<q:row/>" * 100_000] * 12,
         "more than 1,048,576 rows"),
    ],
)  # fmt: skip
def test_sheets_without_end(tmp_path, before, rows, said):
    assert said in refusal(tmp_path, SHEET, [before, *rows, "</sheetData></worksheet>"])


@pytest.mark.parametrize(
    ("part", "begun", "piece"),
    [
        ("xl/styles.xml", f'<styleSheet xmlns="{MAIN}"><cellXfs count="1">', '<xf numFmtId="0"/>'),
        ("xl/workbook.xml", f'<workbook xmlns="{MAIN}"><definedNames>', '<definedName name="a">A1</definedName>'),
        ("xl/sharedStrings.xml", f'<sst xmlns="{MAIN}">', "<si><t>a</t></si>"),
        ("docProps/custom.xml", "<Properties>", "<property/>"),
    ],
)
def test_formats_names_and_texts_without_end(tmp_path, part, begun, piece):
    said = refusal(tmp_path, part, [begun, *[piece * 100_000] * 15])
    assert "more formats, names or texts than any workbook needs" in said


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (BEGUN + '<sheetPr/><dimension ref="A1:B2"/><sheetData>', True),
        (f'<q:worksheet xmlns:q="{MAIN}"><q:dimension ref="A1"/>', True),
        (BEGUN + '<sheetData/><dimension ref="A1:B2"/>', False),
        (BEGUN + "<sheetData><row/>", False),
        ("no sheet", False),
    ],
)
def test_a_sheet_says_its_size_before_its_cells_or_not(text, expected):
    assert says_its_size(text.encode()) is expected
