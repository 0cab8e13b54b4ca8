"""Files that cannot be measured: each gets one sentence that says what, and how to mend it."""

import os
import subprocess
import sys
import zipfile

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pricing.meshes import MeshFault, MeshLimits, measure, volume_and_area
from tests.meshes import shapes
from tests.meshes.boxes import (
    BOX,
    COMB,
    CORE,
    OBJ,
    PLY_TEXT,
    binary_ply,
    box,
    mesh_xml,
    model_xml,
    ply_header,
    stl,
    text_stl,
)

AGAIN = "Export it again from the modelling program."
WHOLE = shapes.binary_stl(box(10))
WHOLE_TEXT = text_stl(box(10))
WHOLE_3MF = shapes.threemf(BOX)


def with_corner(value):
    """The box's binary STL with this as one coordinate of its fifth triangle."""
    triangles = box(10)
    triangles[4, 1, 2] = value
    return shapes.binary_stl(triangles)


def package(model, **others):
    return shapes.threemf_package(model, **others)


PLAIN_3MF = model_xml(mesh_xml(), '<item objectid="1"/>')
LAUGHS = '<!DOCTYPE model [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;&a;&a;">]>'
NESTED = "".join(
    f'<object id="{number}"><components>' + f'<component objectid="{number - 1}"/>' * 10 + "</components></object>"
    for number in range(2, 12)
)
CIRCLE = (
    '<object id="1"><components><component objectid="2"/></components></object>'
    '<object id="2"><components><component objectid="1"/></components></object>'
)
BEAMS = 'xmlns:b="http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02" requiredextensions="b"'
PRODUCTION = 'xmlns:p="http://schemas.microsoft.com/3dmanufacturing/production/2015/06" requiredextensions="p"'
ELSEWHERE = model_xml(
    '<object id="2"><components><component p:path="/3D/Objects/one.model" objectid="9"/></components></object>',
    '<item objectid="2"/>',
    PRODUCTION,
)

