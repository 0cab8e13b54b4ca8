"""Small lives: bodies put together from balls and bars, and silhouettes blown up on both sides."""

from __future__ import annotations

import math

import numpy as np
from manifold3d import Manifold

from tests.meshes.sample.tools import (
    curve,
    ellipsoid,
    from_edge,
    from_path,
    joined,
    mirrored,
    relief,
    ring,
    tube,
    turned,
    wound,
)


def stag_beetle() -> Manifold:
    """A stag beetle from above, flat behind: forked mandibles, three pairs of legs, the seam down its back."""
    wings = ellipsoid((0, -5.0, 0.3), (4.3, 7.4, 3.3), 72)
    core = ellipsoid((0, -5.0, 0.3), (3.75, 6.85, 2.75), 48)
    seam = Manifold.cube((0.42, 13.2, 8), True).translate((0, -6.2, 1)) - core
    wings = wings - seam
    shield = ellipsoid((0, 3.1, 0.3), (4.1, 2.3, 2.5), 56) + ellipsoid((0, 2.2, 0.3), (3.9, 1.9, 2.35), 48)
    plate = ellipsoid((0, 0.7, 2.2), (1.1, 1.3, 0.9), 28)
    head = ellipsoid((0, 6.2, 0.3), (3.6, 1.9, 1.9), 48)
    parts = [wings, shield, plate, head]
    jaw = curve([(1.7, 7.2, 0.9), (3.9, 9.3, 1.1), (4.5, 12.2, 1.2), (3.5, 14.6, 1.1), (1.5, 16.2, 0.9)], 6)
    fork = [(3.9, 14.1, 1.1), (3.0, 13.6, 1.0), (1.9, 13.7, 0.9)]
    tooth = [(4.4, 11.6, 1.1), (3.3, 11.3, 1.0), (2.6, 11.5, 0.9)]
    feeler = curve([(3.2, 6.6, 0.8), (5.4, 8.0, 0.8), (6.2, 10.2, 0.7), (6.7, 10.7, 0.7)], 4)
    legs = [
        curve([(3.0, 3.6, 0.7), (5.8, 4.6, 1.5), (7.6, 7.6, 0.6), (8.9, 8.9, 0.5)], 4),
        curve([(3.4, -0.2, 0.7), (6.4, -0.3, 1.5), (8.9, -3.4, 0.6), (10.3, -4.2, 0.5)], 4),
        curve([(3.4, -3.6, 0.7), (6.4, -5.2, 1.5), (7.7, -9.8, 0.6), (8.9, -11.4, 0.5)], 4),
    ]
    for bar, radii in [
        (jaw, (1.0, 1.0, 0.85, 0.7, 0.35)),
        (np.array(fork), (0.6, 0.35)),
        (np.array(tooth), (0.6, 0.35)),
        (feeler, (0.34, 0.34, 0.55)),
        *((leg, (0.8, 0.75, 0.6, 0.42)) for leg in legs),
    ]:
        parts += mirrored(tube(bar, radii, 14))
    parts += mirrored(ellipsoid((3.1, 6.5, 0.9), (0.75, 0.75, 0.75), 20))
    return joined(parts).trim_by_plane((0, 0, 1), 0)


def _blown(outline: np.ndarray, highest: float, over: float, points: np.ndarray) -> np.ndarray:
    """How far a silhouette swells: round from its edge, level from `over` mm inside."""
    away = np.clip(from_edge(points, outline) / over, 0, 1)
    return highest * np.sqrt(np.clip(1 - (1 - away) ** 2, 0, 1))


#: A knight's head in profile, looking left: x forward is negative. From the neck's foot in front, around.
KNIGHT = [
    (-6.6, 8.0), (-6.4, 10.5), (-5.0, 13.4), (-3.2, 16.0), (-2.6, 17.8), (-3.4, 18.9), (-5.6, 18.9), (-7.6, 18.2),
    (-9.5, 17.9), (-10.6, 19.6), (-10.9, 21.2), (-10.0, 22.6), (-8.6, 24.2), (-7.0, 26.4), (-5.4, 28.4), (-3.8, 29.8),
]  # fmt: skip
KNIGHT_BACK = [
    (0.4, 30.4), (2.8, 29.0), (5.0, 26.4), (6.6, 23.0), (7.4, 19.0), (7.4, 15.0), (6.9, 11.0), (6.4, 8.0),
]  # fmt: skip
EARS = [(-3.8, 29.8), (-3.9, 32.2), (-2.6, 34.9), (-1.2, 33.0), (-0.7, 31.2), (0.4, 30.4)]


