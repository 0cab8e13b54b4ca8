"""Mesh files made to swamp a reader are told in a sentence, within seconds and a GiB."""

from __future__ import annotations

import zipfile

import numpy as np
import pytest

from tests.bounded import told
from tests.meshes.boxes import CORE, VERTEX_LINES, box, mesh_xml, model_xml, ply_header, stl, text_stl


def packed(folder, model):
    """A 3MF of these pieces of text; gives its name."""
    with zipfile.ZipFile(folder / "a.3mf", "w", zipfile.ZIP_DEFLATED, compresslevel=1) as zip:
        with zip.open("3D/3dmodel.model", "w", force_zip64=True) as part:
            for piece in model:
                part.write(piece.encode())
    return "a.3mf"


def measured(folder, name, code=1):
    return " ".join(told("measure", name, folder=folder, code=code).split())


def test_a_3mf_that_puts_an_object_in_place_700_000_times(tmp_path):
    model = model_xml(mesh_xml(), '<item objectid="1"/>' * 700_000)
    said = measured(tmp_path, packed(tmp_path, [model]))
    assert "it holds or builds more than 20,000 objects" in said.lower()


def test_a_3mf_whose_empty_objects_multiply(tmp_path):
    """Ten of ten of ten of …: 10^7 uses of an object without a face, each counted as one triangle."""
    inner = '<object id="0"><mesh><vertices/><triangles/></mesh></object>'
    layers = "".join(
        f'<object id="{each}"><components>{f"<component objectid={chr(34)}{each - 1}{chr(34)}/>" * 10}</components>'
        "</object>"
        for each in range(1, 7)
    )
    said = measured(tmp_path, packed(tmp_path, [model_xml(inner + layers, '<item objectid="6"/>')]))
    assert "puts 1,111,111 objects in place; more than 20,000" in said  # 1 + 10 + … + 10^6


def test_a_3mf_with_elements_in_each_other_without_end(tmp_path):
    said = measured(tmp_path, packed(tmp_path, [f"<model {CORE}>", *["<a>" * 100_000] * 200]))
    assert "stand in each other without end" in said


def test_a_3mf_with_objects_in_each_other(tmp_path):
    chain = "".join(
        f'<object id="{each}"><components><component objectid="{each - 1}"/></components></object>'
        for each in range(2, 5_000)
    )
    said = measured(tmp_path, packed(tmp_path, [model_xml(mesh_xml() + chain, '<item objectid="4999"/>')]))
    assert "objects in it stand in each other without end" in said.lower()


def test_a_3mf_with_a_word_without_end(tmp_path):
    said = measured(tmp_path, packed(tmp_path, [f'<model {CORE} unit="', *["m" * 2**20] * 200]))
    assert "has a word of more than 4 MiB" in said


def test_a_3mf_with_more_vertices_than_are_read(tmp_path):
    begun = f'<model {CORE}><resources><object id="1"><mesh><vertices>'
    said = measured(tmp_path, packed(tmp_path, [begun, *['<vertex x="1" y="1" z="1"/>' * 100_000] * 21]))
    assert "more than 2,000,000 triangles or vertices" in said


def test_an_obj_with_a_face_of_many_corners(tmp_path):
    angles = np.linspace(0, 2 * np.pi, 20_001)[:-1]
    lines = [f"v {x:.6f} {y:.6f} 0" for x, y in zip(np.cos(angles), np.sin(angles), strict=True)]
    lines.append("f " + " ".join(str(each) for each in range(1, 20_001)))
    (tmp_path / "a.obj").write_text("\n".join(lines))
    assert "a face has 20,000 corners; more than 10,000 are not read" in measured(tmp_path, "a.obj")


def test_an_obj_with_a_dented_face_of_many_corners(tmp_path):
    """A comb of 2,000 teeth: 8,000 corners, of which none sees all the others."""
    comb = [(0.0, 0.0), (4_000.0, 0.0)]
    for tooth in range(2_000, 0, -1):
        comb += [(2.0 * tooth, 3.0), (2.0 * tooth - 1, 3.0), (2.0 * tooth - 1, 1.0), (2.0 * tooth - 2, 1.0)]
    lines = [f"v {x} {y} 0" for x, y in comb] + ["f " + " ".join(str(each + 1) for each in range(len(comb)))]
    (tmp_path / "a.obj").write_text("\n".join(lines))
    assert "its volume is not certain by" in measured(tmp_path, "a.obj")