#: File name, content, the fault after the file's name.
UNREADABLE = {
    "empty": ("a.stl", b"", f"the file is empty. {AGAIN}"),
    "stl: a few bytes": ("a.stl", b"\x01\x02\x03", f"it is too short to be an STL (3 bytes). {AGAIN}"),
    "stl: none": ("a.stl", b"\x00" * 84, f"it holds no triangles. {AGAIN}"),
    "stl: more promised than held": (
        "a.stl",
        WHOLE[:80] + (500).to_bytes(4, "little") + WHOLE[84:],
        f"it says that it holds 500 triangles but holds 12. It was cut short or damaged. {AGAIN}",
    ),
    "stl: fewer promised than held": (
        "a.stl",
        WHOLE[:80] + (5).to_bytes(4, "little") + WHOLE[84:],
        f"it says that it holds 5 triangles but holds 12. It was cut short or damaged. {AGAIN}",
    ),
    "stl: cut short": (
        "a.stl",
        WHOLE[:-77],
        f"it says that it holds 12 triangles but holds 10 and a half. It was cut short or damaged. {AGAIN}",
    ),
    "stl: another format": (
        "a.stl",
        WHOLE_3MF,
        "it is named .stl but looks like 3mf. Give it the name's ending that it is.",
    ),
    "stl: not a number": (
        "a.stl",
        with_corner(np.nan),
        f"it has 1 corner that is not a finite number, the first in triangle 5. {AGAIN}",
    ),
    "stl: endless": (
        "a.stl",
        with_corner(-np.inf),
        f"it has 1 corner that is not a finite number, the first in triangle 5. {AGAIN}",
    ),
    "text stl: none": ("a.stl", b"solid x\nendsolid x\n", f"it holds no triangles. {AGAIN}"),
    "text stl: cut short": (
        "a.stl",
        WHOLE_TEXT[: WHOLE_TEXT.rindex(b"vertex")],
        f"it ends in the middle or is damaged: 12 facets are begun, 11 ended, with 35 vertices. {AGAIN}",
    ),
    "text stl: cut between two facets": (
        "a.stl",
        WHOLE_TEXT[: WHOLE_TEXT.rindex(b"facet normal")],
        f"it ends in the middle or is damaged: 11 facets are begun, 11 ended, with 33 vertices. {AGAIN}",
    ),
    "text stl: decimal comma": (
        "a.stl",
        text_stl(box(10), "{:.1f}").replace(b"10.0", b"10,0", 1),
        'line 5: "10,0" is not a number. Export it again, with a point for decimals.',
    ),
    "text stl: not a number": (
        "a.stl",
        text_stl(box(10), "{:.1f}").replace(b"10.0", b"nan", 1),
        f"it has 1 corner that is not a finite number, the first in triangle 1. {AGAIN}",
    ),
    "obj: no faces": (
        "a.obj",
        "v 0 0 0\nv 1 0 0\n",
        "it holds no faces. Export it as a mesh of triangles, not as points or curves.",
    ),
    "obj: two corners": ("a.obj", OBJ + "f 1 2\n", f"line 15: a face needs at least three corners. {AGAIN}"),
    "obj: vertex 0": ("a.obj", OBJ + "f 0 1 2\n", f'line 15: "0" names no vertex of the file. {AGAIN}'),
    "obj: too far back": ("a.obj", OBJ + "f -9 1 2\n", f'line 15: "-9" names no vertex of the file. {AGAIN}'),
    "obj: no such vertex": (
        "a.obj",
        OBJ + "f 1 2 99\n",
        f"a face uses vertex 99, but the file holds 8. {AGAIN}",
    ),
    "obj: more digits than any file has vertices": (
        "a.obj",
        OBJ + f"f 1 2 {10**30}\n",
        f'line 15: "1{"0" * 23}…" names no vertex of the file. {AGAIN}',
    ),
    "obj: no index": ("a.obj", OBJ + "f x 1 2\n", f'line 15: "x" names no vertex of the file. {AGAIN}'),
    "obj: a word": ("a.obj", "v 0 0 ten\n" + OBJ, f'line 1: a vertex needs three numbers, not "0 0 ten". {AGAIN}'),
    "obj: cut short in a vertex": ("a.obj", "v 0 0\n", f'line 1: a vertex needs three numbers, not "0 0". {AGAIN}'),
    "obj: not a number": (  # the third corner of the second, fourth and last side, and so of both their halves
        "a.obj",
        OBJ.replace("v 10 10 10", "v nan 10 10"),
        f"it has 6 corners that are not a finite number, the first in triangle 3. {AGAIN}",
    ),
    "obj: too large": (
        "a.obj",
        OBJ.replace("10", "1e200"),
        f"its coordinates are too large to measure. {AGAIN}",
    ),
    "obj: not text": ("a.obj", WHOLE, f"it is named .obj but is not text. {AGAIN}"),
    "ply: no header": (
        "a.ply",
        WHOLE,
        f"it is named .ply but has no PLY header, or was cut short within it. {AGAIN}",
    ),
    "ply: points only": (
        "a.ply",
        ply_header("ascii", faces=0),
        "it holds no faces. Export it as a mesh of triangles, not as points.",
    ),
    "ply: fewer lines than promised": (
        "a.ply",
        PLY_TEXT.rstrip("\n").rpartition("\n")[0] + "\n",
        "its header promises 14 lines of vertices and faces, but 13 follow. It was cut short or damaged. "
        "Export it again.",
    ),
    "ply: more lines than promised": (
        "a.ply",
        PLY_TEXT + "4 0 1 2 3\n",
        "its header promises 14 lines of vertices and faces, but 15 follow. It was cut short or damaged. "
        "Export it again.",
    ),
    "ply: not a number": (  # trimesh puts the first halves of all sides before the second ones
        "a.ply",
        PLY_TEXT.replace("10 10 10", "nan 10 10"),
        f"it has 6 corners that are not a finite number, the first in triangle 2. {AGAIN}",
    ),
    "3mf: no zip": ("a.3mf", WHOLE, f"it is not a whole 3MF (File is not a zip file). {AGAIN}"),
    "3mf: cut short": ("a.3mf", WHOLE_3MF[:-30], f"it is not a whole 3MF (File is not a zip file). {AGAIN}"),
    "3mf: DTD": (
        "a.3mf",
        package(LAUGHS + PLAIN_3MF),
        "3d/3dmodel.model in it has a document type declaration (DTD), which a 3MF must not have. It may be harmful. "
        "Export it again from a program you trust.",
    ),
    "3mf: DTD that reads a file": (
        "a.3mf",
        package('<!DOCTYPE model SYSTEM "file:///etc/hostname">' + PLAIN_3MF),
        "3d/3dmodel.model in it has a document type declaration (DTD), which a 3MF must not have. It may be harmful. "
        "Export it again from a program you trust.",
    ),
    "3mf: broken xml": (
        "a.3mf",
        package(f"<model {CORE}><resources>"),
        f"3d/3dmodel.model in it is damaged or cut short (no element found: line 1, column {len(CORE) + 19}). {AGAIN}",
    ),
    "3mf: no number": (
        "a.3mf",
        package(PLAIN_3MF.replace('x="10"', 'x="ten"')),
        "3d/3dmodel.model in it, line 1: could not convert string to float: 'ten'. " + AGAIN,
    ),
    "3mf: not a number": (
        "a.3mf",
        package(PLAIN_3MF.replace('<vertex x="10" y="10" z="10"/>', '<vertex x="NaN" y="10" z="10"/>')),
        f"it has 6 corners that are not a finite number, the first in triangle 3. {AGAIN}",
    ),
    "3mf: a missing coordinate": (
        "a.3mf",
        package(PLAIN_3MF.replace('x="10"', "", 1)),
        f"3d/3dmodel.model in it, line 1: 'x' is missing. {AGAIN}",
    ),
    "3mf: no such vertex": (
        "a.3mf",
        package(PLAIN_3MF.replace('v1="0"', 'v1="8"', 1)),
        f"triangle 1 uses a vertex that is not in the file (8 are). {AGAIN}",
    ),
    "3mf: a short transform": (
        "a.3mf",
        package(PLAIN_3MF.replace('objectid="1"', 'objectid="1" transform="1 0 0"')),
        f"3d/3dmodel.model in it, line 1: a transform needs 12 numbers, not 3. {AGAIN}",
    ),
    "3mf: nothing to build": (
        "a.3mf",
        package(model_xml(mesh_xml(), "")),
        f"it builds no piece. Put the piece on the build plate. {AGAIN}",
    ),
    "3mf: no such object": (
        "a.3mf",
        package(model_xml(mesh_xml(), '<item objectid="7"/>')),
        f"it builds object 7, which 3d/3dmodel.model does not hold. {AGAIN}",
    ),
    "3mf: an object that holds itself": (
        "a.3mf",
        package(model_xml(CIRCLE, '<item objectid="1"/>')),
        f"object 1 in it contains itself. {AGAIN}",
    ),
    "3mf: few words, many triangles": (  # ten of ten of ten … of a box of 12: 12 · 10^10
        "a.3mf",
        package(model_xml(mesh_xml() + NESTED, '<item objectid="11"/>')),
        f"it builds 120,000,000,000 triangles; more than 2,000,000 are not read. {AGAIN}",
    ),
    "3mf: an extension that changes the shape": (
        "a.3mf",
        package(model_xml(mesh_xml(), '<item objectid="1"/>', BEAMS)),
        'it needs the 3MF extension "beamlattice", which may change the shape and is not read. Export it as a plain '
        "mesh (STL, or 3MF without extensions).",
    ),
    "ply: a count beyond memory": (
        "a.ply",
        binary_ply("<").replace(b"vertex 8", b"vertex 800000000000"),
        # 8 vertices of 12 bytes and 6 faces of 1 + 4 × 4: 198
        "its header promises 800,000,000,006 vertices and faces, and only 198 bytes follow. It was cut short or "
        "damaged. Export it again.",
    ),
    "3mf: no model": (
        "a.3mf",
        package(PLAIN_3MF).replace(b"3dmodel.model", b"3dmodel.other"),
        f"it is a zip but holds no 3MF model. {AGAIN}",
    ),
    "3mf: a part that is not there": (
        "a.3mf",
        package(ELSEWHERE),
        f"it lacks its part 3d/objects/one.model. {AGAIN}",
    ),
    "3mf: parts in two units": (
        "a.3mf",
        package(ELSEWHERE, **{"3D/Objects/one.model": model_xml(mesh_xml("9"), "", 'unit="inch"')}),
        f"its parts are drawn in different units. {AGAIN}",
    ),
    "3mf: an unknown unit": (
        "a.3mf",
        shapes.threemf(BOX, "furlong"),
        'it states the unit "furlong", which is none of 3MF. State the unit yourself.',
    ),
    "no ending": ("piece", WHOLE, "its name has no ending. Export it as one of .stl, .obj, .ply, .3mf."),
    "another ending": (
        "a.step",
        WHOLE,
        '".step" is no mesh format that is read. Export it as one of .stl, .obj, .ply, .3mf.',
    ),
}


