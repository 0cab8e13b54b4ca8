"""The sample's meshes are what their arithmetic says."""

from pathlib import Path

import pytest

from pricing.meshes import measure, volume_and_area
from tests.meshes import shapes

FOLDER = Path(__file__).parents[2] / "sample_catalog" / "meshes"

#: What a caster would expect of such a piece, in cm³.
PLAUSIBLE = {
    "acorn-knob.stl": (2, 3),
    "cloak-clasp.stl": (1.1, 1.3),
    "thimble.stl": (0.55, 0.65),
    "button.stl": (0.3, 0.4),
    "caddy-spoon.stl": (1.8, 2.2),
    "beetle-pin.stl": (0.45, 0.55),
    "candle-snuffer.stl": (2.3, 2.7),
    "chess-knight.3mf": (5.5, 6.5),
    "escutcheon.obj": (0.8, 1.0),
}


def test_every_mesh_has_its_arithmetic():
    assert {path.name for path in FOLDER.iterdir()} == set(shapes.SAMPLE) == set(PLAUSIBLE)


@pytest.mark.parametrize("name", shapes.SAMPLE)
def test_the_file_is_the_shape(name):
    """Numbers in the files have six or seven digits."""
    shape, path = shapes.SAMPLE[name](), FOLDER / name
    measured = measure(path)
    assert measured.sound and measured.bodies == 1 and measured.remarks == ()
    assert measured.triangles == len(shape.corners)
    assert measured.volume_cm3 == pytest.approx(shape.closed_form_cm3, rel=1e-6)
    assert measured.second_volume_cm3 == pytest.approx(shape.closed_form_cm3, rel=0.002)
    assert volume_and_area(path) == (measured.volume_cm3, measured.area_cm2, measured.extent_mm)
    low, high = PLAUSIBLE[name]
    assert low <= measured.volume_cm3 <= high
    assert path.stat().st_size < 121_000


@pytest.mark.parametrize("name", [name for name, shape_of in shapes.SAMPLE.items() if shape_of().smooth_cm3])
def test_the_file_is_a_round_piece_within_half_a_hundredth(name):
    """Pappus's volume of the round piece: 40 sides leave sin(9°) / (9° in radians) = 0.9959 of it, more sides more."""
    smooth = shapes.SAMPLE[name]().smooth_cm3
    assert 0.9955 * smooth < measure(FOLDER / name).volume_cm3 < smooth


def test_the_script_writes_the_same_every_time(tmp_path, capsys):
    for folder in ("one", "two"):
        shapes.main(str(tmp_path / folder))
    assert len(capsys.readouterr().out.splitlines()) == 2 * len(shapes.SAMPLE)
    for name in shapes.SAMPLE:
        assert (tmp_path / "one" / name).read_bytes() == (tmp_path / "two" / name).read_bytes()
