"""Leaves and what grows on them: outlines drawn from the plant, veins as ridges, edges rounded off."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from manifold3d import CrossSection, Manifold

from tests.meshes.sample.tools import (
    arcs,
    both_sides,
    curve,
    from_edge,
    from_path,
    joined,
    relief,
    ring,
    tube,
    united,
)


def _veins(points: np.ndarray, veins: Sequence[np.ndarray], wide: float) -> np.ndarray:
    """How high the ridge of the nearest vein stands, 0 to 1."""
    nearest = np.min([from_path(points, vein) for vein in veins], axis=0)
    return np.exp(-((nearest / wide) ** 2))


def _rounded(away: np.ndarray, over: float) -> np.ndarray:
    """0 at the edge, 1 from `over` mm inside, round between."""
    return np.sqrt(1 - (1 - np.clip(away / over, 0, 1)) ** 2)


def ivy_half() -> Manifold:
    """Half of a clasp: an ivy leaf of five lobes, hollow behind, and an eye on its stalk for chain and hook."""
    half = arcs(
        (0, -4.6),
        (3.4, -9.4, 9.4, -9.2),  # round the basal lobe to its tip
        (9.2, -5.6, 8.6, -3.6),  # into the lower bay
        (11.8, -2.4, 15.4, 2.4),  # the side lobe's tip
        (9.6, 3.6, 6.6, 6.2),  # the upper bay
        (5.6, 12.6, 0, 19.0),  # the long middle lobe
    )
    leaf = both_sides(half)
    foot = np.array((0, -4.2))
    tips = [(0, 17.6), (13.8, 2.0), (-13.8, 2.0), (8.5, -8.4), (-8.5, -8.4)]
    veins = [foot + np.linspace(0, 1, 6)[:, None] * (np.array(tip) - foot) for tip in tips]
    branches = [((0, 3.4), (3.9, 8.0)), ((0, 7.6), (2.7, 11.8)), ((4.9, -2.0), (8.4, 1.6)), ((6.8, -1.0), (9.8, -1.4)),
                ((0, -0.4), (4.8, 3.8)), ((4.0, -6.1), (7.2, -5.2))]  # fmt: skip
    for start, end in branches:
        veins += [np.array([start, end]), np.array([start, end]) * (-1, 1)]

    def behind(points: np.ndarray) -> np.ndarray:
        return 2.6 * (1 - (points**2).sum(axis=1) / 19.5**2)

    def front(points: np.ndarray) -> np.ndarray:
        rise = _rounded(from_edge(points, leaf), 1.6)
        return behind(points) + 0.7 + 0.9 * rise + 0.7 * rise * _veins(points, veins, 0.72)

    blade = relief(leaf, front, behind, 0.42)
    stalk = tube(curve([(0, -3.6, 3.1), (0.2, -7.5, 2.5), (0, -11.4, 1.2)], 5), (0.95, 1.1), 14)
    eye = ring(5.2, 1.9).translate((0, -14.4, 1.0))
    return joined([blade, stalk, eye])


#: The right edge of an oak leaf from its stalk to its tip, and where the blade begins.
OAK = [
    (0.9, -6.0), (0.8, -2.5), (1.3, 0.2), (4.6, 2.4), (5.4, 5.2), (4.0, 7.6), (7.0, 9.0), (10.0, 11.4), (9.8, 14.2),
    (7.2, 16.4), (10.4, 17.8), (13.2, 21.0), (12.4, 24.4), (8.6, 26.0), (10.8, 28.0), (12.0, 31.0), (10.4, 33.6),
    (6.6, 34.2), (7.8, 36.6), (6.6, 39.6), (4.0, 40.2), (3.4, 42.6), (1.9, 44.4), (0.0, 45.0),
]  # fmt: skip


def oak_outline() -> np.ndarray:
    """An oak leaf with its stalk, 50 mm long, lobes and bays rounded."""
    half = np.concatenate([[(0, -6.3)], curve(OAK, 6)])
    return both_sides(half)


def keyhole(middle: tuple[float, float]) -> np.ndarray:
    """A round of 3 mm radius over a slot 3.2 mm wide that ends 9 mm below its middle."""
    opening = math.asin(1.6 / 3)
    turns = np.linspace(-math.pi / 2 + opening, 1.5 * math.pi - opening, 41)
    round_part = np.column_stack([3 * np.cos(turns), 3 * np.sin(turns)])
    return np.concatenate([round_part, [(-1.6, -9), (1.6, -9)]]) + middle


def hole(middle: tuple[float, float], across: float, sides: int = 24) -> np.ndarray:
    """Corners on a circle."""
    turns = np.arange(sides) * 2 * math.pi / sides
    return np.column_stack([np.cos(turns), np.sin(turns)]) * across / 2 + middle


#: Four holes for 1.4 mm pins.
PIN_HOLES = [(6.6, 12.2), (-6.6, 12.2), (8.6, 30.4), (-8.6, 30.4)]
SHEET = 1.2


def escutcheon_outlines() -> tuple[np.ndarray, list[np.ndarray]]:
    """The leaf at its size, and what is sawn and drilled out of it."""
    leaf = oak_outline() * 1.0352
    return leaf, [keyhole((0, 24.0)), *(hole(middle, 1.5) for middle in PIN_HOLES)]


def escutcheon() -> Manifold:
    """An oak leaf of 1.2 mm sheet with a keyhole and four pin holes: a prism."""
    leaf, holes = escutcheon_outlines()
    return Manifold.extrude(CrossSection([leaf]) - CrossSection(holes), SHEET)


def _beech(length: float, width: float, waves: int, wave: float) -> np.ndarray:
    """A beech leaf's outline, pointed at both ends, its edge in gentle waves; it lies along y, the stalk at 0."""
    along = np.linspace(0, 1, 61)
    out = width / 2 * np.sin(math.pi * along**0.86) ** 0.8
    out = out + wave * np.sin(2 * math.pi * waves * along) * np.sin(math.pi * along)
    half = np.column_stack([np.maximum(out, 0.02), length * along])
    half[0], half[-1] = (0, 0), (0, length)
    return both_sides(half)


