"""Files that should not be opened are refused in one sentence, before a reader of workbooks gets to see them."""

from __future__ import annotations

import io
import struct
import time
import zipfile
from pathlib import Path

import pytest

from pricing.errors import TroytagError, UsageFault
from pricing.workbook.back import cells
from pricing.workbook.back import safe_to_open as sound
from tests.waiting import affordable

PLAIN = {
    "[Content_Types].xml": '<?xml version="1.0"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/'
    'content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.'
    'sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-'
    'officedocument.spreadsheetml.worksheet+xml"/></Types>',
    "_rels/.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="a" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" '
    'Target="xl/workbook.xml"/></Relationships>',
    "xl/workbook.xml": '<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" xmlns:r='
    '"http://schemas.openxmlformats.org/officeDocument/2006/relationships"><sheets><sheet name="Inputs" sheetId="1" '
    'r:id="b"/></sheets></workbook>',
    "xl/_rels/workbook.xml.rels": '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Id="b" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" '
    'Target="worksheets/sheet1.xml"/></Relationships>',
}
SHEET = "xl/worksheets/sheet1.xml"


def sheet(rows: str, before: str = "") -> str:
    return (
        f'{before}<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">'
        f"<sheetData>{rows}</sheetData></worksheet>"
    )


def book(path: Path, parts: dict[str, str | bytes]) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as packed:
        for name, content in {**PLAIN, **parts}.items():
            packed.writestr(name, content)
    return path


def refusal(path: Path) -> str:
    """What is said of a file that is refused: one line."""
    with pytest.raises(TroytagError) as refused:
        cells.read_workbook(path, ("Inputs",))
    said = str(refused.value)
    assert said.startswith(str(path)) and "\n" not in said and len(said) < 400
    return said.removeprefix(str(path))


def test_a_plain_one_is_read(tmp_path):
    rows = '<row r="2"><c r="B2"><v>3.5</v></c><c r="C2"><f>B2*2</f><v>7</v></c></row>'
    found = cells.read_workbook(book(tmp_path / "plain.xlsx", {SHEET: sheet(rows)}), ("Inputs", "Prices"))
    assert list(found.sheets) == ["Inputs"]
    assert found.sheets["Inputs"].cell(2, 1).value == 3.5
    assert found.sheets["Inputs"].cell(2, 2).is_formula
    assert found.sheets["Inputs"].cell(1, 0).value is None


@pytest.mark.parametrize(
    "content", [b"", b"date,metal\n", b"PK\x03\x04" + b"\0" * 60, b"\xd0\xcf\x11\xe0" + b"\0" * 600]
)
def test_what_is_no_zip_is_refused(tmp_path, content):
    path = tmp_path / "odd.xlsx"
    path.write_bytes(content)
    assert "no workbook that can be opened" in refusal(path)


def test_another_zip_and_no_file_are_told(tmp_path):
    with zipfile.ZipFile(tmp_path / "letters.xlsx", "w") as packed:
        packed.writestr("letter.txt", "Dear Ines")
    assert "no workbook of spreadsheet cells" in refusal(tmp_path / "letters.xlsx")
    with pytest.raises(UsageFault, match="there is no such file"):
        cells.read_workbook(tmp_path / "none.xlsx", ())


def test_a_file_that_was_cut_short_is_refused(tmp_path):
    whole = book(tmp_path / "whole.xlsx", {SHEET: sheet("")}).read_bytes()
    for share in (0.2, 0.5, 0.9):
        path = tmp_path / "cut.xlsx"
        path.write_bytes(whole[: int(len(whole) * share)])
        assert "no workbook that can be opened" in refusal(path)


def test_a_bomb_is_counted_by_what_really_comes_out(tmp_path, monkeypatch):
    monkeypatch.setattr(sound, "MOST_UNPACKED", 8 * 1024**2)
    path = book(tmp_path / "bomb.xlsx", {"xl/media/image.bin": b"\0" * 9 * 1024**2})
    assert path.stat().st_size < 20_000
    assert "unpacks to more than 8 MB" in refusal(path)
    monkeypatch.setattr(sound, "MOST_BESIDE", 4 * 1024**2)
    assert "a part of it unpacks to more than 4 MB" in refusal(path)


def test_a_sheet_of_more_cells_than_are_ever_exported_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(cells, "MOST_CELLS", 99)
    rows = "".join(f'<row r="{row}"><c r="A{row}"><v>1</v></c></row>' for row in range(1, 101))
    path = book(tmp_path / "many.xlsx", {SHEET: sheet(rows)})
    assert "its sheet Inputs has more than 99 filled cells" in refusal(path)
    monkeypatch.setattr(sound, "MOST_BROUGHT_BACK", 99)
    assert "it has more than 99 cells. Change the figures in the folder, or export a copy of it" in refusal(path)


