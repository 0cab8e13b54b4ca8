"""What the sample's meshes are made with: outlines, reliefs, wound surfaces, tubes. Lengths in mm.

Every maker of a solid gives a `Manifold`, so that unions and cuts of them stay closed and turned outwards.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence

import numpy as np
from manifold3d import CrossSection, Manifold, Mesh64, OpType
from scipy.spatial import Delaunay, cKDTree

Height = Callable[[np.ndarray], np.ndarray]
#: What may be taken off a surface where fewer triangles say the same, in mm: less than a print's layer.
FINE = 0.02


def solid(vertices: np.ndarray, faces: np.ndarray) -> Manifold:
    """The solid inside a closed surface, faces counter-clockwise seen from outside."""
    made = Manifold(Mesh64(np.ascontiguousarray(vertices, float), np.ascontiguousarray(faces, np.uint64)))
    if made.is_empty() or made.volume() <= 0:
        raise ValueError(f"the surface of {len(faces)} triangles is not closed, or inside out: {made.status()}")
    return made


def joined(parts: Sequence[Manifold]) -> Manifold:
    """All of them in one."""
    return Manifold.batch_boolean(list(parts), OpType.Add)


def mirrored(part: Manifold) -> list[Manifold]:
    """The part and its twin on the other side of x = 0."""
    return [part, part.mirror((1, 0, 0))]


def of_volume(piece: Manifold, cm3: float) -> Manifold:
    """The piece made larger or smaller until it holds `cm3`, without triangles that say nothing."""
    bare = piece.simplify(FINE)
    factor = (cm3 * 1000 / bare.volume()) ** (1 / 3)
    return bare.scale((factor, factor, factor))


def corners_of(piece: Manifold) -> np.ndarray:
    """Its triangles, (count, 3, 3)."""
    mesh = piece.to_mesh64()
    return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts).astype(int)]


# ---- Curves in the plane


def curve(points: Sequence[tuple[float, ...]], steps: int = 12) -> np.ndarray:
    """A smooth curve through points (Catmull-Rom), ends included."""
    given = np.array(points, float)
    padded = np.concatenate([2 * given[:1] - given[1:2], given, 2 * given[-1:] - given[-2:-1]])
    along = np.linspace(0, 1, steps, endpoint=False)[:, None]
    spans = []
    for one, two, three, four in zip(padded, padded[1:], padded[2:], padded[3:], strict=False):
        spans.append(
            0.5
            * (
                2 * two
                + (three - one) * along
                + (2 * one - 5 * two + 4 * three - four) * along**2
                + (3 * two - one - 3 * three + four) * along**3
            )
        )
    return np.concatenate([*spans, given[-1:]])


def arcs(start: tuple[float, float], *spans: tuple[float, float, float, float], steps: int = 14) -> np.ndarray:
    """A path of quadratic arcs with sharp joints: each span says its control point and its end."""
    at, along, path = np.array(start), np.linspace(0, 1, steps, endpoint=False)[:, None], []
    for control_x, control_y, end_x, end_y in spans:
        control, end = np.array([control_x, control_y]), np.array([end_x, end_y])
        path.append((1 - along) ** 2 * at + 2 * along * (1 - along) * control + along**2 * end)
        at = end
    return np.concatenate([*path, at[None]])


def both_sides(half: np.ndarray) -> np.ndarray:
    """A closed outline, counter-clockwise, from its half at x ≥ 0 that runs from below to the top."""
    other = half[::-1] * (-1, 1)
    return np.concatenate([half, other[abs(other[:, 0]) > 1e-9]])


def even(outline: np.ndarray, spacing: float) -> np.ndarray:
    """Corners on a closed outline, at most about `spacing` apart; its own corners stay."""
    ends = np.roll(outline, -1, axis=0)
    spans = []
    for start, end in zip(outline, ends, strict=True):
        count = max(1, round(float(np.linalg.norm(end - start)) / spacing))
        spans.append(start + (end - start) * (np.arange(count) / count)[:, None])
    points = np.concatenate(spans)
    apart = np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1)
    return points[apart > 1e-6]


def thinned(outline: np.ndarray, spacing: float) -> np.ndarray:
    """Corners evenly along a closed outline, however close its own stand."""
    closed = np.concatenate([outline, outline[:1]])
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(closed, axis=0), axis=1))])
    places = np.linspace(0, along[-1], max(8, round(along[-1] / spacing)), endpoint=False)
    return np.column_stack([np.interp(places, along, closed[:, part]) for part in (0, 1)])


def united(*outlines: np.ndarray) -> np.ndarray:
    """The outline around several that overlap."""
    around = CrossSection.batch_boolean([CrossSection([outline]) for outline in outlines], OpType.Add)
    return np.asarray(max(around.to_polygons(), key=len))


def is_inside(points: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """Whether points lie inside an outline: how often a ray to the right crosses it."""
    crossings = np.zeros(len(points), int)
    for (x, y), (next_x, next_y) in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        spans = (y > points[:, 1]) != (next_y > points[:, 1])
        if spans.any():
            at = x + (points[spans, 1] - y) / (next_y - y) * (next_x - x)
            crossings[spans] += at > points[spans, 0]
    return crossings % 2 == 1


def from_path(points: np.ndarray, path: np.ndarray) -> np.ndarray:
    """How far points are from an open path."""
    nearest = np.full(len(points), np.inf)
    for start, end in zip(path[:-1], path[1:], strict=True):
        way = end - start
        share = np.clip((points - start) @ way / max(float(way @ way), 1e-12), 0, 1)
        nearest = np.minimum(nearest, np.linalg.norm(points - start - share[:, None] * way, axis=1))
    return nearest


def from_edge(points: np.ndarray, outline: np.ndarray) -> np.ndarray:
    """How far points are from a closed outline."""
    return from_path(points, np.concatenate([outline, outline[:1]]))


# ---- Solids


def relief(outline: np.ndarray, top: Height, bottom: Height, spacing: float) -> Manifold:
    """What lies between two heights over an outline: triangles of about `spacing`."""
    edge = thinned(outline, spacing)
    low, high = edge.min(axis=0), edge.max(axis=0)
    rows = np.arange(low[1], high[1], spacing * math.sqrt(3) / 2)
    grid = np.array(
        [
            (x, height)
            for number, height in enumerate(rows)
            for x in np.arange(low[0] + spacing / 2 * (number % 2), high[0], spacing)
        ]
    )
    grid = grid[is_inside(grid, edge)]
    grid = grid[cKDTree(even(edge, spacing / 4)).query(grid)[0] > 0.55 * spacing]
    points = np.concatenate([edge, grid])
    faces = Delaunay(points).simplices
    faces = faces[is_inside(points[faces].mean(axis=1), edge)]
    (one_x, one_y), (two_x, two_y) = ((points[faces[:, number]] - points[faces[:, 0]]).T for number in (1, 2))
    cross = one_x * two_y - one_y * two_x
    faces = np.where(cross[:, None] > 0, faces, faces[:, ::-1])[abs(cross) > 1e-12]
    sides = np.concatenate([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    keys = {(int(a), int(b)) for a, b in sides}
    rim = np.array([side for side in sorted(keys) if side[::-1] not in keys])
    count = len(points)
    walls = np.concatenate(
        [np.column_stack([rim[:, 1], rim[:, 0], rim[:, 0] + count]),
         np.column_stack([rim[:, 1], rim[:, 0] + count, rim[:, 1] + count])]
    )  # fmt: skip
    vertices = np.concatenate([np.column_stack([points, top(points)]), np.column_stack([points, bottom(points)])])
    return solid(vertices, np.concatenate([faces, faces[:, ::-1] + count, walls]))


def wound(rings: Sequence[np.ndarray], *, closed: bool = False) -> Manifold:
    """A surface through rings of equally many corners, counter-clockwise seen from above where they rise.

    A ring of one corner is a pole. `closed`: the last ring joins the first, as around a finger ring.
    """
    vertices, numbers = [], []
    for ring in rings:
        first = len(vertices)
        vertices += list(ring)
        numbers.append(list(range(first, len(vertices))))
    around = max(len(ring) for ring in rings)
    faces = []
    pairs = zip(numbers, numbers[1:] + numbers[:1], strict=True) if closed else zip(numbers, numbers[1:], strict=False)
    for lower, upper in pairs:
        for number in range(around):
            following = (number + 1) % around
            low, low_next = lower[number % len(lower)], lower[following % len(lower)]
            up, up_next = upper[number % len(upper)], upper[following % len(upper)]
            faces += [face for face in ((low, low_next, up_next), (low, up_next, up)) if len(set(face)) == 3]
    return solid(np.array(vertices), np.array(faces))


def turned(profile: np.ndarray, sides: int, swell: Callable[[np.ndarray, float], np.ndarray] | None = None) -> Manifold:
    """A profile of (rho, z), upwards, carried around the z axis; `swell` adds to rho at each angle and height."""
    angles = np.arange(sides) * 2 * math.pi / sides
    rings = []
    for rho, height in profile:
        if rho == 0:
            rings.append(np.array([(0, 0, height)]))
            continue
        out = rho + (swell(angles, height) if swell else 0)
        rings.append(np.column_stack([out * np.cos(angles), out * np.sin(angles), np.full(sides, height)]))
    return wound(rings)


def ellipsoid(middle: tuple[float, float, float], radii: tuple[float, float, float], sides: int = 48) -> Manifold:
    """A ball drawn out along the axes."""
    return Manifold.sphere(1, sides).scale(radii).translate(middle)


def tube(path: np.ndarray | Sequence[tuple[float, ...]], radii: float | Sequence[float], sides: int = 16) -> Manifold:
    """A round bar along a path in space, with balls at its ends; its radius runs through `radii`."""
    points = np.array(path, float)
    given = np.atleast_1d(np.array(radii, float))
    thick = np.interp(np.linspace(0, 1, len(points)), np.linspace(0, 1, len(given)), given)
    balls = [
        Manifold.sphere(radius, sides).translate(tuple(point)) for radius, point in zip(thick, points, strict=True)
    ]
    return joined([Manifold.batch_hull([one, two]) for one, two in zip(balls, balls[1:], strict=False)])


def ring(across: float, wire: float, sides: int = 48) -> Manifold:
    """A torus that lies flat: `across` from middle of the wire to middle, `wire` thick."""
    angles = np.arange(24) * 2 * math.pi / 24
    section = np.column_stack([across / 2 + wire / 2 * np.cos(angles), wire / 2 * np.sin(angles)])
    return Manifold.revolve(CrossSection([section]), sides)