def _pinnate(length: float, reach: float, pairs: int) -> list[np.ndarray]:
    """A middle vein and pairs of side veins that bend upwards."""
    veins = [np.array([(0, 0.02 * length), (0, 0.96 * length)])]
    for number in range(pairs):
        start = length * (0.10 + 0.72 * number / pairs)
        out = reach * math.sin(math.pi * ((number + 0.9) / (pairs + 0.6)) ** 0.86) ** 0.8
        side = curve([(0, start), (out * 0.55, start + 0.085 * length), (out, start + 0.20 * length)], 5)
        veins += [side, side * (-1, 1)]
    return veins


def beech_button() -> Manifold:
    """A coat button: a beech leaf, domed, with a shank behind to be drilled."""
    leaf, veins = _beech(21, 15, 7, 0.28), _pinnate(21, 6.6, 6)

    def behind(points: np.ndarray) -> np.ndarray:
        away = (points[:, 0] / 7.5) ** 2 + ((points[:, 1] - 10) / 10.5) ** 2
        return 1.0 * (1 - away)

    def front(points: np.ndarray) -> np.ndarray:
        rise = _rounded(from_edge(points, leaf), 1.1)
        return behind(points) + 0.45 + 0.55 * rise + 0.55 * rise * _veins(points, veins, 0.52)

    shank = tube([(0, 8.0, -0.6), (0, 11.6, -0.6)], 1.3, 20)
    neck = tube([(0, 9.2, -0.4), (0, 10.4, -0.4)], 1.5, 20).translate((0, 0, 0.7))
    return joined([relief(leaf, front, behind, 0.34), shank, neck])