@pytest.mark.parametrize("thorough", [True, False])
@pytest.mark.parametrize("case", UNREADABLE)
def test_unreadable(tmp_path, case, thorough):
    name, content, expected = UNREADABLE[case]
    path = tmp_path / name
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(MeshFault) as caught:
        measure(path, thorough=thorough)
    assert str(caught.value) == f"{path} mesh: {expected}"
    assert caught.value.exit_code == 1


@pytest.mark.parametrize(
    "content",
    [
        pytest.param(binary_ply("<")[:-7], id="cut short"),
        pytest.param(binary_ply("<") + b"1234", id="too long"),
        pytest.param(PLY_TEXT.replace("4 0 2 3 1", "4 0 2 3 x"), id="a word"),
    ],
)
def test_a_damaged_ply(tmp_path, content):
    """What trimesh says of it stands in brackets and is not ours to assert."""
    path = tmp_path / "a.ply"
    path.write_bytes(content.encode() if isinstance(content, str) else content)
    with pytest.raises(MeshFault) as caught:
        measure(path)
    (fault,) = caught.value.faults
    assert fault.problem.startswith("it is damaged, cut short, or mixes triangles with other polygons (")
    assert fault.mend == "Export it again, with triangles only."


@pytest.mark.parametrize("index", ["70", "-1"])
def test_a_ply_that_names_no_vertex(tmp_path, index):
    path = tmp_path / "a.ply"
    path.write_text(PLY_TEXT.replace("4 0 2 3 1", f"4 0 2 3 {index}"))
    with pytest.raises(MeshFault, match="uses a vertex that is not in the file|damaged"):
        measure(path)


