"""Simple pieces, made by arithmetic, so that their volume is known in closed form.

All of them are one kind of solid: an outline of n corners p around the z axis, and a closed profile of (rho, z)
corners that is carried around it, so that each profile corner makes the ring rho · p at height z. Between two corners
of either the walls are plane trapezoids, so at a height z the solid has exactly the area of the outline times
(rho outside)² − (rho inside)², and its volume is

    V = A · ∮ rho² dz = 2 · A · ∬ rho drho dz,      A = area of the outline.

For a circle of radius 1, A = pi and this is Pappus's theorem, V = 2 pi · (distance of the profile's centroid) · (its
area). For n corners on that circle A = n/2 · sin(2 pi / n), that is pi times sin(2 pi / n) / (2 pi / n).
Sliding the rings of a full solid sideways changes no area and so (Cavalieri) no volume.
"""

from __future__ import annotations

import io
import math
import zipfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class Shape:
    """A closed surface, faces outwards, in mm: `vertices` (count, 3), `quads` and `triangles` as indices into them.

    `closed_form_cm3` is the exact volume of this very polyhedron, `smooth_cm3` that of the round solid it stands for
    (None where its outline is no circle).
    """

    vertices: np.ndarray
    quads: np.ndarray
    triangles: np.ndarray
    closed_form_cm3: float
    smooth_cm3: float | None = None

    @property
    def all_triangles(self) -> np.ndarray:
        """Every face as triangles, indices (count, 3)."""
        halves = self.quads[:, [0, 1, 2, 0, 2, 3]].reshape(-1, 3)
        return np.concatenate([halves, self.triangles])

    @property
    def corners(self) -> np.ndarray:
        """Every face as triangles, corners (count, 3, 3) in mm."""
        return self.vertices[self.all_triangles]


def circle(count: int) -> np.ndarray:
    """Corners (count, 2) on a circle of radius 1."""
    return polar(count, lambda angle: 1.0)


def polar(count: int, radius: Callable[[float], float]) -> np.ndarray:
    """Corners (count, 2) at even angles, counter-clockwise, at the distance that `radius` gives for each angle."""
    angles = [2 * math.pi * number / count for number in range(count)]
    return np.array([(radius(angle) * math.cos(angle), radius(angle) * math.sin(angle)) for angle in angles])


def outline_area(outline: np.ndarray) -> float:
    """Area inside a polygon, by the shoelace rule."""
    (x, y), (next_x, next_y) = outline.T, np.roll(outline, -1, axis=0).T
    return float((x * next_y - next_x * y).sum()) / 2


def profile_moment(profile: Sequence[tuple[float, float]]) -> float:
    """∬ rho drho dz inside a closed, counter-clockwise profile: for each side, dz · (a² + a·b + b²) / 6."""
    moment = 0.0
    for (rho, height), (next_rho, next_height) in zip(profile, [*profile[1:], profile[0]], strict=True):
        moment += (next_height - height) * (rho * rho + rho * next_rho + next_rho * next_rho) / 6
    return moment


def carried(
    outline: np.ndarray,
    profile: Sequence[tuple[float, float]],
    slide: Callable[[float], float] = lambda height: 0.0,
    *,
    round_outline: bool = False,
) -> Shape:
    """The profile carried around the outline.

    `profile` runs counter-clockwise in (rho, z): up on the outside, down inside or along the axis. `slide` moves the
    ring at height z along x; it may only be used for a full solid. The volume follows the rule in the module's head.
    """
    vertices: list[tuple[float, float, float]] = []
    rings: list[list[int]] = []
    for rho, height in profile:
        first = len(vertices)
        points = outline[:1] * 0 if rho == 0 else outline * rho
        vertices += [(float(x) + slide(height), float(y), height) for x, y in points]
        rings.append([first] * len(outline) if rho == 0 else list(range(first, len(vertices))))
    quads, triangles = [], []
    for lower, upper in zip(rings, [*rings[1:], rings[0]], strict=True):
        for number in range(len(outline)):
            following = (number + 1) % len(outline)
            around = [lower[number], lower[following], upper[following], upper[number]]
            different = list(dict.fromkeys(around))
            if len(different) == 4:
                quads.append(different)
            elif len(different) == 3:
                triangles.append(different)
    volume = 2 * outline_area(outline) * profile_moment(profile) / 1000
    smooth = 2 * math.pi * profile_moment(profile) / 1000 if round_outline else None
    return Shape(
        np.array(vertices), np.array(quads, int).reshape(-1, 4), np.array(triangles, int).reshape(-1, 3), volume, smooth
    )