def chess_knight() -> Manifold:
    """A turned foot, and a horse's head and neck with ears, eye, nostril and a combed mane."""
    front, back = curve(KNIGHT, 6)[::-1], curve(KNIGHT_BACK, 6)[::-1]
    outline = np.concatenate([back, np.array(EARS)[::-1][1:-1], front])
    if _turning(outline) < 0:
        outline = outline[::-1]
    crest = curve([(-1.4, 30.2), (1.4, 28.0), (3.6, 25.0), (4.9, 21.5), (5.2, 17.5), (4.9, 13.0), (4.6, 9.0)], 8)

    def side(points: np.ndarray) -> np.ndarray:
        x, z = points.T
        neck = np.clip((20 - z) / 12, 0, 1)
        swell = _blown(outline, 1.0, 3.6, points) * (3.1 + 1.9 * neck)
        cheek = 1.5 * np.exp(-(((x + 3.2) / 3.0) ** 2 + ((z - 23.2) / 3.2) ** 2))
        muzzle = 0.7 * np.exp(-(((x + 9.0) / 1.9) ** 2 + ((z - 20.6) / 1.7) ** 2))
        eye = np.hypot(x + 3.9, (z - 27.0) * 1.25)
        lid = 0.75 * np.exp(-(((eye - 1.15) / 0.35) ** 2)) - 0.35 * np.exp(-((eye / 0.8) ** 2))
        ball = 0.6 * np.sqrt(np.clip(1 - (eye / 0.75) ** 2, 0, 1))
        nostril = 0.7 * np.exp(-(((x + 9.7) / 0.55) ** 2 + ((z - 21.2) / 0.45) ** 2))
        mouth = 0.55 * np.exp(-((from_path(points, np.array([(-10.8, 19.4), (-7.4, 20.3)])) / 0.3) ** 2))
        aside = from_path(points, crest)
        is_mane = np.clip((x - np.interp(z, crest[::-1, 1], crest[::-1, 0]) + 0.9) / 0.5, 0, 1)
        locks = 0.55 * np.abs(np.sin((z - 0.75 * x) * 1.55)) * np.clip((z - 8.5) / 2, 0, 1)
        mane = is_mane * (0.35 + locks) - 0.7 * np.exp(-(((aside - 1.2) / 0.35) ** 2)) * (1 - is_mane)
        inside = np.clip(from_edge(points, outline) / 1.2, 0, 1)
        return 0.25 + swell + inside * (cheek + muzzle + lid + ball - nostril - mouth + mane)

    head = relief(outline, side, lambda points: -side(points), 0.5).rotate((90, 0, 0))
    foot = [(0, 0), (10.2, 0), (10.6, 0.5), (10.6, 2.2), (9.9, 2.9), (9.3, 3.2), (9.6, 3.9), (9.4, 4.8), (8.4, 5.6),
            (7.4, 6.6), (7.0, 7.6), (7.3, 8.3), (7.0, 9.1), (0, 9.4)]  # fmt: skip
    return joined([turned(np.array(foot), 72), head])


def _turning(outline: np.ndarray) -> float:
    (x, y), (next_x, next_y) = outline.T, np.roll(outline, -1, axis=0).T
    return float((x * next_y - next_x * y).sum())


