"""`troytag measure`: a mesh, a weighed model, a weighed casting.

The mesh is a cube of 20 mm: 8 cm³, 6 × 4 cm² = 24 cm². The workshop's sterling has 10.36 g/cm³, its brass 8.47.
"""

from __future__ import annotations

import csv
import io
import json

import pytest

from tests.folder.workshops import changed, write
from tests.meshes.boxes import box, stl
from tests.meshes.shapes import binary_stl

CUBE = box(20.0)
CARD = """\
cube.stl
  volume   8.000 cm³
  surface  24.00 cm²
  extent   20.0 × 20.0 × 20.0 mm
           The file says no unit; mm is assumed. Drawn in inches it would be
           508.0 × 508.0 × 508.0 mm: --unit in.
  sound    yes
"""
# 8 × 10.36 = 82.88, 8 × 8.47 = 67.76
MASSES = """\

in            g/cm3  as cast, g  poured at
sterling      10.36       82.88     960 °C
yellow-brass   8.47       67.76          –
"""


@pytest.fixture(autouse=True)
def inside(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("TROYTAG_CACHE", "off")
    stl(tmp_path, CUBE, name="cube.stl")
    stl(tmp_path, CUBE[2:], name="open.stl")  # without its floor
    (tmp_path / "cut.stl").write_bytes(binary_stl(CUBE)[:-10])
    return write(tmp_path / "shop", changed())


def show(root, **units: str) -> None:
    path = root / "workshop.toml"
    path.write_text(path.read_text() + "[show]\n" + "".join(f'{key} = "{unit}"\n' for key, unit in units.items()))


def tidy(text: str) -> str:
    """Without blanks at the ends of lines."""
    return "".join(line.rstrip() + "\n" for line in text.splitlines())


def test_a_mesh(troytag):
    ran = troytag("measure", "cube.stl")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == CARD


def test_its_mass_in_every_alloy(troytag):
    ran = troytag("measure", "cube.stl", "--folder", "shop")
    assert ran.code == 0
    assert tidy(ran.out) == CARD + MASSES


def test_in_the_units_that_the_workshop_shows(troytag, inside):
    show(inside, mass="dwt", length="in", temperature="F")
    ran = troytag("measure", "cube.stl", "--folder", "shop")
    # 20 / 25.4 = 0.787; 508 / 25.4 = 20; 82.88 / 1.55517384 = 53.293; 67.76 / 1.55517384 = 43.571; 960 × 9/5 + 32
    assert "  extent   0.787 × 0.787 × 0.787 in\n" in ran.out
    assert "20.000 × 20.000 × 20.000 in: --unit in." in ran.out
    assert tidy(ran.out).endswith(
        "in            g/cm3  as cast, dwt  poured at\n"
        "sterling      10.36         53.29    1760 °F\n"
        "yellow-brass   8.47         43.57          –\n"
    )


def test_what_finishing_leaves_of_it(troytag):
    ran = troytag("measure", "cube.stl", "--folder", "shop", "--process", "cast")
    # darkening takes off 0.002: 82.88 × 0.998 = 82.714, 67.76 × 0.998 = 67.624
    assert tidy(ran.out).endswith(
        "in            g/cm3  as cast, g  finished, g  poured at\n"
        "sterling      10.36       82.88        82.71     960 °C\n"
        "yellow-brass   8.47       67.76        67.62          –\n"
    )


def test_drawn_in_inches(troytag):
    ran = troytag("measure", "cube.stl", "--unit", "in")
    # 20 in are 508 mm: 508³ mm³ = 131,096.512 cm³, 6 × 508² mm² = 15,483.84 cm²
    assert "  volume   131,097 cm³\n  surface  15,484 cm²\n  extent   508.0 × 508.0 × 508.0 mm\n" in ran.out
    assert "The file says no unit" not in ran.out


def test_json_is_a_list_of_exactly_seven_fields(troytag):
    ran = troytag("measure", "cube.stl", "open.stl", "cut.stl", "none.stl", "--json", "--folder", "shop")
    cube, hole, cut, none = json.loads(ran.out)
    assert ran.code == 1
    assert cube == {
        "file": "cube.stl",
        "unit": "mm",
        "volume_cm3": pytest.approx(8),
        "area_cm2": pytest.approx(24),
        "extent_mm": [20, 20, 20],
        "sound": True,
        "faults": [],
    }
    assert list(hole) == list(cut) == list(none) == list(cube)
    assert hole["sound"] is False and hole["area_cm2"] == pytest.approx(20)
    assert len(hole["faults"]) == 1 and hole["faults"][0].startswith("it has a hole ")
    assert (cut["volume_cm3"], cut["sound"]) == (None, False)
    assert cut["faults"] == [
        "it says that it holds 12 triangles but holds 11 and a half. It was cut short or damaged. "
        "Export it again from the modelling program."
    ]
    assert none["faults"] == ["there is no such file. Check the name and the folder."]


def test_a_mesh_that_is_not_sound_is_told_and_the_others_measured(troytag):
    ran = troytag("measure", "cut.stl", "none.stl", "cube.stl")
    assert ran.code == 1
    assert ran.out == (
        "cut.stl\n"
        "           It says that it holds 12 triangles but holds 11 and a half. It was\n"
        "           cut short or damaged. Export it again from the modelling program.\n"
        "\n"
        "none.stl\n"
        "           There is no such file. Check the name and the folder.\n"
        "\n" + CARD
    )
    hole = troytag("measure", "open.stl")
    assert hole.code == 1
    assert "  sound    no\n           It has a hole " in hole.out


def test_no_mass_where_the_volume_cannot_be_relied_on(troytag, inside):
    """Two cubes in each other: what is in both is counted twice."""
    stl(inside.parent, CUBE, box(20.0, at=(10.0, 0.0, 0.0)), name="two.stl")
    ran = troytag("measure", "two.stl", "--folder", "shop")
    assert ran.code == 1
    assert ran.out.endswith("\nNo masses: the volume may be off by more than a hundredth.\n")
    assert "g/cm3" not in ran.out


def test_a_weighed_model(troytag):
    ran = troytag("measure", "--model-g", "2.24", "--model-density", "1.12", "--folder", "shop")
    # 2.24 / 1.12 = 2 cm³; 2 × 10.36 = 20.72, 2 × 8.47 = 16.94
    assert tidy(ran.out) == (
        "model of 2.24 g at 1.12 g/cm3\n"
        "  volume   2.000 cm³\n"
        "\n"
        "in            g/cm3  as cast, g  poured at\n"
        "sterling      10.36       20.72     960 °C\n"
        "yellow-brass   8.47       16.94          –\n"
    )
    assert troytag("measure", "--model-g", "2.24", "--model-density", "1.12").out.splitlines()[1:] == [
        "  volume   2.000 cm³"
    ]


def test_a_weighed_casting_as_cast_and_finished(troytag):
    words = ("measure", "--metal-g", "20.72", "--in-alloy", "sterling", "--folder", "shop", "--json")
    (as_cast,) = json.loads(troytag(*words, "--weighed", "as-cast").out)
    assert as_cast == {
        "file": None, "unit": None, "volume_cm3": pytest.approx(2), "area_cm2": None, "extent_mm": None, "sound": None,
        "faults": [],
    }  # fmt: skip
    (finished,) = json.loads(troytag(*words, "--weighed", "finished", "--process", "cast").out)
    assert finished["volume_cm3"] == pytest.approx(2 / 0.998)


def test_a_finished_piece_whose_process_nobody_said(troytag):
    words = ("measure", "--metal-g", "20.72", "--in-alloy", "sterling", "--folder", "shop", "--weighed", "finished")
    ran = troytag(*words)
    assert ran.code == 2
    assert ran.err == (
        "--weighed finished: say by which --process it was made (cast takes off 0.2 %, sawn takes off 0.0 %).\n"
    )


def test_csv_has_a_line_for_each_and_a_column_for_each_alloy(troytag):
    words = ("cube.stl", "none.stl", "--model-g", "2.24", "--model-density", "1.12", "--folder", "shop")
    model, cube, none = csv.DictReader(io.StringIO(troytag("measure", *words, "--csv").out))
    assert float(cube["volume_cm3"]) == pytest.approx(8)
    assert (float(cube["x_mm"]), float(cube["sterling as_cast_g"])) == (20, pytest.approx(82.88))
    assert (model["file"], model["unit"]) == ("model of 2.24 g at 1.12 g/cm3", "")
    assert float(model["yellow-brass as_cast_g"]) == pytest.approx(16.94)
    assert (none["sterling as_cast_g"], none["faults"]) == ("", "there is no such file. Check the name and the folder.")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "name a mesh, or what was weighed: --model-g with --model-density, "
         "or --metal-g with --in-alloy and --weighed."),
        (("cube.stl", "--unit", "ft"), 'unit: no unit "ft". Known: "cm", "in", "m", "mm".'),
        (("cube.stl", "--folder", "nowhere"), "nowhere: there is no such folder. "
         "Name a workshop folder, one with workshop.toml in it, or begin one: troytag start nowhere"),
        (("cube.stl", "--process", "cast"), "--process is a process of a workshop folder: name it with --folder."),
        (("cube.stl", "--folder", "shop", "--process", "casd"), 'no process "casd". Did you mean "cast"?'),
        (("--model-g", "2.8"), "--model-g needs --model-density beside it."),
        (("--model-density", "1.1"), "--model-density needs --model-g beside it."),
        (("--metal-g", "2.8"), "--metal-g needs --in-alloy and --weighed beside it."),
        (("--model-g", "0", "--model-density", "1"), "--model-g 0: state a number above 0."),
        (("--model-g", "1", "--model-density", "nan"), "--model-density nan: state a number above 0."),
        (("--metal-g", "inf", "--in-alloy", "x", "--weighed", "as-cast"), "--metal-g inf: state a number above 0."),
        (("--metal-g", "2", "--in-alloy", "sterling", "--weighed", "as-cast"),
         "--in-alloy is an alloy of a workshop folder: name it with --folder."),
        (("--metal-g", "2", "--in-alloy", "stirling", "--weighed", "as-cast", "--folder", "shop"),
         'no alloy "stirling". Did you mean "sterling"?'),
        (("--metal-g", "2", "--in-alloy", "sterling", "--weighed", "cast", "--folder", "shop"),
         '--weighed "cast": write as-cast or finished.'),
    ],
)  # fmt: skip
def test_words_that_are_off_are_told_with_exit_code_2(troytag, words, said):
    ran = troytag("measure", *words)
    assert (ran.code, ran.out, ran.err) == (2, "", said + "\n")


def test_every_screen_fits_eighty_columns_and_has_no_colours(troytag):
    for words in (("cube.stl", "open.stl", "cut.stl", "--folder", "shop", "--process", "cast"), ("-h",)):
        ran = troytag("measure", *words)
        for line in (ran.out + ran.err).splitlines():
            assert len(line) <= 80, line
            assert "\x1b" not in line
