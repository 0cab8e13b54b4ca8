"""Boxes as loose triangles, and a box of side 10 in the words of every format."""

import struct

import numpy as np

from tests.meshes.shapes import Shape, binary_stl

#: The corners of a cube of side 1, by the bits of their number: x, y, z.
CORNERS = np.array([[number >> axis & 1 for axis in range(3)] for number in range(8)], dtype=float)
#: Its six sides, counter-clockwise seen from outside: bottom, top, front, back, left, right.
SIDES = np.array([[0, 2, 3, 1], [4, 5, 7, 6], [0, 1, 5, 4], [2, 6, 7, 3], [0, 4, 6, 2], [1, 3, 7, 5]])


def box(side: float = 10.0, at: tuple[float, float, float] = (0.0, 0.0, 0.0)) -> np.ndarray:
    """A cube as corners (12, 3, 3), faces outwards, its lowest corner at `at`; the first two are its floor."""
    return CORNERS[SIDES[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)] * side + np.array(at)


def inside_out(triangles: np.ndarray) -> np.ndarray:
    return triangles[:, ::-1]


def stl(folder, *pieces: np.ndarray, name: str = "piece.stl"):
    """The path of a binary STL of all these triangles."""
    path = folder / name
    path.write_bytes(binary_stl(np.concatenate(pieces)))
    return path


def text_stl(triangles: np.ndarray, number: str = "{:.6e}") -> bytes:
    """A text STL; `number` formats a coordinate."""
    lines = ["solid piece"]
    for corners in triangles.tolist():
        lines += ["facet normal 0 0 0", "  outer loop"]
        lines += ["    vertex " + " ".join(number.format(value) for value in corner) for corner in corners]
        lines += ["  endloop", "endfacet"]
    return "\n".join([*lines, "endsolid piece", ""]).encode()


VERTEX_LINES = "".join(f"v {x:g} {y:g} {z:g}\n" for x, y, z in CORNERS * 10)
QUAD_LINES = "".join("f " + " ".join(str(corner + 1) for corner in side) + "\n" for side in SIDES.tolist())
OBJ = VERTEX_LINES + QUAD_LINES


def with_index(form):
    """The faces' lines, each corner written in this form."""
    return "".join("f " + " ".join(form.format(corner + 1) for corner in side) + "\n" for side in SIDES.tolist())


def ply_header(kind, faces=6):
    return (
        f"ply\nformat {kind} 1.0\ncomment made by arithmetic\nelement vertex 8\nproperty float x\nproperty float y\n"
        f"property float z\nelement face {faces}\nproperty list uchar int vertex_indices\nend_header\n"
    )


PLY_TEXT = (
    ply_header("ascii")
    + VERTEX_LINES.replace("v ", "")
    + "".join("4 " + " ".join(map(str, side)) + "\n" for side in SIDES.tolist())
)


def binary_ply(order):
    kind = {"<": "binary_little_endian", ">": "binary_big_endian"}[order]
    vertices = (CORNERS * 10).astype(order + "f4").tobytes()
    return ply_header(kind).encode() + vertices + b"".join(struct.pack(f"{order}B4i", 4, *side) for side in SIDES)


BOX = Shape(CORNERS, SIDES, np.empty((0, 3), int), 1 / 1000)
CORE = 'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"'


def mesh_xml(name="1", kind="model"):
    vertices = "".join(f'<vertex x="{x:g}" y="{y:g}" z="{z:g}"/>' for x, y, z in CORNERS * 10)
    faces = "".join(
        f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in SIDES[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3).tolist()
    )
    return (
        f'<object id="{name}" type="{kind}"><mesh><vertices>{vertices}</vertices><triangles>{faces}</triangles></mesh>'
        "</object>"
    )


def model_xml(resources, build, attributes=""):
    return f"<model {CORE} {attributes}><resources>{resources}</resources><build>{build}</build></model>"


#: A polygon that no fan covers: a back of 5 × 1 and three teeth of 1 × 2.
COMB = ((0, 0), (5, 0), (5, 3), (4, 3), (4, 1), (3, 1), (3, 3), (2, 3), (2, 1), (1, 1), (1, 3), (0, 3))
