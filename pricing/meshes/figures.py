"""Volume, surface and extent from loose triangles, in blocks, with numpy alone.

The volume inside a closed surface is the flow of the field x/3 out of it (the divergence theorem). Each axis gives it
alone too: the flow of (x, 0, 0), of (0, y, 0) and of (0, 0, z) must be the same volume, all the mixed flows nought, and
so must the sum of the faces' area vectors be. Holes and turned faces break these, so one pass over the triangles
that knows nothing of neighbours sees nearly every surface that is not closed.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

BLOCK_TRIANGLES = 16_384


@dataclass(frozen=True, slots=True)
class Figures:
    """Sums over a mesh, in its own unit.

    `area`; `flow` (3 × 3): the integral of place × outward normal over the surface, about the first corner;
    `area_vector` (3): the sum of the faces' areas times normals; `low`, `high` (3): the box around it.
    """

    area: float
    flow: np.ndarray
    area_vector: np.ndarray
    low: np.ndarray
    high: np.ndarray

    @property
    def volume(self) -> float:
        """Volume, negative where the faces point inwards, meaningless where the surface is not closed."""
        return float(np.trace(self.flow)) / 3

    @property
    def extent(self) -> np.ndarray:
        """Length along x, y and z."""
        return self.high - self.low

    def openness(self) -> float:
        """How far the surface is from closed, as a fraction of the volume: nought but for rounding where closed.

        Infinite where there is no volume.
        """
        volume = self.volume
        if abs(volume) <= 1e-9 * self.area * float(self.extent.max()):
            return float("inf")
        uneven = np.abs(self.flow - np.eye(3) * volume).max()
        wandering = np.linalg.norm(self.area_vector) * np.linalg.norm(self.extent) / 3
        return float(max(uneven, wandering) / abs(volume))


def figures(triangles: np.ndarray) -> Figures:
    """Sums over triangles of the shape (count, 3 corners, 3), of any float type; NaN or infinite where a corner is."""
    origin = triangles[0, 0].astype(float)
    area, flow, area_vector = 0.0, np.zeros((3, 3)), np.zeros(3)
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    for start in range(0, len(triangles), BLOCK_TRIANGLES):
        # One axis a row: numpy is fastest along rows, and x y z side by side are not.
        corners = np.ascontiguousarray(triangles[start : start + BLOCK_TRIANGLES].T, dtype=float)
        corners -= origin[:, None, None]
        low = np.minimum(low, corners.min(axis=(1, 2)))
        high = np.maximum(high, corners.max(axis=(1, 2)))
        first, second, third = corners[:, 0], corners[:, 1], corners[:, 2]
        along, beside = second - first, third - first
        normals = np.stack(
            [
                along[1] * beside[2] - along[2] * beside[1],
                along[2] * beside[0] - along[0] * beside[2],
                along[0] * beside[1] - along[1] * beside[0],
            ]
        )
        area += float(np.sqrt(np.einsum("xt,xt->t", normals, normals)).sum()) / 2
        area_vector += normals.sum(axis=1) / 2
        flow += (first + second + third) @ normals.T / 6
    return Figures(area, flow, area_vector, low + origin, high + origin)


def first_bad_corner(triangles: np.ndarray) -> tuple[int, int]:
    """How many corners are NaN or infinite, and the number from 1 of the first triangle with one."""
    bad = ~np.isfinite(triangles).all(axis=2)
    return int(bad.sum()), int(np.flatnonzero(bad.any(axis=1))[0]) + 1
