"""The same box in every format and spelling."""

import io

import numpy as np
import pytest
import trimesh

from pricing.errors import UsageFault
from pricing.meshes import measure, volume_and_area
from pricing.meshes.soup import triangulated
from tests.meshes import shapes
from tests.meshes.boxes import (
    BOX,
    COMB,
    CORNERS,
    OBJ,
    PLY_TEXT,
    QUAD_LINES,
    SIDES,
    VERTEX_LINES,
    binary_ply,
    box,
    mesh_xml,
    model_xml,
    stl,
    text_stl,
    with_index,
)


def is_the_box(measured, side=10.0):
    assert measured.faults == ()
    assert measured.volume_cm3 == pytest.approx(side**3 / 1000, rel=1e-6)
    assert measured.area_cm2 == pytest.approx(6 * side**2 / 100, rel=1e-6)
    assert measured.extent_mm == pytest.approx((side, side, side), rel=1e-6)
    return True


def written(tmp_path, name, content):
    path = tmp_path / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    return path


@pytest.mark.parametrize("number", ["{:g}", "{:.6e}", "{:.3E}", "{:+.1f}", "{:025.18f}"])
def test_text_stl_in_every_spelling_of_numbers(tmp_path, number):
    assert is_the_box(measure(written(tmp_path, "a.stl", text_stl(box(10), number))))


def test_text_stl_in_capitals_with_other_line_ends_and_two_solids(tmp_path):
    two = text_stl(box(10)[:5]) + text_stl(box(10)[5:])
    assert is_the_box(measure(written(tmp_path, "a.stl", two.upper().replace(b"\n", b"\r\n"))))


def test_a_binary_stl_that_begins_with_solid(tmp_path):
    path = stl(tmp_path, box(10))
    content = path.read_bytes()
    path.write_bytes(b"solid facet made elsewhere".ljust(80) + content[80:])
    assert is_the_box(measure(path))


def test_an_ending_in_capitals(tmp_path):
    assert is_the_box(measure(stl(tmp_path, box(10), name="PIECE.STL")))


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(OBJ, id="quads"),
        pytest.param(OBJ.replace("\n", "\r\n"), id="other line ends"),
        pytest.param(OBJ.replace(" ", "\t"), id="tabs"),
        pytest.param(OBJ.replace("\n", "   # a remark\n"), id="remarks"),
        pytest.param(VERTEX_LINES.replace("\n", " 0.5 0.5 0.5\n") + QUAD_LINES, id="colours"),
        pytest.param(VERTEX_LINES + "vt 0 0\nvn 0 0 1\n" + with_index("{}/1/1"), id="textures and normals"),
        pytest.param(VERTEX_LINES + "vn 0 0 1\n" + with_index("{}//1"), id="normals"),
        pytest.param(
            "mtllib ../../elsewhere.mtl\no one\n"
            + VERTEX_LINES
            + "g first\nusemtl brass\n"
            + QUAD_LINES[:20]
            + "o two\ns off\n"
            + QUAD_LINES[20:],
            id="objects, groups, materials",
        ),
        pytest.param(OBJ.replace("f 1 3 4 2\n", "f 1 \\\n3 4 2\n"), id="a line carried on"),
        pytest.param(QUAD_LINES + VERTEX_LINES, id="faces first"),
    ],
)
def test_obj_in_many_spellings(tmp_path, text):
    assert is_the_box(measure(written(tmp_path, "a.obj", text)))


def test_obj_indices_that_count_back_from_their_own_line(tmp_path):
    """Two boxes, each with the same negative indices: of side 10 and, 50 mm away, 20. 10³ + 20³ = 9,000 mm³."""
    backwards = "".join("f " + " ".join(str(corner - 8) for corner in side) + "\n" for side in SIDES.tolist())
    second = "".join(f"v {x + 50:g} {y:g} {z:g}\n" for x, y, z in CORNERS * 20)
    measured = measure(written(tmp_path, "a.obj", VERTEX_LINES + backwards + second + backwards))
    assert measured.sound and measured.bodies == 2
    assert measured.volume_cm3 == pytest.approx(9, rel=1e-12)