def leaping_hare() -> Manifold:
    """A hare that sits and listens, flat behind: ears up, a round back, the long hind foot."""
    body = ellipsoid((1.2, 0, 0), (5.0, 4.6, 2.7), 56)
    haunch = ellipsoid((3.2, -1.4, 0.8), (3.5, 3.6, 2.7), 48)
    chest = ellipsoid((-2.2, 0.6, 0), (2.8, 3.9, 2.3), 44)
    neck = tube([(-2.4, 2.8, 0), (-3.4, 5.4, 0.1)], (2.2, 1.75), 32)
    head = tube([(-3.4, 6.1, 0.3), (-5.4, 5.4, 0.3), (-6.0, 5.1, 0.3)], (2.15, 1.5, 1.3), 36)
    ears = [
        tube(curve([(-2.9, 7.3, 0.5), (-1.7, 10.6, 0.7), (-0.9, 14.4, 0.5)], 5), (0.55, 1.05, 0.95, 0.3), 20),
        tube(curve([(-3.6, 7.5, 0.1), (-3.5, 10.9, 0.2), (-3.4, 14.9, 0.1)], 5), (0.55, 1.0, 0.9, 0.3), 20),
    ]
    hind = tube([(4.4, -4.4, 0.8), (-0.6, -5.0, 0.8)], (1.15, 0.85), 24)
    fore = [
        tube(curve([(-3.0, -0.6, 0.9), (-3.6, -3.2, 1.0), (-4.6, -5.2, 0.7)], 4), (1.2, 0.8, 0.75), 22),
        tube(curve([(-2.2, -1.0, 0.0), (-2.5, -3.4, 0.2), (-3.0, -5.3, 0.2)], 4), (1.1, 0.8, 0.7), 20),
    ]
    tail = ellipsoid((6.7, -2.4, 0.3), (1.4, 1.3, 1.2), 28)
    eye = ellipsoid((-4.3, 6.5, 1.95), (0.5, 0.5, 0.5), 18)
    parts = [body, haunch, chest, neck, head, *ears, hind, *fore, tail, eye]
    return joined(parts).trim_by_plane((0, 0, 1), -0.6)


def snail_stud() -> Manifold:
    """A snail, flat behind: the shell a tube that winds and grows, the foot, two horns."""
    turns = np.linspace(0, 2.6 * 2 * math.pi, 74)
    growth = np.exp(0.135 * (turns - turns[-1]))
    way = turns - turns[-1] - 0.42 * math.pi
    path = np.column_stack(
        [3.0 * growth * np.cos(way) + 0.6, 3.0 * growth * np.sin(way) + 2.6, 1.1 + 1.2 * (1 - growth)]
    )
    shell = tube(path, 1.72 * growth, 22)
    foot = tube(
        curve([(6.6, -1.6, 0.3), (3.0, -1.2, 0.5), (-1.5, -1.2, 0.6), (-4.6, -0.6, 0.6), (-5.6, 1.6, 0.6)], 6),
        (0.35, 1.0, 1.25, 1.25, 1.15, 1.05),
        20,
    )
    horns = [
        tube(curve([(-5.6, 2.0, 0.7), (-6.4, 3.6, 0.8), (-7.3, 4.9, 0.8)], 4), (0.5, 0.36), 14),
        tube(curve([(-5.2, 2.2, 0.7), (-5.2, 3.9, 0.8), (-5.4, 5.4, 0.8)], 4), (0.5, 0.36), 14),
        ellipsoid((-7.3, 4.9, 0.8), (0.55, 0.55, 0.55), 16),
        ellipsoid((-5.4, 5.4, 0.8), (0.55, 0.55, 0.55), 16),
    ]
    return joined([shell, foot, *horns]).trim_by_plane((0, 0, 1), 0)


def bail() -> Manifold:
    """A pendant's own bail: a loop that is broad in front and narrow behind, with a small eye below."""
    rings = []
    for turn in np.arange(72) * 2 * math.pi / 72:
        front = (0.5 - 0.5 * math.sin(turn)) ** 1.5
        wide, thick = 0.9 + 1.5 * front, 0.62
        around = np.arange(20) * 2 * math.pi / 20
        out = 3.0 + thick * np.cos(around)
        aside = wide * np.sign(np.sin(around)) * np.abs(np.sin(around)) ** 0.7
        rings.append(np.column_stack([out * math.cos(turn) * 0.72, out * math.sin(turn), aside]))
    loop = wound(rings[::-1], closed=True)
    stand = loop.rotate((90, 0, 90))
    return joined([stand, ring(3.4, 1.2).rotate((90, 0, 0)).translate((0, 0, -5.0))])
