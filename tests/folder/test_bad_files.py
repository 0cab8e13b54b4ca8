"""Files as wholes: missing, no files, unreadable, in another encoding; and the folder itself."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from pricing.errors import UsageFault
from pricing.folder.prices.read import read_metal_prices
from pricing.folder.read import read_folder
from tests.folder.workshops import FILES, Change, changed, faults_of, write

WORKSHOP = "workshop.toml"
KNOB = "products/acorn-knob.toml"
LARGE = "products/large-knob.toml"


def told(root: Path) -> list[str]:
    return [str(fault) for fault in faults_of(root)]


@pytest.mark.parametrize("file", [file for file in FILES if not file.startswith("products/")])
def test_a_missing_file(tmp_path, file):
    files = changed()
    del files[file]
    assert told(write(tmp_path, files)) == [f"{file} this file is missing. Add {file} to the folder."]


def test_every_file_missing_is_told_at_once(tmp_path):
    (tmp_path / "products").mkdir()  # so that somebody has begun
    names = ["alloys.toml", "channels.toml", "metal_prices.csv", "processes.toml", "workshop.toml"]
    assert told(tmp_path) == [f"{name} this file is missing. Add {name} to the folder." for name in names]


@pytest.mark.parametrize("file", [WORKSHOP, "metal_prices.csv", KNOB, "doubts.toml"])
def test_a_folder_in_place_of_a_file(tmp_path, file):
    files = changed()
    files.pop(file, None)
    write(tmp_path, files)
    (tmp_path / file).mkdir(parents=True)
    expected = f"{file} is a folder, and a file belongs here. Move it away and put the file in its place."
    assert told(tmp_path)[0] == expected


def test_a_file_in_place_of_the_products(tmp_path):
    files = {file: text for file, text in FILES.items() if not file.startswith("products/")}
    write(tmp_path, {**files, "products": "none yet"})
    assert told(tmp_path) == ["products a folder belongs here. Put the products in a folder."]


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    write(tmp_path, changed())
    refuse(monkeypatch, PermissionError(13, "Permission denied"))
    assert told(tmp_path) == ["workshop.toml this file may not be read. Give yourself leave to read it."]


def test_a_disk_that_fails(tmp_path, monkeypatch):
    write(tmp_path, changed())
    refuse(monkeypatch, OSError(5, "Input/output error"))
    assert told(tmp_path) == [
        "workshop.toml this file cannot be read (Input/output error). See whether the disk is there."
    ]


def refuse(monkeypatch, error: OSError) -> None:
    """Let the operating system refuse `workshop.toml`; a test that runs as root could not take its leave away."""
    opened = os.open

    def opening(path, *rest, **more):
        if str(path).endswith(WORKSHOP):
            raise error
        return opened(path, *rest, **more)

    monkeypatch.setattr(os, "open", opening)


def test_bytes_that_are_not_utf_8(tmp_path):
    """0xE9 is é in Latin-1; before it stand `name = "Caf`, 11 characters."""
    write(tmp_path, changed())
    (tmp_path / WORKSHOP).write_bytes(FILES[WORKSHOP].replace("Fernhollow", "Café").encode("latin-1"))
    assert told(tmp_path) == [
        "workshop.toml:2:12 the byte 0xE9 is not UTF-8. Save the file as UTF-8.\n"
        '     2 | name = "Caf\N{REPLACEMENT CHARACTER} Castings"\n'
        "       |            ^"
    ]


@pytest.mark.parametrize("mark", ["", "\N{BYTE ORDER MARK}"])
@pytest.mark.parametrize("encoding", ["UTF-16-LE", "UTF-16-BE", "UTF-32-LE", "UTF-32-BE"])
def test_another_encoding(tmp_path, encoding, mark):
    write(tmp_path, changed())
    (tmp_path / WORKSHOP).write_bytes((mark + FILES[WORKSHOP]).encode(encoding))
    assert told(tmp_path) == [f"workshop.toml this file is written in {encoding[:6]}. Save it as UTF-8."]


@pytest.mark.parametrize("file", [WORKSHOP, "metal_prices.csv"])
def test_a_file_that_a_disk_lost(tmp_path, file):
    write(tmp_path, changed())
    (tmp_path / file).write_bytes(bytes(4096))
    assert told(tmp_path)[0] == (
        f"{file} there is nothing but zeros in this file. The disk lost it: bring it back from a copy."
    )


def test_a_zero_in_a_source(tmp_path):
    files = changed(Change("metal_prices.csv", "morning fix", "mor\x00ning fix"))
    assert told(write(tmp_path, files)) == [
        "metal_prices.csv:2:32 a byte that is zero stands here. Take it out, or write the line again.\n"
        "     2 | 2026-11-20,Ag,38.40,ozt,USD,mor?ning fix\n"
        "       |                                ^"
    ]


def test_doubts_that_are_a_link_to_nowhere(tmp_path):
    (write(tmp_path, changed()) / "doubts.toml").symlink_to("nowhere")
    assert told(tmp_path) == ["doubts.toml this file is missing. Add doubts.toml to the folder."]


def test_a_byte_order_mark_is_passed_over(tmp_path):
    """As editors on Windows and spreadsheet programs write it; columns do not count it."""
    write(tmp_path, {file: "\N{BYTE ORDER MARK}" + text for file, text in FILES.items()})
    assert read_folder(tmp_path).stated.workshop.name == "Fernhollow Castings"
    (tmp_path / WORKSHOP).write_bytes(("\N{BYTE ORDER MARK}" + FILES[WORKSHOP].replace("= 1\n", "= 2\n")).encode())
    assert told(tmp_path) == [
        "workshop.toml:1:10 schema: 2 is not known here. Write 1.\n     1 | schema = 2\n       |          ^"
    ]


def test_line_ends_of_windows(tmp_path):
    files = {file: text.replace("\n", "\r\n") for file, text in FILES.items()}
    assert read_folder(write(tmp_path / "good", files)).stated.workshop.currency == "GBP"
    files[WORKSHOP] = files[WORKSHOP].replace("rate = 24.0", "rate = true")
    assert told(write(tmp_path / "bad", files)) == [
        "workshop.toml:5:8 labour.bench.rate: true stands where a number belongs. Write a number.\n"
        "     5 | rate = true\n"
        "       |        ^"
    ]


@pytest.mark.parametrize("file", [WORKSHOP, LARGE])
def test_an_empty_file_lacks_what_is_required(tmp_path, file):
    faults = [fault for fault in faults_of(write(tmp_path, {**changed(), file: ""})) if fault.place.file == file]
    assert faults
    assert all(fault.place.line is None and fault.problem.endswith(" is missing") for fault in faults)


def test_a_folder_that_is_not_there(tmp_path):
    with pytest.raises(UsageFault) as raised:
        read_folder(tmp_path / "nowhere")
    named = "nowhere: there is no such folder. Name a workshop folder, one with workshop.toml in it"
    assert f"{named}, or begin one: troytag start " in str(raised.value)


@pytest.mark.parametrize("read", [read_folder, read_metal_prices])
def test_a_folder_in_which_nothing_is_begun(tmp_path, read):
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(UsageFault) as raised:
        read(tmp_path)
    assert str(raised.value) == f"{tmp_path}: there is no workshop in it yet. Begin one: troytag start {tmp_path}"


def test_what_is_no_file_of_the_folder_is_not_read(tmp_path):
    """Locks and leftovers of editors and systems, notes, editions: none of them is looked into."""
    others = {
        "products/.#acorn-knob.toml": "%", "products/._acorn-knob.toml": "\x00", "products/notes.txt": "%",
        "editions/1.json": "%", "log/1.json": "%", "products/old/knob.toml": "%",
    }  # fmt: skip
    assert set(read_folder(write(tmp_path, {**changed(), **others})).stated.products) == {"acorn-knob", "large-knob"}


def test_a_folder_without_products_or_machines(tmp_path):
    """A workshop that has only begun: no machines, hence no energy; nothing to sell yet."""
    begun = {
        WORKSHOP: 'name = "Fernhollow"\ncurrency = "JPY"\n[overhead]\nper_month = 0\nproductive_hours = 100\n',
        "alloys.toml": "", "processes.toml": "", "channels.toml": "", "metal_prices.csv": FILES["metal_prices.csv"],
    }  # fmt: skip
    stated = read_folder(write(tmp_path, begun)).stated
    assert (stated.workshop.energy, stated.products, stated.alloys, stated.ladder) == (None, {}, {}, None)


def test_one_sku_in_two_files_told_in_full(tmp_path):
    files = changed(Change("products/other.toml", "", 'name = "Other"\nsku = "acorn-knob"\nlike = "large-knob"\n'))
    assert told(write(tmp_path, files)) == [
        'products/other.toml:2:7 sku: another product has the sku "acorn-knob" already. Give one of them another sku.\n'
        '     2 | sku = "acorn-knob"\n'
        "       |       ^\n"
        "  and products/acorn-knob.toml:1:7\n"
        '     1 | sku = "acorn-knob"\n'
        "       |       ^"
    ]
