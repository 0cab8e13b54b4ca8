"""What every reader of a mesh file hands on: loose triangles, and the unit if the file states one."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pricing.meshes.faults import MeshSource


@dataclass(frozen=True, slots=True)
class Soup:
    """Loose triangles: `triangles` has the shape (count, 3 corners, x y z), in the file's unit.

    `unit` is the file's own (a 3MF states one), else None; `remarks` are sentences for the maker.
    """

    triangles: np.ndarray
    unit: str | None = None
    remarks: tuple[str, ...] = ()


def corners_of(source: MeshSource, vertices: np.ndarray, faces: np.ndarray) -> np.ndarray:
    """Triangles as corners. `vertices` (count, 3), `faces` (count, 3) indices from 0, refused where out of range."""
    if not len(faces):
        raise source.fault("it holds no faces", "Export it as a mesh of triangles, not as points or curves.")
    if faces.min() < 0 or faces.max() >= len(vertices):
        wrong = int(np.flatnonzero(((faces < 0) | (faces >= len(vertices))).any(axis=1))[0])
        raise source.fault(f"triangle {wrong + 1} uses a vertex that is not in the file ({len(vertices):,} are)")
    return vertices[faces]


class TooManyDented(Exception):
    """More polygons than are cut one by one."""


#: So many corners of a polygon are tried as the one that sees all the others.
MOST_FANS = 16


def triangulated(vertices: np.ndarray, polygons: Sequence[np.ndarray], most_dented: int) -> np.ndarray:
    """Triangles (count, 3) of polygons; each array holds polygons of one size, shape (count, size), from index 0.

    A polygon is fanned from the first corner that sees all the others, so that a dented one keeps its area. One that
    has no such corner among the first sixteen is cut by manifold3d in its own plane: ImportError where that is not
    installed, TooManyDented with their number where there are more than `most_dented`.
    """
    parts, dented = [], 0
    for group in polygons:
        count, size = group.shape
        fan = np.stack([np.zeros(size - 2, int), np.arange(1, size - 1), np.arange(2, size)], axis=1)
        left = np.arange(count) if size > 3 else np.arange(0)
        if size == 3:
            parts.append(group)
        for turn in range(min(size, MOST_FANS)):
            if not len(left):
                break
            rolled = np.roll(group[left], -turn, axis=1)
            cut = rolled[:, fan]
            corners = vertices[cut]
            with np.errstate(invalid="ignore", over="ignore"):
                across = np.cross(corners[:, :, 1] - corners[:, :, 0], corners[:, :, 2] - corners[:, :, 0])
                facing = np.einsum("ptx,px->pt", across, across.sum(axis=1))
            # What is NaN or overflows is fanned anyhow: whoever sums the triangles refuses it.
            seen = (facing >= 0).all(axis=1) | ~np.isfinite(facing).all(axis=1)
            parts.append(cut[seen].reshape(-1, 3))
            left = left[~seen]
        dented += len(left)
        if dented > most_dented:
            raise TooManyDented(f"{dented:,}")
        parts += [clipped(vertices, polygon) for polygon in group[left]]
    return np.concatenate(parts) if parts else np.empty((0, 3), int)


def clipped(vertices: np.ndarray, polygon: np.ndarray) -> np.ndarray:
    """Triangles of one dented polygon that no fan covers, cut by manifold3d in the plane it is broadest in."""
    from manifold3d import triangulate

    corners = vertices[polygon]
    following = np.roll(corners, -1, axis=0)
    normal = np.cross(corners, following).sum(axis=0)
    widest = int(np.abs(normal).argmax())
    flat = np.delete(corners, widest, axis=1)
    # Leaving out x or z keeps the sense of turning, leaving out y mirrors it.
    mirrored = (normal[widest] < 0) != (widest == 1)
    order = polygon[::-1] if mirrored else polygon
    cut = np.asarray(triangulate([np.ascontiguousarray(flat[::-1] if mirrored else flat, dtype=float)]), dtype=int)
    return order[cut][:, ::-1] if mirrored else order[cut]