def test_places_that_are_no_files(tmp_path):
    folder = tmp_path / "folder.stl"
    folder.mkdir()
    with pytest.raises(MeshFault, match="this is a folder, not a mesh file. Name the file inside it."):
        measure(folder)
    with pytest.raises(MeshFault, match="there is no such file. Check the name and the folder."):
        measure(tmp_path / "none.stl")


def test_a_file_that_may_not_be_read(tmp_path, monkeypatch):
    def locked(_path, *_rest):
        raise PermissionError(13, "Permission denied")

    path = stl(tmp_path, box(10))
    monkeypatch.setattr(os, "open", locked)
    with pytest.raises(MeshFault, match=r"this file may not be read. Give yourself leave to read it."):
        measure(path)


def test_files_that_are_too_large(tmp_path):
    path = stl(tmp_path, box(10))
    with pytest.raises(MeshFault, match="the file has more than 1 KiB, which is not read. Export it with fewer"):
        measure(path, limits=MeshLimits(file_bytes=600))
    with pytest.raises(MeshFault, match="it holds 12 triangles; more than 11 are not looked at closely."):
        measure(path, limits=MeshLimits(triangles=11))
    for name, content in (("a.stl", WHOLE_TEXT), ("a.obj", OBJ.encode()), ("a.ply", PLY_TEXT.encode())):
        (tmp_path / name).write_bytes(content)
        with pytest.raises(MeshFault, match="of 0 MiB is not read. Export it as a binary"):
            measure(tmp_path / name, limits=MeshLimits(text_bytes=100))


def test_a_zip_that_unpacks_without_end(tmp_path):
    """4 MiB of blanks in a package of a few kilobytes, where 1 MiB is allowed."""
    path = tmp_path / "a.3mf"
    path.write_bytes(package(PLAIN_3MF.replace("<build>", " " * 2**22 + "<build>")))
    assert path.stat().st_size < 2**14
    with pytest.raises(MeshFault, match="it unpacks to more than 1 MiB, which is more than a printable piece needs."):
        measure(path, limits=MeshLimits(unpacked_bytes=2**20))
    assert measure(path).sound


def test_a_zip_that_lies_about_its_sizes(tmp_path):
    """Its directory says 1,000 bytes where 4 MiB lie; the limit counts what comes out, and the rest is a fault too."""
    content = package(PLAIN_3MF.replace("<build>", " " * 2**22 + "<build>"))
    path = tmp_path / "a.3mf"
    path.write_bytes(content)
    with zipfile.ZipFile(path) as whole:
        size = whole.getinfo("3D/3dmodel.model").file_size.to_bytes(4, "little")
    path.write_bytes(content.replace(size, (1000).to_bytes(4, "little")))
    with pytest.raises(MeshFault, match="in it is damaged or"):
        measure(path)


