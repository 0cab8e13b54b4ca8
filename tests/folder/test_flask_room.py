"""Whether what is cast goes into its flask."""

from __future__ import annotations

import math

import pytest

from pricing.costing import asked_for, cost, cost_folder
from pricing.days import day
from pricing.folder.read import read_folder
from pricing.meshes import VolumeAndArea
from tests.folder.workshops import Change, changed, write

DAY = day("2026-11-20")
#: The flask of this workshop is 100 mm across and 150 mm high: 88 and 138 within walls of 6 mm, and 12 at the end.
COPPER = Change("alloys.toml", 'priced_by = "content"', 'priced_by = "content"\nunpriced = ["Cu"]')
MESH = Change("products/acorn-knob.toml", "volume_cm3 = 2.31, area_cm2 = 11.4", 'mesh = "knob.stl"')


def notes(tmp_path, extent, *changes, volume=2.31):
    root = write(tmp_path, changed(COPPER, MESH, *changes))
    (root / "knob.stl").write_bytes(b"")
    costing = cost_folder(read_folder(root), asked_for(DAY), lambda path: VolumeAndArea(volume, 11.4, extent))
    return [note for note in costing.warnings if "flask" in note.problem]


@pytest.mark.parametrize("extent", [(20, 20, 20), (88, 88, 138), (138, 88, 88), (88, 138, 60)])
def test_a_piece_that_stands_in_its_flask_in_some_way(tmp_path, extent):
    small = Change("products/large-knob.toml", "scale = 1.25", "scale = 1")
    assert notes(tmp_path, extent, small) == []


@pytest.mark.parametrize("extent", [(89, 89, 30), (89, 100, 89), (20, 20, 139)])
def test_a_piece_that_does_not(tmp_path, extent):
    small = Change("products/large-knob.toml", "scale = 1.25", "scale = 1")
    first, second = notes(tmp_path, extent, small)  # the knob, and its cousin that takes the same mesh
    assert first.key == "castings[0].mesh" and "88 mm across and 138 along" in first.problem
    assert "acorn-knob" in first.problem and "large-knob" in second.problem
    assert str(first.other[0]).startswith("workshop.toml:")


def test_the_scale_of_a_product_counts(tmp_path):
    """71 mm go in, 1.25 × 71 = 88.75 mm do not."""
    (only,) = notes(tmp_path, (71, 71, 71))
    assert "large-knob" in only.problem and "89 × 89 × 89 mm" in only.problem


def test_more_castings_than_a_flask_holds(tmp_path):
    """A flask of π/4 · 10² · 15 = 1178 cm3; castings of 25 cm3 with 0.45 of sprues, or 0.6 in sterling, on a tree.

    18 of them are 18 · 25 · 1.45 = 652.5 cm3; 40 are 1450 cm3 and do not go in.
    """
    assert math.pi / 4 * 10**2 * 15 == pytest.approx(1178, abs=1)
    alone = Change("products/large-knob.toml", "scale = 1.25", "scale = 1")
    assert notes(tmp_path / "a", (30, 30, 30), alone, volume=25) == []
    many = Change("products/acorn-knob.toml", "pieces_per_flask = 18", "pieces_per_flask = 40")
    (only,) = notes(tmp_path / "b", (30, 30, 30), alone, many, volume=25)
    assert only.key == "pieces_per_flask" and "1,450 cm3" in only.problem and "holds 1,178" in only.problem


def test_a_stated_volume_says_nothing_of_a_size(tmp_path):
    root = write(tmp_path, changed(COPPER))
    assert not [note for note in cost(root, asked_for(DAY)).warnings if "flask" in note.problem]
