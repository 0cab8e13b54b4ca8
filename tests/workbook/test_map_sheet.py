"""The sheet of maps: the figures of the study as numbers, told as stated, and nothing that a way back would read."""

from __future__ import annotations

import openpyxl
import pytest

from pricing.cli.main import command
from pricing.costing import asked_for
from pricing.folder.read import read_folder
from pricing.questions.map import mapped
from pricing.questions.subject import Subject
from pricing.workbook.incoming import propose
from tests.cli.conftest import troytag as troytag
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import costing_of

SAID = {"sku": "harbour-set", "alloy": "silver-925", "channel": "stall", "steps": 5, "across": None}
DOWN = "labour.bench.rate=18..26"
WORDS = ("--map", "harbour-set:silver-925:stall", "--down", DOWN, "--as-of", "2026-11-20")


@pytest.fixture(scope="module")
def written(tmp_path_factory):
    path = tmp_path_factory.mktemp("map") / "tin-lane.xlsx"
    command()(["export", str(tin_lane()), "xlsx", "--to", str(path), *WORDS], standalone_mode=False)
    return path


@pytest.fixture(scope="module")
def sheet(written):
    return openpyxl.load_workbook(written)["Map"]


def test_the_sheet_holds_what_the_study_says(sheet):
    costing = costing_of(tin_lane())
    found = mapped(Subject(read_folder(tin_lane()), asked_for(costing.asked.as_of)), {**SAID, "down": DOWN})
    rows = [[cell.value for cell in row] for row in sheet.iter_rows(max_col=6)]
    assert rows[3][0] == f"harbour-set in silver-925, stall: margin at {found.held:.2f} EUR"
    assert rows[4][:2] == [f"down: {found.down.path}", f"across: {found.across.path}"]
    assert rows[5][1:] == pytest.approx(list(found.across.values))
    for place, (value, margins) in enumerate(zip(found.down.values, found.margins, strict=True), 6):
        assert rows[place] == pytest.approx([value, *margins])
    for place, (value, prices) in enumerate(zip(found.down.values, found.prices, strict=True), 15):
        assert rows[place] == pytest.approx([value, *prices])


def test_it_says_that_it_does_not_move_and_is_listed(written, sheet):
    assert "Stated, not live" in sheet["A2"].value
    assert not [cell.coordinate for row in sheet.iter_rows() for cell in row if cell.data_type == "f"]
    scales = [rule for ranged in sheet.conditional_formatting for rule in ranged.rules]
    assert [rule.type for rule in scales] == ["colorScale", "colorScale"]
    read_me = openpyxl.load_workbook(written)["Read me"]
    assert "'Map'!A1" in {cell.hyperlink.location for row in read_me.iter_rows() for cell in row if cell.hyperlink}


def test_the_workbook_still_comes_back_unchanged(written):
    assert not propose(written, tin_lane(), costing_of(tin_lane()).asked.as_of).changes


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--across", DOWN), "--across and --down are about a map. Name its piece with --map."),
        (("--map", "a:b:c:d"), "--map a:b:c:d: write SKU:ALLOY:CHANNEL"),
        (("--map", "harbour-sett"), 'no product "harbour-sett". Did you mean "harbour-set"?'),
    ],
)
def test_what_is_no_map_is_told(troytag, tmp_path, words, said):
    ran = troytag("export", tin_lane(), "xlsx", "--to", tmp_path / "x.xlsx", *words, "--as-of", "2026-11-20")
    assert ran.code == 2 and said in " ".join(ran.err.split()) and not (tmp_path / "x.xlsx").exists()
