"""The second, independent look at a closed surface: its bodies, and its volume from slices.

The first volume counts space as often as faces enclose it; the area of slices, filled wherever faces enclose it at
all, counts it once. Where bodies overlap, lie in one another or are inside out, the two differ.
"""

from __future__ import annotations

import time
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

    `in_common` is the space that pairs of bodies share, None where there are too many to tell, `nested` whether one of
    them lies wholly in another.
    """

    sliced_volume: float
    bodies: tuple[float, ...]
    in_common: float | None = 0.0
    nested: bool = False


class BudgetSpent(Exception):
    """The second look took longer than it may."""


class Budget:
    """Seconds of the processor that the second look may take: ample for a sound mesh of so many triangles.

    A sound one of a million triangles takes some 3; thousands of bodies through each other would take hours.
    """

    def __init__(self, triangles: int):
        self.seconds = 2 + 6e-6 * triangles
        self._until = time.process_time() + self.seconds

    def check(self) -> None:
        """Raise BudgetSpent once it is."""
        if time.process_time() > self._until:
            raise BudgetSpent


def look_again(surface: Surface, volume: float) -> Solid | str:
    """The second look at a closed surface of positive `volume`, or the reason why there can be none.

    Raises BudgetSpent where it would take too long.
    """
    from manifold3d import Error, Manifold, Mesh64

    budget = Budget(len(surface.faces))
    manifold = Manifold(Mesh64(np.ascontiguousarray(surface.vertices), surface.faces.astype(np.uint64)))
    if manifold.status() != Error.NoError:
        return manifold.status().name
    bodies, parts = _bodies(manifold, surface)
    sliced = max(
        (sliced_volume(manifold, surface, axis, volume, budget) for axis in range(3)),
        key=lambda other: abs(other - volume),
    )
    in_common, nested = shared_space(parts, budget) if abs(sliced / volume - 1) > TELLING else (0.0, False)
    return Solid(sliced, bodies, in_common, nested)


def _bodies(manifold: Any, surface: Surface) -> tuple[tuple[float, ...], list[Any] | None]:
    """Each body's signed volume, and the bodies themselves where they are few: taking them apart is quadratic."""
    label = joined(surface)
    count = len(np.unique(label[surface.faces[:, 0]]))
    if count <= MOST_BODIES_PAIRED:
        parts = manifold.decompose()
        return tuple(part.volume() for part in parts), parts
    _, which = np.unique(label[surface.faces[:, 0]], return_inverse=True)
    middle = (surface.vertices.max(axis=0) + surface.vertices.min(axis=0)) / 2
    volumes = np.bincount(which.reshape(-1), weights=surface.tetrahedra(middle))
    return tuple(volumes.tolist()), None


def joined(surface: Surface) -> np.ndarray:
    """For every vertex the lowest vertex that faces lead to from it: the same for all of one body.

    Each round hangs a group onto the lowest group that one of its faces touches, then shortens the ways to the lowest;
    groups at least double, so the rounds go with the logarithm of the size.
    """
    label = np.arange(len(surface.vertices))
    while True:
        touching = label[surface.faces]
        lower = label.copy()
        np.minimum.at(lower, touching.reshape(-1), np.repeat(touching.min(axis=1), 3))
        while not np.array_equal(lower, lower[lower]):
            lower = lower[lower]
        if np.array_equal(lower, label):
            return label
        label = lower


def sliced_volume(manifold: Any, surface: Surface, axis: int, volume: float, budget: Budget) -> float:
    """Volume from the filled areas of slices across an axis, cut finer as long as it differs from `volume`."""
    upright = manifold.rotate(UPRIGHT[axis])
    low, high = float(surface.vertices[:, axis].min()), float(surface.vertices[:, axis].max())
    steps = level_heights(surface, axis)
    panels = PANELS
    while True:
        breaks = np.unique(np.concatenate([np.linspace(low, high, panels + 1), steps]))
        widths = np.diff(breaks)
        heights = breaks[:-1, None] + widths[:, None] * GAUSS
        areas = []
        for pair in heights.tolist():
            budget.check()
            areas.append([upright.slice(height).area() for height in pair])
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


def shared_space(parts: list[Any] | None, budget: Budget) -> tuple[float | None, bool]:
    """The space that pairs of outward bodies have in common (None: too many pairs), and whether one lies in another."""
    if parts is None:
        return None, False
    outward = [part for part in parts if part.volume() > 0]
    in_common, nested = 0.0, False
    for number, one in enumerate(outward):
        for other in outward[number + 1 :]:
            budget.check()
            common = (one ^ other).volume()
            in_common += common
            nested |= common > 0.999 * min(one.volume(), other.volume())
    return in_common, nested
