"""The sample's meshes are sound solids of the volumes that their products are costed with, told two ways."""

import math
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from pricing.meshes import measure, volume_and_area
from pricing.meshes.faults import MeshLimits, open_source
from pricing.meshes.measuring import READERS
from pricing.meshes.welding import weld
from tests.meshes import make_sample, shapes
from tests.meshes.sample import leaves, round_pieces, tools

FOLDER = Path(__file__).parents[2] / "sample_catalog" / "meshes"

#: What a caster would expect of such a piece: its volume in cm³ and its longest edge in mm.
PLAUSIBLE = {
    "acorn-charm.3mf": ((0.3, 0.4), (14, 18)),
    "acorn-knob.stl": ((2, 3), (24, 32)),
    "bail.stl": ((0.05, 0.1), (9, 15)),
    "beetle-pin.stl": ((0.45, 0.55), (25, 35)),
    "button.stl": ((0.3, 0.4), (18, 25)),
    "caddy-spoon.stl": ((1.8, 2.2), (65, 90)),
    "candle-snuffer.stl": ((2.3, 2.7), (32, 45)),
    "chess-knight.3mf": ((5.5, 6.5), (35, 50)),
    "cloak-clasp.stl": ((1.1, 1.3), (35, 50)),
    "escutcheon.obj": ((0.8, 1.0), (45, 60)),
    "hare-leaf.3mf": ((0.7, 1.0), (35, 50)),
    "hare.stl": ((0.25, 0.35), (16, 24)),
    "knocker-ring.3mf": ((40, 50), (100, 140)),
    "signet-ring.stl": ((0.8, 1.2), (21, 27)),
    "snail-stud.stl": ((0.35, 0.45), (16, 25)),
    "thimble.stl": ((0.55, 0.65), (16, 20)),
    "wedding-band.stl": ((0.3, 0.45), (19, 23)),
}


@cache
def measured(name):
    """What a mesh of the sample measures."""
    return measure(FOLDER / name)


def differs(path: Path, made: tools.Manifold) -> bool:
    """Whether a file holds another solid than was made.

    Another machine's last digit may leave a triangle more or less, so where the bytes differ the solids are compared:
    what only one of the two holds is less than a thousandth of the piece.
    """
    if path.read_bytes() == make_sample.file_of(path.name, made):
        return False
    read = weld(np.asarray(READERS[path.suffix](open_source(path, path.name, MeshLimits())).triangles, float))
    kept, whole = tools.solid(read.vertices, read.faces), made.volume()
    of_one = kept.volume() + whole - 2 * (kept ^ made).volume()  # ^: what both hold
    return kept.volume() != pytest.approx(whole, rel=1e-4) or of_one >= 1e-3 * whole


def test_every_mesh_is_made_by_the_script():
    assert {path.name for path in FOLDER.iterdir()} == set(make_sample.PIECES) == set(PLAUSIBLE)


@pytest.mark.parametrize("name", make_sample.PIECES)
def test_a_sound_piece_of_a_plausible_size(name):
    """The divergence theorem over the triangles against the area of slices: two ways that share no arithmetic."""
    found = measured(name)
    assert found.sound and found.bodies == 1 and found.remarks == ()
    assert found.second_volume_cm3 == pytest.approx(found.volume_cm3, rel=0.002)
    assert volume_and_area(FOLDER / name) == (found.volume_cm3, found.area_cm2, found.extent_mm)
    (least, most), (shortest, longest) = PLAUSIBLE[name]
    assert least <= found.volume_cm3 <= most
    assert shortest <= max(found.extent_mm) <= longest


@pytest.mark.parametrize("name", [name for name, piece in make_sample.PIECES.items() if piece.cm3 is not None])
def test_the_piece_holds_what_the_script_asks(name):
    """Files keep six or seven digits."""
    assert measured(name).volume_cm3 == pytest.approx(make_sample.PIECES[name].cm3, rel=1e-4)


@pytest.mark.parametrize("name", make_sample.PIECES)
def test_the_file_is_what_the_script_makes(name):
    assert not differs(FOLDER / name, make_sample.PIECES[name].made())


def test_another_solid_is_seen_and_another_last_digit_is_none(tmp_path):
    path, made = tmp_path / "bail.stl", make_sample.PIECES["bail.stl"].made()

    def holding(kept: tools.Manifold) -> Path:
        path.write_bytes(make_sample.file_of(path.name, kept))
        return path

    assert not differs(holding(made.scale((1 + 1e-6,) * 3)), made)
    assert path.read_bytes() != make_sample.file_of(path.name, made)
    assert differs(holding(made.scale((1.001,) * 3)), made)  # 0.3 % more
    assert differs(holding(made.translate((0.1, 0, 0))), made)  # as much of it, elsewhere