def turned(profile: Sequence[tuple[float, float]], sides: int) -> Shape:
    """A solid of revolution of `sides` sides from a profile in mm."""
    return carried(circle(sides), profile, round_outline=True)


def plate(outline: np.ndarray, hole: np.ndarray, thickness: float) -> Shape:
    """A flat plate with a hole: corners of both at the same angles seen from the middle. A prism: area × thickness."""
    count = len(outline)
    vertices = np.concatenate(
        [
            np.column_stack([ring, np.full(count, height)])
            for ring, height in ((outline, 0.0), (outline, thickness), (hole, thickness), (hole, 0.0))
        ]
    )
    quads = []
    for ring in range(4):
        lower, upper = ring * count, (ring + 1) % 4 * count
        for number in range(count):
            following = (number + 1) % count
            quads.append([lower + number, lower + following, upper + following, upper + number])
    volume = (outline_area(outline) - outline_area(hole)) * thickness / 1000
    return Shape(vertices, np.array(quads), np.empty((0, 3), int), volume)


def acorn_knob() -> Shape:
    """A drawer knob: a foot, a waist, the cup and the nut, 28 mm tall."""
    cup = [(6.8 + 0.9 * math.sin(math.pi * step / 6), 9 + 5 * step / 6) for step in range(7)]
    nut = [(6.3 * math.cos(math.pi / 2 * step / 9), 14 + 12.6 * math.sin(math.pi / 2 * step / 9)) for step in range(9)]
    return turned([(0, 0), (6.5, 0), (6.5, 1.2), (3.8, 3), (3.2, 5.5), (3.8, 7.5), *cup, *nut, (0.7, 27), (0, 28)], 40)


def cloak_clasp() -> Shape:
    """Half of a clasp: an ivy leaf of five lobes, domed and flat behind."""
    leaf = polar(80, lambda angle: 13.2 * (1 + 0.22 * math.cos(5 * angle) + 0.05 * math.cos(10 * angle)))
    return carried(leaf, [(0, 0), (1, 0), (1, 1.1), (0.9, 1.7), (0.7, 2.25), (0.45, 2.7), (0.2, 2.9), (0, 2.95)])


def thimble() -> Shape:
    """A cup with a rolled rim, open below; the wall about 0.75 mm."""
    outside = [(8.9, 0), (9.2, 0.5), (9.2, 1.1), (8.7, 1.6), (8.4, 6), (7.9, 11), (7.2, 15), (5.4, 17.2), (0, 18)]
    inside = [(0, 17.1), (5.1, 16.5), (6.6, 14.6), (7.3, 10.8), (7.85, 5.9), (8.2, 0)]
    return turned([*outside, *inside], 48)


def button() -> Shape:
    """A round button with a raised rim and a stem to sew it by."""
    return turned(
        [(0, -3), (1.4, -3), (1.8, 0), (7.6, 0), (8, 0.5), (8, 2), (7.5, 2.4), (6.9, 2.2), (6.2, 1.5), (0, 1.2)], 48
    )


def caddy_spoon() -> Shape:
    """A scalloped bowl that runs out into a short handle, of one thickness."""

    def radius(angle: float) -> float:
        off_axis = min(angle, 2 * math.pi - angle)
        scallop = 17 * (1 + 0.04 * math.cos(15 * angle))
        return scallop + 31 * max(0.0, math.cos(off_axis * 6)) ** 0.6 if off_axis < math.pi / 12 else scallop

    upper = [(rho / 10, 9 * (rho / 10) ** 2.2 + 1.6) for rho in range(9, 0, -1)]
    lower = [(rho / 10, 9 * (rho / 10) ** 2.2) for rho in range(1, 10)]
    return carried(polar(60, radius), [(0, 0), *lower, (1, 9), (1, 10.4), *upper, (0, 1.6)])


def beetle_pin() -> Shape:
    """A beetle's body: three swellings from above, domed, flat behind."""
    body = polar(72, lambda angle: 8.6 * (0.72 + 0.28 * math.cos(2 * angle) + 0.06 * math.cos(6 * angle)))
    dome = [(math.cos(math.pi / 2 * step / 9), 0.8 + 4.5 * math.sin(math.pi / 2 * step / 9)) for step in range(9)]
    return carried(body, [(0, 0), (1, 0), *dome, (0, 5.3)])