def hazel_leaf() -> Manifold:
    """What the hare sits on: a broad leaf with a point, its edge in small teeth, a short stalk above."""
    along = np.linspace(0, 1, 121)
    out = 12.4 * np.sin(math.pi * along**0.72) ** 0.62
    out = out + 0.45 * (np.mod(along * 15, 1) - 0.5) * np.sin(math.pi * along) ** 0.5
    half = np.column_stack([np.maximum(out, 0.02), 31 * along])
    half[0], half[-1] = (0, 0), (0, 31)
    leaf, veins = both_sides(half), _pinnate(31, 11, 7)

    def behind(points: np.ndarray) -> np.ndarray:
        return 1.6 * (1 - (points[:, 0] / 14) ** 2 - ((points[:, 1] - 14) / 21) ** 2)

    def front(points: np.ndarray) -> np.ndarray:
        rise = _rounded(from_edge(points, leaf), 0.9)
        return behind(points) + 0.45 + 0.45 * rise + 0.55 * rise * _veins(points, veins, 0.7)

    stalk = tube(curve([(0, 1.5, 1.6), (0, -1.0, 1.0), (0.2, -3.2, 0.9)], 5), (0.8, 0.75), 14)
    eye = ring(4.2, 1.3).translate((0.2, -5.6, 0.9))
    return joined([relief(leaf, front, behind, 0.44), stalk, eye]).rotate((0, 0, 180))


def scallop_spoon() -> Manifold:
    """A caddy spoon: a scallop's bowl of eleven ribs, and a handle that ends in a leaf."""
    ribs, radius = 11, 17.0
    turns = np.linspace(0.14, math.pi - 0.14, 221)
    reach = 2 * radius * np.sin(turns) ** 0.92
    reach = reach * (1 + 0.022 * np.cos(2 * math.pi * ribs * (turns - 0.14) / (math.pi - 0.28) + math.pi))
    shell = np.column_stack([reach * np.cos(turns), reach * np.sin(turns)])
    ears = np.array([(-8.2, 1.2), (8.2, 1.2), (7.0, 5.0), (-7.0, 5.0)])
    stem = np.array(
        [*curve([(-3.4, 3.0), (-2.0, -5.0), (-2.2, -14.0), (-5.4, -22.0), (-5.0, -29.0), (0, -34.0)], 8),
         *curve([(5.0, -29.0), (5.4, -22.0), (2.2, -14.0), (2.0, -5.0), (3.4, 3.0)], 8)]
    )  # fmt: skip
    around = united(shell, ears, stem)

    def below(points: np.ndarray) -> np.ndarray:
        x, y = points.T
        away = np.hypot(x, y - radius) / radius
        bowl = 8.6 * np.minimum(away, 1.05) ** 2.3
        handle = 8.6 + 0.9 * np.sin(np.clip(-y / 34, 0, 1) * math.pi)
        blend = np.clip((y + 1.5) / 4, 0, 1)
        blend = blend * blend * (3 - 2 * blend)
        turn = np.arctan2(np.maximum(y, 0.3), x)
        near = np.clip(np.hypot(x, y) / 14, 0, 1) ** 1.2
        rib = 0.62 * near * np.cos(2 * math.pi * ribs * (turn - 0.14) / (math.pi - 0.28) + math.pi)
        return (bowl + rib) * blend + handle * (1 - blend)

    def above(points: np.ndarray) -> np.ndarray:
        rise = _rounded(from_edge(points, around), 1.2)
        on_handle = np.clip(-points[:, 1] / 6, 0, 1)
        leaf = np.clip((-points[:, 1] - 16) / 5, 0, 1)
        vein = np.exp(-((points[:, 0] / 0.6) ** 2)) * leaf
        side = 0.5 * np.abs(np.sin((points[:, 1] + 0.9 * np.abs(points[:, 0])) * 1.5)) ** 3 * leaf
        return below(points) + 0.75 + 0.35 * rise + 0.8 * rise * on_handle + 0.5 * rise * np.maximum(vein, side)

    return relief(around, above, below, 0.62)