def test_the_escutcheon_is_a_prism():
    """Shoelace of the leaf less that of the keyhole and the four pin holes, times the sheet's 1.2 mm."""
    leaf, holes = leaves.escutcheon_outlines()
    area = shapes.outline_area(leaf) - sum(shapes.outline_area(hole) for hole in holes)
    assert measure(FOLDER / "escutcheon.obj").volume_cm3 == pytest.approx(area * 1.2 / 1000, rel=1e-5)


def test_the_keyhole_is_a_round_over_a_slot():
    """The round of 3 mm radius, by 40 chords, less its segment below the slot's corners, and the slot from there down.
    The chord as wide as the slot stands √(9 − 1.6²) = 2.538 mm below the middle; the slot ends at 9."""
    half_angle = math.asin(1.6 / 3)
    wedge = (2 * math.pi - 2 * half_angle) / 40
    round_part = 40 * 0.5 * 9 * math.sin(wedge) + 0.5 * 9 * math.sin(2 * half_angle)
    slot = 3.2 * (9 - math.sqrt(9 - 1.6**2))
    assert shapes.outline_area(leaves.keyhole((4, 7))) == pytest.approx(round_part + slot, rel=1e-12)


def test_the_wedding_band_by_pappus():
    """2 · ∬ rho drho dz times the area of 120 sides on a circle of radius 1, 60 · sin(3°); the smooth ring has pi."""
    moment = shapes.profile_moment([tuple(corner) for corner in round_pieces.wedding_band_section()])
    band = measure(FOLDER / "wedding-band.stl").volume_cm3
    assert band == pytest.approx(2 * 60 * math.sin(math.radians(3)) * moment / 1000, rel=1e-5)
    assert band == pytest.approx(2 * math.pi * moment / 1000, rel=0.001)


def test_a_finger_fits():
    """What is drawn for a finger keeps a round of its inner circumference free: 60 mm for the signet ring, 55 for the
    band; a round of 160 or 120 chords is narrower by less than a thousandth."""
    for name, inside, axis in (("signet-ring.stl", 60.0, 1), ("wedding-band.stl", 55.0, 2)):
        corners = np.asarray(READERS[".stl"](open_source(FOLDER / name, name, MeshLimits())).triangles, float)
        across = np.delete(corners.reshape(-1, 3), axis, axis=1)
        assert 2 * math.pi * np.linalg.norm(across, axis=1).min() == pytest.approx(inside, rel=0.001)


def test_the_script_writes_the_same_every_time(tmp_path, capsys):
    names = ["escutcheon.obj", "bail.stl", "chess-knight.3mf"]
    for folder in ("one", "two"):
        make_sample.main(str(tmp_path / folder), *names)
    assert len(capsys.readouterr().out.splitlines()) == 2 * len(names)
    for name in names:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()


def test_a_relief_of_level_heights_is_a_prism():
    """An L of 6 × 6 mm less 4 × 4, 2 mm thick: (36 − 16) · 2."""
    outline = np.array([(0, 0), (6, 0), (6, 2), (2, 2), (2, 6), (0, 6)], float)
    flat = tools.relief(
        outline, lambda points: np.full(len(points), 3.0), lambda points: np.full(len(points), 1.0), 0.5
    )
    assert flat.volume() == pytest.approx(20 * 2, rel=1e-9)


def test_a_leaning_relief_is_as_thick_as_its_heights_are_apart():
    """A square of 4 mm whose top rises by 1 in 2 from 1 mm, over 0: 16 mm² · (1 + 0.5 · 2), the middle's height."""
    outline = np.array([(0, 0), (4, 0), (4, 4), (0, 4)], float)
    wedge = tools.relief(outline, lambda points: 1 + points[:, 0] / 2, lambda points: points[:, 0] * 0, 0.4)
    assert wedge.volume() == pytest.approx(16 * 2, rel=1e-9)


def test_a_piece_is_made_to_hold_a_volume():
    """A box of 2 × 3 × 4 mm made to hold 0.192 cm³, eight times as much: 4 × 6 × 8."""
    box = tools.Manifold.cube((2, 3, 4))
    assert np.ptp(np.array(tools.of_volume(box, 0.192).bounding_box()).reshape(2, 3), axis=0) == pytest.approx(
        (4, 6, 8)
    )


def test_a_surface_that_is_inside_out_is_refused():
    inside_out = tools.corners_of(tools.Manifold.cube((1, 1, 1)))[:, ::-1]
    read = weld(inside_out)
    with pytest.raises(ValueError, match="inside out"):
        tools.solid(read.vertices, read.faces)
