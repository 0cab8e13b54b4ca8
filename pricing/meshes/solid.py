"""The second, independent look at a closed surface: its bodies, and its volume from slices.

The first volume counts space as often as faces enclose it; the area of slices, filled wherever faces enclose it at
all, counts it once. Where bodies overlap, lie in one another or are inside out, the two differ.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from pricing.meshes.welding import Surface

#: Turns that bring x, y and z upright, in degrees about x, y, z.
UPRIGHT = ((0, -90, 0), (90, 0, 0), (0, 0, 0))
#: Where two Gauss points stand in a panel of width 1; they are exact for the area of any prism, cone or wedge.
GAUSS = np.array([0.5 - 0.5 / 3**0.5, 0.5 + 0.5 / 3**0.5])
PANELS = 64
MOST_PANELS = 1024
#: A difference that is told; finer panels are tried before it is.
TELLING = 0.002
MOST_BODIES_PAIRED = 24


@dataclass(frozen=True, slots=True)
class Solid:
    """What the second look finds: `sliced_volume`, and each body's signed volume (negative: faces point inwards).

    `shared` is the space that pairs of bodies have in common, None where there are too many to tell, `nested` whether
    one of them lies wholly in another.
    """

    sliced_volume: float
    bodies: tuple[float, ...]
    shared: float | None = 0.0
    nested: bool = False


def look_again(surface: Surface, volume: float) -> Solid | str:
    """The second look at a closed surface of positive `volume`, or the reason why there can be none."""
    from manifold3d import Error, Manifold, Mesh64

    manifold = Manifold(Mesh64(np.ascontiguousarray(surface.vertices), surface.faces.astype(np.uint64)))
    if manifold.status() != Error.NoError:
        return manifold.status().name
    parts = manifold.decompose()
    sliced = max(
        (sliced_volume(manifold, surface, axis, volume) for axis in range(3)), key=lambda other: abs(other - volume)
    )
    shared, nested = shared_space(parts) if abs(sliced / volume - 1) > TELLING else (0.0, False)
    return Solid(sliced, tuple(part.volume() for part in parts), shared, nested)


def sliced_volume(manifold: Any, surface: Surface, axis: int, volume: float) -> float:
    """Volume from the filled areas of slices across an axis, cut finer as long as it differs from `volume`."""
    upright = manifold.rotate(UPRIGHT[axis])
    low, high = float(surface.vertices[:, axis].min()), float(surface.vertices[:, axis].max())
    steps = level_heights(surface, axis)
    panels = PANELS
    while True:
        breaks = np.unique(np.concatenate([np.linspace(low, high, panels + 1), steps]))
        widths = np.diff(breaks)
        heights = breaks[:-1, None] + widths[:, None] * GAUSS
        areas = [[upright.slice(height).area() for height in pair] for pair in heights.tolist()]
        sliced = float(np.asarray(areas).mean(axis=1) @ widths)
        if abs(sliced / volume - 1) <= TELLING or panels >= MOST_PANELS:
            return sliced
        panels *= 4


def level_heights(surface: Surface, axis: int) -> np.ndarray:
    """Heights of level faces, where the area of a slice jumps: the largest of them first, 256 at most."""
    across = surface.vertices[:, axis][surface.faces]
    level = np.flatnonzero(np.ptp(across, axis=1) == 0)
    corners = surface.vertices[surface.faces[level]]
    sizes = np.linalg.norm(np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1)
    heights, which = np.unique(across[level, 0], return_inverse=True)
    weights = np.bincount(which.reshape(-1), weights=sizes, minlength=len(heights))
    return heights[np.argsort(-weights)[:256]]


def shared_space(parts: list[Any]) -> tuple[float | None, bool]:
    """The space that pairs of outward bodies have in common (None: too many pairs), and whether one lies in another."""
    outward = [part for part in parts if part.volume() > 0]
    if len(outward) > MOST_BODIES_PAIRED:
        return None, False
    shared, nested = 0.0, False
    for number, one in enumerate(outward):
        for other in outward[number + 1 :]:
            common = (one ^ other).volume()
            shared += common
            nested |= common > 0.999 * min(one.volume(), other.volume())
    return shared, nested
