"""A repricing as a sheet of a workbook."""

from __future__ import annotations

import json
import shutil

import openpyxl
import pytest

from tests.folders import tin_lane

ON = ("--as-of", "2026-11-20")


def test_the_sheet_holds_the_rows_in_full(troytag, tmp_path):
    lane = shutil.copytree(tin_lane(), tmp_path / "lane")
    sheet_file = tmp_path / "repricing.xlsx"
    assert troytag("reprice", lane, *ON, "--xlsx", sheet_file).code == 0
    rows = json.loads(troytag("reprice", lane, *ON, "--json").out)["rows"]
    book = openpyxl.load_workbook(sheet_file)
    head, *lines = book["Repricing"].iter_rows(values_only=True)
    records = [dict(zip(head, line, strict=True)) for line in lines]
    assert len(records) == len(rows) > 10
    for record, row in zip(records, rows, strict=True):
        for name in ("sku", "alloy", "channel", "verdict", "reason", "asked", "margin_asked", "price"):
            same = pytest.approx(row[name], rel=1e-15) if isinstance(row[name], float) else row[name]
            assert record[name] == same, name


def test_a_workbook_is_not_overwritten_unasked_and_then_nothing_is_published(troytag, tmp_path):
    lane = shutil.copytree(tin_lane(), tmp_path / "lane")
    sheet_file = tmp_path / "repricing.xlsx"
    sheet_file.write_bytes(b"mine")
    ran = troytag("reprice", lane, *ON, "--publish", "--xlsx", sheet_file)
    assert ran.code == 2
    assert sheet_file.read_bytes() == b"mine"
    assert not (lane / "editions").exists()
    assert troytag("reprice", lane, *ON, "--xlsx", sheet_file, "--force").code == 0
    assert sheet_file.read_bytes() != b"mine"
