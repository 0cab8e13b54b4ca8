"""Loose triangles into a surface: which corners are the same point, which edges are open.

Corners are welded where they are equal to the bit; what is still open is welded once more within a hair's breadth,
since some programs tessellate each face of a solid by itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product

import numpy as np

#: What is nearer than this fraction of the piece's diagonal is one point (0.3 µm on a piece of 30 mm).
HAIR = 1e-5
HASH_MULTIPLIER = np.uint64(0x9E3779B97F4A7C15)  # 2^64 / golden ratio, odd: Fibonacci hashing (Knuth, vol. 3, 6.4)


@dataclass(frozen=True, slots=True)
class Surface:
    """`vertices` (count, 3) and `faces` (count, 3 indices), with no face that has two equal corners."""

    vertices: np.ndarray
    faces: np.ndarray

    def tetrahedra(self, apex: np.ndarray) -> np.ndarray:
        """Signed volume between each face and `apex`; their sum is the volume where the surface is closed."""
        corners = self.vertices[self.faces] - apex
        return np.einsum("fx,fx->f", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6


@dataclass(frozen=True, slots=True)
class Edges:
    """The edges of a surface that do not meet as they should, each as (count, 2) indices in its face's direction.

    `hole`: of one face only; `turned`: of two faces that run the same way, so that one of them is inside out;
    `crowded`: of three or more faces that do not pair up.
    """

    hole: np.ndarray
    turned: np.ndarray
    crowded: np.ndarray


def weld(triangles: np.ndarray) -> Surface:
    """The surface of loose triangles (count, 3, 3) of float64."""
    # Adding nought turns -0.0 into 0.0, which has other bits.
    points = np.ascontiguousarray(triangles.reshape(-1, 3)) + 0.0
    bits = points.view(np.uint64)
    key = bits[:, 0].copy()
    for axis in (1, 2):
        key = (key ^ (key >> np.uint64(29))) * HASH_MULTIPLIER
        key = (key ^ (key >> np.uint64(32))) * HASH_MULTIPLIER ^ bits[:, axis]
    _, first, which = np.unique(key, return_index=True, return_inverse=True)
    vertices = points[first]
    if not np.array_equal(vertices[which], points):  # two points with one key: rare, then sort them in full
        vertices, which = np.unique(points, axis=0, return_inverse=True)
    return whole_faces(vertices, which.reshape(-1, 3))


def whole_faces(vertices: np.ndarray, faces: np.ndarray) -> Surface:
    """The surface without faces that have two equal corners."""
    flat = (faces[:, 0] == faces[:, 1]) | (faces[:, 1] == faces[:, 2]) | (faces[:, 2] == faces[:, 0])
    return Surface(vertices, faces[~flat] if flat.any() else faces)


def edges(surface: Surface) -> Edges:
    """The edges that do not meet as they should."""
    start = surface.faces.reshape(-1)
    end = surface.faces[:, [1, 2, 0]].reshape(-1)
    forward = start < end
    key = np.where(forward, start, end) * len(surface.vertices) + np.where(forward, end, start)
    _, which, total = np.unique(key, return_inverse=True, return_counts=True)
    net = np.bincount(which, weights=np.where(forward, 1.0, -1.0), minlength=len(total))
    hole, uneven = total == 1, net != 0
    turned, crowded = uneven & (total == 2), uneven & (total > 2)

    def pairs(kind: np.ndarray) -> np.ndarray:
        chosen = kind[which]
        return np.stack([start[chosen], end[chosen]], axis=1)

    return Edges(pairs(hole), pairs(turned), pairs(crowded))


def weld_cracks(surface: Surface, open_edges: np.ndarray) -> Surface:
    """The surface with the ends of `open_edges` (count, 2) welded where they are a hair's breadth apart.

    Points are put into cells of two hairs, in eight grids that are shifted by half a cell: any two points within a
    hair of one another share a cell of at least one grid.
    """
    hair = HAIR * float(np.linalg.norm(np.ptp(surface.vertices, axis=0)))
    rim = np.unique(open_edges)
    target = np.arange(len(surface.vertices))
    for shift in product((0.0, 0.5), repeat=3):
        cells = np.floor(surface.vertices[target[rim]] / (2 * hair) + shift).astype(np.int64)
        _, first, which = np.unique(cells, axis=0, return_index=True, return_inverse=True)
        joined = target[rim][first][which.reshape(-1)]
        merged = np.arange(len(target))
        merged[target[rim]] = joined
        target = merged[target]
    return whole_faces(surface.vertices, target[surface.faces])