def test_dented_polygons_keep_their_area():
    """A dart, from each corner in turn: (0,0) (4,0) (0,4) have 8 between them, less the dent to (1,1), which is
    ½ · 4√2 · √2 = 4. A comb that no fan covers: 5 × 1 and teeth 1 × 2 at both ends and in the middle, 5 + 6 = 11."""
    dart = np.array([(0, 0, 0), (4, 0, 0), (1, 1, 0), (0, 4, 0)], float)
    for turn in range(4):
        assert area(dart, np.roll(np.arange(4), turn)) == pytest.approx((4, 4))
    flat = np.array([(x, y, 0) for x, y in COMB], float)
    for places in (flat, flat[:, [2, 0, 1]], flat[:, [1, 2, 0]], flat * [1, -1, 1], flat[:, [0, 2, 1]]):
        assert area(places, np.arange(12)) == pytest.approx((11, 11))


def area(places, polygon):
    """The sum of the triangles' areas, and the size of the sum of their area vectors: the same where none is folded."""
    corners = places[triangulated(places, [polygon.reshape(1, -1)], 1)]
    across = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]) / 2
    outline = places[polygon]
    assert across.sum(axis=0) == pytest.approx(np.cross(outline, np.roll(outline, -1, axis=0)).sum(axis=0) / 2)
    return np.linalg.norm(across, axis=1).sum(), np.linalg.norm(across.sum(axis=0))


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(PLY_TEXT, id="text"),
        pytest.param(PLY_TEXT.replace("\n", "\r\n"), id="text, other line ends"),
        pytest.param(binary_ply("<"), id="binary"),
        pytest.param(binary_ply(">"), id="binary, big end first"),
        pytest.param(
            trimesh.Trimesh(CORNERS * 10, SIDES[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)).export(file_type="ply"),
            id="by trimesh",
        ),
    ],
)
def test_ply(tmp_path, content):
    assert is_the_box(measure(written(tmp_path, "a.ply", content)))


@pytest.mark.parametrize(
    ("word", "unit", "millimetres"),
    [
        ("micron", "micron", 0.001),
        ("millimeter", "mm", 1),
        ("centimeter", "cm", 10),
        ("inch", "in", 25.4),
        ("foot", "foot", 12 * 25.4),
        ("meter", "m", 1000),
    ],
)
def test_a_3mf_is_measured_in_its_own_unit(tmp_path, word, unit, millimetres):
    """The units and their factors are those of the 3MF Core Specification, 3.4.1."""
    measured = measure(written(tmp_path, "a.3mf", shapes.threemf(BOX, word)))
    assert (measured.unit, measured.unit_stated) == (unit, True)
    assert is_the_box(measured, millimetres)


def test_a_3mf_without_a_unit_is_in_mm(tmp_path):
    model = model_xml(mesh_xml(), '<item objectid="1"/>')
    measured = measure(written(tmp_path, "a.3mf", shapes.threemf_package(model)))
    assert measured.unit == "mm" and is_the_box(measured)


def test_a_stated_unit_goes_before_that_of_a_3mf_and_says_so(tmp_path):
    measured = measure(written(tmp_path, "a.3mf", shapes.threemf(BOX, "inch")), unit="cm")
    assert is_the_box(measured, 10)
    assert measured.remarks == ("the file says that it is drawn in inches; cm was used, as you stated",)


@pytest.mark.parametrize(("unit", "millimetres"), [("mm", 1), ("cm", 10), ("m", 1000), ("in", 25.4)])
def test_a_unit_that_is_stated(tmp_path, unit, millimetres):
    path = stl(tmp_path, box(2))
    assert is_the_box(measure(path, unit), 2 * millimetres)
    assert volume_and_area(path, unit).volume_cm3 == pytest.approx((2 * millimetres) ** 3 / 1000)