def test_a_bomb_of_the_size_that_is_really_refused_takes_no_time_to_speak_of(tmp_path):
    path = tmp_path / "bomb.xlsx"
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as packed:
        for name, content in PLAIN.items():
            packed.writestr(name, content)
        with packed.open(SHEET, "w", force_zip64=True) as part:
            for _ in range(sound.MOST_UNPACKED // 1024**2 + 1):
                part.write(b" " * 1024**2)
    begun = time.process_time()
    assert "unpacks to more than" in refusal(path)
    assert affordable(time.process_time() - begun, 30)


@pytest.mark.parametrize("claimed", [1, 100])
def test_a_part_that_lies_about_its_size_is_refused(tmp_path, claimed):
    """Both places in which the size stands say less than comes out."""
    content = sheet("<row r='1'><c r='A1'><v>1</v></c></row>" * 50).encode()
    path = book(tmp_path / "lying.xlsx", {SHEET: content})
    true, false = struct.pack("<L", len(content)), struct.pack("<L", claimed)
    assert path.read_bytes().count(true) == 2
    path.write_bytes(path.read_bytes().replace(true, false))
    assert "no workbook that can be opened" in refusal(path)


def test_a_part_that_claims_more_than_it_holds_is_refused_or_read_as_it_is(tmp_path):
    content = sheet("<row r='1'><c r='A1'><v>1</v></c></row>").encode()
    path = book(tmp_path / "lying.xlsx", {SHEET: content})
    path.write_bytes(path.read_bytes().replace(struct.pack("<L", len(content)), struct.pack("<L", 2**31 - 1)))
    try:
        found = cells.read_workbook(path, ("Inputs",))
    except TroytagError as refused:
        assert "\n" not in str(refused)
    else:
        assert found.sheets["Inputs"].cell(1, 0).value == 1


@pytest.mark.parametrize(
    "declared",
    [
        '<!DOCTYPE a [<!ENTITY b "bbbbbbbb"><!ENTITY c "&b;&b;&b;&b;">]>',
        "<!DOCTYPE a SYSTEM 'file:///etc/hostname'>",
        "<!doctype a>",
        f"{' ' * (1024**2 - 5)}<!DOCTYPE a>",
    ],
)
def test_a_document_type_or_an_entity_is_refused_wherever_it_stands(tmp_path, declared):
    for part in (SHEET, "xl/sharedStrings.xml", "docProps/custom.xml"):
        parts = {SHEET: sheet(""), part: sheet("", before=declared)}
        assert "declares a document type" in refusal(book(tmp_path / "declared.xlsx", parts))


@pytest.mark.parametrize("encoding", ["utf-16", "utf-16-le", "utf-16-be"])
def test_a_declaration_does_not_hide_in_another_encoding(tmp_path, encoding):
    content = sheet("", before='<?xml version="1.0" encoding="utf-16"?><!DOCTYPE a>').encode(encoding)
    assert "UTF-8" in refusal(book(tmp_path / "wide.xlsx", {SHEET: content}))


@pytest.mark.parametrize("encoding", ["utf-7", "cp037", "utf-32"])
def test_an_encoding_that_no_workbook_has_is_refused(tmp_path, encoding):
    content = sheet("", before=f'<?xml version="1.0" encoding="{encoding}"?>')
    assert "UTF-8" in refusal(book(tmp_path / "odd.xlsx", {SHEET: content}))


def test_a_sheet_that_claims_to_be_huge_is_refused(tmp_path):
    claims = sheet("").replace("<sheetData>", '<dimension ref="A1:XFD1048576"/><sheetData>')
    assert "claims 16,384 columns and 1,048,576 rows" in refusal(book(tmp_path / "huge.xlsx", {SHEET: claims}))


def test_cells_far_out_are_not_searched_for(tmp_path):
    """Three cells at the ends of a sheet: 17 billion places between them."""
    rows = '<row r="1"><c r="A1"><v>1</v></c><c r="XFD1"><v>2</v></c></row>'
    rows += '<row r="1048576"><c r="A1048576"><v>3</v></c></row>'
    begun = time.process_time()
    found = cells.read_workbook(book(tmp_path / "far.xlsx", {SHEET: sheet(rows)}), ("Inputs",))
    assert affordable(time.process_time() - begun, 10)
    assert [(row, list(held)) for row, held in found.sheets["Inputs"].rows.items()] == [(1, [0])]


def test_two_parts_of_one_name_are_refused(tmp_path):
    path = book(tmp_path / "twice.xlsx", {SHEET: sheet("")})
    with pytest.warns(UserWarning, match="Duplicate"), zipfile.ZipFile(path, "a") as packed:
        packed.writestr(SHEET, sheet("<row/>"))
    assert "two of one name" in refusal(path)


def test_a_file_with_a_password_or_broken_words_is_refused(tmp_path):
    path = book(tmp_path / "locked.xlsx", {SHEET: sheet("")})
    content = bytearray(path.read_bytes())
    central = content.index(b"PK\x01\x02")
    for at in (content.index(b"PK\x03\x04") + 6, central + 8):  # the flag of the first part, in both places
        content[at] |= 1
    path.write_bytes(bytes(content))
    assert "no workbook that can be opened" in refusal(path)
    assert "can be read" in refusal(book(tmp_path / "broken.xlsx", {SHEET: "<worksheet><sheetData><row>"}))
    assert "can be read" in refusal(book(tmp_path / "broken2.xlsx", {"xl/workbook.xml": "nothing of the kind"}))


def test_the_bytes_of_a_zip_in_memory_are_what_these_tests_think(tmp_path):
    """The plain parts alone make a file that zip programs read."""
    packed = io.BytesIO(book(tmp_path / "plain.xlsx", {SHEET: sheet("")}).read_bytes())
    assert zipfile.ZipFile(packed).testzip() is None