def test_a_damaged_member(tmp_path):
    """One byte in the middle of the packed model is turned over."""
    content = bytearray(WHOLE_3MF)
    content[content.index(b"3D/3dmodel.model") + 200] ^= 0xFF
    path = tmp_path / "a.3mf"
    path.write_bytes(content)
    with pytest.raises(MeshFault, match="3d/3dmodel.model in it is damaged or"):
        measure(path)


@pytest.mark.parametrize("name", ["a.stl", "a.obj", "a.3mf"])
def test_no_cut_of_a_file_is_a_traceback(tmp_path, name):
    """Every length of it, by steps of 7: a fault, or a mesh that is told to be unsound."""
    content = {"a.stl": WHOLE_TEXT, "a.obj": OBJ.encode(), "a.3mf": WHOLE_3MF}[name]
    path = tmp_path / name
    for end in range(0, len(content) - 2, 7):
        path.write_bytes(content[:end])
        try:
            measured = measure(path)
        except MeshFault:
            continue
        # Only the name after the last word of a text STL may be lost without harm.
        assert measured.sound == (name == "a.stl"), end
        assert name == "a.obj" or end > content.index(b"endsolid"), end


EVERY_FORMAT = {
    ".stl": WHOLE,
    ".text.stl": WHOLE_TEXT,
    ".obj": OBJ.encode(),
    ".text.ply": PLY_TEXT.encode(),
    ".ply": binary_ply("<"),
    ".3mf": WHOLE_3MF,
}


@pytest.mark.parametrize("ending", EVERY_FORMAT)
@settings(max_examples=80)
@given(data=st.data())
def test_no_damaged_byte_is_a_traceback(tmp_path_factory, ending, data):
    content = bytearray(EVERY_FORMAT[ending])
    for _ in range(data.draw(st.integers(1, 4))):
        content[data.draw(st.integers(0, len(content) - 1))] = data.draw(st.integers(0, 255))
    path = tmp_path_factory.getbasetemp() / f"damaged{ending}"
    path.write_bytes(content)
    try:
        measured = measure(path)
    except MeshFault as fault:
        assert all(fault.problem and fault.mend for fault in fault.faults)
    else:
        assert np.isfinite([measured.volume_cm3, measured.area_cm2, *measured.extent_mm]).all()


def test_what_is_not_installed_is_told(tmp_path, monkeypatch):
    path = stl(tmp_path, box(10))
    monkeypatch.setitem(sys.modules, "manifold3d", None)
    monkeypatch.setitem(sys.modules, "trimesh", None)
    with pytest.raises(MeshFault) as caught:
        measure(path)
    assert str(caught.value) == (
        f"{path} mesh: its soundness is judged with manifold3d, which is not installed. "
        'Install it with: pip install "troytag[meshes]"'
    )
    assert volume_and_area(path).volume_cm3 == pytest.approx(1)
    (tmp_path / "a.ply").write_text(PLY_TEXT)
    lines = [f"v {x} {y} 0" for x, y in COMB] + ["f " + " ".join(str(number + 1) for number in range(len(COMB)))]
    (tmp_path / "a.obj").write_text("\n".join(lines))
    with pytest.raises(MeshFault, match="it has dented faces, which manifold3d cuts and which is not installed."):
        volume_and_area(tmp_path / "a.obj")
    with pytest.raises(MeshFault, match="a PLY is read by trimesh, which is not installed. Install it with: pip"):
        volume_and_area(tmp_path / "a.ply")


@pytest.mark.parametrize("name", ["a.stl", "a.obj", "a.3mf"])
def test_a_volume_alone_loads_numpy_alone(tmp_path, name):
    (tmp_path / name).write_bytes({"a.stl": WHOLE, "a.obj": OBJ.encode(), "a.3mf": WHOLE_3MF}[name])
    program = (
        "import sys; from pricing.meshes import volume_and_area; "
        f"volume_and_area({str(tmp_path / name)!r}); "
        "print({'trimesh', 'manifold3d', 'scipy', 'pandas', 'lxml', 'networkx'} & set(sys.modules), "
        "'numpy' in sys.modules)"
    )
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert done.stdout == "set() True\n"