def test_an_unlikely_size_is_asked_about(tmp_path):
    measured = measure(stl(tmp_path, box(1.125)))
    assert not measured.unit_stated
    assert measured.extent_if_inches_mm == pytest.approx((28.575, 28.575, 28.575))  # 1.125 · 25.4
    assert measured.remarks == (
        "its longest side is 1.125 mm if drawn in mm; 11.25 mm if drawn in cm, 1,125 mm if drawn in m, "
        "28.57 mm if drawn in inches",
    )


def test_an_unknown_unit(tmp_path):
    with pytest.raises(UsageFault, match='unit: no unit "inc". Did you mean "in"?'):
        measure(stl(tmp_path, box(2)), unit="inc")


def test_the_fields_of_the_json(tmp_path):
    path = stl(tmp_path, box(10))
    told = measure(path).as_json()
    assert list(told) == ["file", "unit", "volume_cm3", "area_cm2", "extent_mm", "sound", "faults"]
    assert told["file"] == str(path) and told["unit"] == "mm" and told["sound"] is True and told["faults"] == []
    assert told["extent_mm"] == [10.0, 10.0, 10.0]


def test_components_and_items_are_put_where_they_belong(tmp_path):
    """A box of 10 as it is, and one that is doubled along x, mirrored and moved twice: 1,000 + 2,000 mm³."""
    parts = (
        mesh_xml() + '<object id="2"><components><component objectid="1"/>'
        '<component objectid="1" transform="-2 0 0 0 1 0 0 0 1 40 0 0"/></components></object>'
    )
    parts += '<x:vertex xmlns:x="https://example.org/another" x="nothing of ours"/>'
    model = model_xml(parts, '<item objectid="2" transform="0 1 0 -1 0 0 0 0 1 0 0 7"/>')
    measured = measure(written(tmp_path, "a.3mf", shapes.threemf_package(model)))
    assert measured.sound and measured.bodies == 2
    assert measured.volume_cm3 == pytest.approx(3)
    # x' = −y and y' = x: from −10 to 0, and from 0 to 40 (the second box spans 20 to 40).
    assert measured.extent_mm == pytest.approx((10, 40, 10))


def test_components_in_another_part(tmp_path):
    production = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" requiredextensions="p"'
    component = '<component p:path="/3D/Objects/one.model" objectid="9"/>'
    main = model_xml(
        f'<object id="2"><components>{component}</components></object>', '<item objectid="2"/>', production
    )
    other = {"3D/Objects/one.model": model_xml(mesh_xml("9"), "")}
    assert is_the_box(measure(written(tmp_path, "a.3mf", shapes.threemf_package(main, **other))))


def test_a_package_that_does_not_say_which_part_is_its_model(tmp_path):
    """Then it is the only model in it."""
    content = shapes.threemf(BOX)
    for name in (b"_rels/.rels", b"3D/3dmodel.model"):
        assert content.count(name) == 2
    assert is_the_box(measure(written(tmp_path, "a.3mf", content.replace(b"_rels/.rels", b"_rels/other"))), 1)
    assert is_the_box(measure(written(tmp_path, "b.3mf", content.replace(b"3dmodel.model", b"another.model"))), 1)


def test_supports_are_left_out_and_told(tmp_path):
    model = model_xml(mesh_xml() + mesh_xml("2", "support"), '<item objectid="1"/><item objectid="2"/>')
    measured = measure(written(tmp_path, "a.3mf", shapes.threemf_package(model)))
    assert is_the_box(measured)
    assert "supports and surfaces in it are no part of the piece and are left out (1)" == measured.remarks[0]


def test_a_3mf_by_trimesh(tmp_path):
    mesh = trimesh.creation.icosphere(subdivisions=3, radius=10)
    buffer = io.BytesIO(mesh.export(file_type="3mf"))
    measured = measure(written(tmp_path, "a.3mf", buffer.getvalue()))
    assert measured.sound
    assert measured.volume_cm3 == pytest.approx(mesh.volume / 1000, rel=1e-6)