@pytest.mark.parametrize(
    ("line", "said"),
    [
        (lambda: f"v {'1' * 50_000_000} 0 0", "has more than 256 KiB"),
        (lambda: f"v {'1' * 200_000} 0 0", 'a vertex needs three numbers, not "111111111111111111111111… 0 0"'),
        (lambda: "f " + "1 " * 60_000_000, "has more than 256 KiB"),
        (lambda: f"f {'9' * 200_000} 1 2", "names no vertex of the file"),
        (lambda: "\n" * 100_000_000, "lines; more than 6,000,000 are not read"),
    ],
)
def test_an_obj_with_a_line_without_end(tmp_path, line, said):
    (tmp_path / "a.obj").write_text(f"{VERTEX_LINES}{line()}\n")
    assert said in measured(tmp_path, "a.obj")


def test_loose_triangles_without_order(tmp_path):
    """20,000 of them: each is a hole, and far more volume may hang on them than there is."""
    corners = np.random.default_rng(1).uniform(0, 30, (20_000, 3, 3))
    stl(tmp_path, corners)
    assert "its volume is not certain by" in measured(tmp_path, "piece.stl")


def test_closed_bodies_through_each_other_are_not_sliced_for_ever(tmp_path):
    """5,000 tetrahedra that face outwards, and nearly all of which pass through many others."""
    corners = np.random.default_rng(1).uniform(0, 30, (5_000, 4, 3))
    along = corners[:, 1:] - corners[:, :1]
    turned = np.linalg.det(along) > 0
    faces = corners[:, [[0, 1, 2], [0, 3, 1], [0, 2, 3], [1, 3, 2]]]
    stl(tmp_path, np.where(turned[:, None, None, None], faces[:, :, ::-1], faces).reshape(-1, 3, 3))
    said = measured(tmp_path, "piece.stl")
    assert "was not looked at to the end: 20,000 triangles that lie through each other" in said
    assert "its volume is by its faces alone" in said


@pytest.mark.parametrize("side", [3e37, 3e38])
def test_coordinates_beyond_all_bounds(tmp_path, side):
    stl(tmp_path, box(side))
    assert "reaches more than 10 km from the origin if drawn in mm" in measured(tmp_path, "piece.stl")


def test_a_text_stl_with_a_number_without_end(tmp_path):
    text = text_stl(box(10)).replace(b"1.000000e+01", b"1" * 30_000_000, 1)
    (tmp_path / "a.stl").write_bytes(text)
    assert 'Line 5: "111111111111111111111111…" is not a number' in measured(tmp_path, "a.stl")


def test_a_text_stl_of_many_small_vertices(tmp_path):
    facet = "facet\nvertex 1 1 1\nvertex 1 1 2\nvertex 1 2 1\nendfacet\n"
    (tmp_path / "a.stl").write_text(f"solid\n{facet * 400_000}endsolid\n")
    assert "three or more faces meet at one edge" in measured(tmp_path, "a.stl").lower()


@pytest.mark.parametrize(
    ("body", "said"),
    [
        (lambda: "1" * 20_000_000 + " 0 0\n", "A line of it has more than 256 KiB"),
        (lambda: "1" * 200_000 + " 0 0\n", '"111111111111111111111111…" is not a number'),
        (lambda: "\n" * 100_000_000, "lines; more than 6,000,000 are not read"),
    ],
)
def test_a_text_ply_without_end(tmp_path, body, said):
    (tmp_path / "a.ply").write_text(ply_header("ascii") + body())
    assert said in measured(tmp_path, "a.ply")


def test_a_ply_that_names_a_picture_is_measured_in_silence(tmp_path):
    """The reader would look for the picture, and print what it trips over."""
    from tests.meshes.boxes import PLY_TEXT

    text = PLY_TEXT.replace("comment made by arithmetic", "comment TextureFile leaf.png\nobj_info cast in brass")
    (tmp_path / "a.ply").write_text(text)
    said = told("measure", "a.ply", folder=tmp_path, code=0)
    assert "1.000 cm³" in said and "leaf" not in said