def candle_snuffer() -> Shape:
    """A bell, open below, with a solid tip to hang it by."""
    outside = [(13.2, 0), (13.4, 0.8), (12.6, 2), (11.2, 8), (9.9, 15), (8.0, 22), (5.2, 27), (2.6, 29.5), (2.4, 33)]
    inside = [(0, 27.1), (3.7, 25.8), (6.7, 21.3), (8.6, 14.6), (9.9, 7.7), (11.9, 0)]
    return turned([*outside, (0, 33.6), *inside], 48)


def chess_knight() -> Shape:
    """A turned foot, and a neck that leans forward and back into a head without edges."""
    foot = [(0, 0), (12.4, 0), (12.4, 3), (11.2, 4.4), (11.6, 5.8), (8.6, 8), (6.4, 10)]
    neck = [(6.2, 13), (6.1, 17), (6.3, 21), (6.6, 25), (6.4, 28), (5.4, 31), (3.6, 33.2), (1.6, 34.4), (0, 35)]

    def slide(height: float) -> float:
        return 0.0 if height <= 10 else 3.2 * math.sin((height - 10) / 25 * math.pi * 1.3)

    return carried(circle(48), [*foot, *neck], slide, round_outline=True)


def escutcheon() -> Shape:
    """A lobed plate of 1.2 mm sheet with a keyhole: a round of 3 mm radius over a slot 3.2 mm wide."""

    def keyhole(angle: float) -> float:
        down, aside = -math.sin(angle), abs(math.cos(angle))
        if down <= 0:
            return 3.0
        to_side = 1.6 / aside if aside > 1e-9 else math.inf
        return max(3.0, min(to_side, 9.0 / down))

    def leaf(angle: float) -> float:
        return 15.7 * (1 + 0.16 * math.cos(8 * angle)) * (1 - 0.12 * math.cos(2 * angle))

    return plate(polar(96, leaf), polar(96, keyhole), 1.2)


def binary_stl(corners: np.ndarray) -> bytes:
    """A binary STL of corners (count, 3, 3); the normals are left 0, as the form allows."""
    record = np.zeros(len(corners), [("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
    record["corners"] = corners
    return b"made by arithmetic".ljust(80) + len(corners).to_bytes(4, "little") + record.tobytes()


def obj(shape: Shape) -> bytes:
    """An OBJ, quads left whole."""
    lines = ["# drawn in mm", *(f"v {x:.6f} {y:.6f} {z:.6f}" for x, y, z in shape.vertices.tolist())]
    for face in (*shape.quads.tolist(), *shape.triangles.tolist()):
        lines.append("f " + " ".join(str(corner + 1) for corner in face))
    return ("\n".join(lines) + "\n").encode()


def threemf(shape: Shape, unit: str = "millimeter") -> bytes:
    """A 3MF; the numbers are `shape`'s own, said to be in `unit`."""
    vertices = "".join(f'<vertex x="{x:.6f}" y="{y:.6f}" z="{z:.6f}"/>' for x, y, z in shape.vertices.tolist())
    faces = "".join(f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in shape.all_triangles.tolist())
    return threemf_package(
        f'<?xml version="1.0" encoding="UTF-8"?>\n<model unit="{unit}" xml:lang="en-GB" '
        'xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02"><resources><object id="1" type="model">'
        f"<mesh><vertices>{vertices}</vertices><triangles>{faces}</triangles></mesh></object></resources>"
        '<build><item objectid="1"/></build></model>\n'
    )


def threemf_package(model: str | bytes, **others: str) -> bytes:
    """The zip of a 3MF around the XML of its model; the same bytes on every machine and day."""
    parts = {
        "[Content_Types].xml": '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
        '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>\n',
        "_rels/.rels": '<?xml version="1.0" encoding="UTF-8"?>\n'
        '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rel0" '
        'Target="/3D/3dmodel.model" Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/>'
        "</Relationships>\n",
        "3D/3dmodel.model": model,
        **others,
    }
    buffer = io.BytesIO()
    with zipfile.ZipFile(buffer, "w") as package:
        for name, content in parts.items():
            member = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            member.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(member, content)
    return buffer.getvalue()


#: What each stands for → the shape.
SHAPES: dict[str, Callable[[], Shape]] = {
    "acorn-knob": acorn_knob,
    "cloak-clasp": cloak_clasp,
    "thimble": thimble,
    "button": button,
    "caddy-spoon": caddy_spoon,
    "beetle-pin": beetle_pin,
    "candle-snuffer": candle_snuffer,
    "chess-knight": chess_knight,
    "escutcheon": escutcheon,
}
