"""Pieces that are turned, and what is cut into them or set on them."""

from __future__ import annotations

import math

import numpy as np
from manifold3d import CrossSection, Manifold

from tests.meshes.sample.tools import curve, joined, ring, tube, turned, wound


def _acorn(cup_sides: int, rows: int, scales: int) -> list[Manifold]:
    """An acorn 20 mm tall, cup below: the cup's scales stand in crossed rows, the nut has a point."""
    cup_at = np.linspace(0, 1, rows)
    cup = np.column_stack([2.6 + 5.6 * np.sin(math.pi * np.minimum(cup_at * 0.62, 0.5)), 6.8 * cup_at])
    cup[:, 0] -= 0.9 * np.clip(cup_at - 0.86, 0, 1) / 0.14

    def scaly(angles: np.ndarray, height: float) -> np.ndarray:
        twist = height * 0.55 * 2 * math.pi / (scales * 0.62)
        one = np.abs(np.sin(scales / 2 * (angles + twist)))
        other = np.abs(np.sin(scales / 2 * (angles - twist)))
        fade = min(1.0, 6 * (6.8 - height) / 6.8, 1.5 * height / 6.8 + 0.2)
        return 0.85 * fade * (np.sqrt(one * other) - 0.35)

    closed_cup = np.concatenate([[(0, 0)], cup, [(0, 6.8)]])
    nut_at = np.linspace(0, 1, 22)
    nut = np.column_stack([6.6 * np.sqrt(1 - (0.985 * nut_at) ** 2.5), 6.2 + 12.2 * nut_at])
    tip = [(0.75, 18.9), (0.62, 19.6), (0.0, 20.1)]
    return [turned(closed_cup, cup_sides, scaly), turned(np.concatenate([[(0, 6.2)], nut, tip]), 64)]


def acorn_knob() -> Manifold:
    """A drawer knob: a foot, a stalk that grows into the cup, and the nut."""
    stalk = [
        (0, 0),
        (6.4, 0),
        (6.8, 0.5),
        (6.8, 1.3),
        (6.2, 1.8),
        (4.2, 2.5),
        (3.3, 4.2),
        (3.1, 6.2),
        (3.6, 8.2),
        (0, 9),
    ]
    return joined([turned(np.array(stalk), 64), *(part.translate((0, 0, 7.4)) for part in _acorn(192, 30, 24))])


def acorn_charm() -> Manifold:
    """A charm: an acorn that hangs from its cup, with a stalk and an eye above."""
    acorn = joined(_acorn(132, 24, 18)).rotate((180, 0, 0))
    stalk = tube(curve([(0, 0, -0.5), (0.3, 0, 1.6), (0, 0, 3.4)], 4), (1.3, 1.0), 16)
    return joined([acorn, stalk, ring(5.4, 1.8).rotate((90, 0, 0)).translate((0, 0, 6.4))])


def bramble_thimble() -> Manifold:
    """A thimble with a rolled rim: a band of bramble berries and leaves below, rows of dimples above."""
    outside = curve(
        [(8.75, 0), (9.2, 0.45), (9.25, 0.95), (8.75, 1.4), (8.62, 2.2), (8.35, 6.4), (7.95, 11), (7.35, 15.0),
         (6.5, 16.9), (4.6, 17.9), (2.2, 18.3)], 7,
    )  # fmt: skip
    inside = curve(
        [(2.0, 17.45), (4.3, 17.05), (5.9, 16.2), (6.7, 14.7), (7.25, 10.8), (7.65, 6.2), (8.0, 1.5), (8.05, 0)], 5
    )
    sides, berries, across = 192, 6, 8.5
    pitch = 2 * math.pi / berries
    drupelets = [(0.0, 2.35), (-0.62, 2.9), (0.62, 2.9), (0.0, 3.35), (-1.15, 3.55), (1.15, 3.55), (-0.6, 4.0),
                 (0.6, 4.0), (0.0, 4.55), (-1.1, 4.55), (1.1, 4.55), (-0.55, 5.1), (0.55, 5.1)]  # fmt: skip

    def swell(angles: np.ndarray, height: float) -> np.ndarray:
        out = np.zeros(len(angles))
        if 1.6 < height < 6.1:
            aside = (np.mod(angles + pitch / 2, pitch) - pitch / 2) * across
            for at, up in drupelets:
                square = (aside - at) ** 2 + (height - up) ** 2
                out = np.maximum(out, 0.62 * np.sqrt(np.clip(1 - square / 0.5**2, 0, 1)))
            aside = (np.mod(angles, pitch) - pitch / 2) * across
            wide = 1.45 * math.sin(math.pi * np.clip((height - 1.7) / 4.2, 0, 1)) ** 0.7 + 1e-9
            leaf = np.clip(1 - np.abs(aside) / wide, 0, 1)
            out = np.maximum(out, 0.42 * np.sin(leaf * math.pi * 0.62))
        if 6.9 < height < 17.0:
            row = round((height - 7.7) / 1.42)
            middle = 7.7 + 1.42 * row
            count = 27
            aside = (
                (np.mod(angles * count / (2 * math.pi) + 0.5 * (row % 2), 1) - 0.5)
                * 2
                * math.pi
                / count
                * (8.4 - 0.1 * row)
            )
            out = out - 0.4 * np.clip(1 - (aside**2 + (height - middle) ** 2) / 0.68**2, 0, 1)
        return out

    rings = []
    angles = np.arange(sides) * 2 * math.pi / sides
    along = np.concatenate([[0], np.cumsum(np.linalg.norm(np.diff(outside, axis=0), axis=1))])
    places = np.linspace(0, along[-1], 92)
    for rho, height in zip(*(np.interp(places, along, outside[:, part]) for part in (0, 1)), strict=True):
        out = rho + swell(angles, height)
        rings.append(np.column_stack([out * np.cos(angles), out * np.sin(angles), np.full(sides, height)]))
    rings.append(np.array([(0, 0, 18.4)]))
    wall = wound([np.array([(0, 0, 0.0)]), *rings])
    hollow = turned(np.concatenate([[(0, -1), (8.05, -1)], inside[::-1], [(0, 17.5)]]), 72)
    return wall - hollow


def bluebell_snuffer() -> Manifold:
    """A bluebell, open below: six lobes that curl outwards, a calyx, and an eye to hang it by."""
    sides, lobes = 192, 6
    angles = np.arange(sides) * 2 * math.pi / sides
    lobed = 0.5 + 0.5 * np.cos(lobes * angles)
    along = np.linspace(0, 1, 46)

    def skin(inwards: float, top: float) -> list[np.ndarray]:
        rings = []
        for share in along:
            bell = np.interp(share, [0, 0.08, 0.2, 0.45, 0.7, 1], [2.4, 6.0, 8.0, 9.1, 9.5, 10.0])
            curl = max(0.0, (share - 0.62) / 0.38)
            out = bell + 0.55 * (lobed - 0.5) * min(1, share * 3) + (6.2 * lobed - 0.3) * curl**2.6
            down = top - share * (top - 6.5) - (6.5 * lobed**0.7) * curl + 3.6 * lobed**2 * curl**5
            thick = inwards * (1 - 0.25 * curl)
            seam = 0.3 * np.exp(-(((np.mod(lobes * angles / (2 * math.pi), 1) - 0.5) / 0.07) ** 2)) * min(1, share * 2)
            rho = out - thick - seam * (inwards == 0)
            rings.append(np.column_stack([rho * np.cos(angles), rho * np.sin(angles), down]))
        return rings

    outer, inner = skin(0.0, 30.0), skin(1.15, 28.8)
    bell = wound([np.array([(0, 0, 28.8)]), *inner, *outer[::-1], np.array([(0, 0, 30.0)])])
    calyx = turned(
        np.array([(0, 27.5), (3.0, 28.2), (3.6, 29.4), (3.2, 30.8), (1.9, 31.8), (1.5, 33.5), (0, 33.9)]), 48
    )
    eye = ring(4.6, 1.9).rotate((90, 0, 0)).translate((0, 0, 35.4))
    return joined([bell, calyx, eye])


def _band(inner: float, half_width: np.ndarray, thick: np.ndarray, corners: int) -> Manifold:
    """A finger ring around the y axis: at each angle a section of its own width and thickness, flat inside."""
    rings = []
    count = len(half_width)
    for number in range(count):
        turn = 2 * math.pi * number / count
        around = np.linspace(0, math.pi, corners)
        aside = np.concatenate([half_width[number] * np.cos(around), [-half_width[number], half_width[number]]])
        low = 0.35 * thick[number]
        out = np.concatenate([inner + low + (thick[number] - low) * np.sin(around) ** 0.8, [inner, inner]])
        rings.append(np.column_stack([out * math.cos(turn), aside, out * math.sin(turn)]))
    return wound(rings[::-1], closed=True)


def signet_ring(inside_mm: float = 60.0) -> Manifold:
    """A signet ring with an oval table, drawn for an inner circumference in mm."""
    inner = inside_mm / (2 * math.pi)
    turns = np.arange(120) * 2 * math.pi / 120
    top = (0.5 + 0.5 * np.cos(turns - math.pi / 2)) ** 3.2
    band = _band(inner, 2.1 + 4.2 * top, 1.6 + 1.7 * top, 15)
    table = turned(np.array([(0, 0), (5.4, 0), (6.3, 1.2), (6.5, 2.2), (6.2, 2.6), (0, 2.6)]), 72).scale(
        (0.86, 1.05, 1)
    )
    face = table.translate((0, 0, inner + 0.7))
    whole = joined([band, face])
    finger = Manifold.cylinder(60, inner, inner, 160, True).rotate((90, 0, 0))
    return whole - finger


def wedding_band_section() -> np.ndarray:
    """A court band's section, 4 mm wide and 1.8 mm thick: (rho, z) corners around an inner circumference of 55 mm."""
    inner = 55.0 / (2 * math.pi)
    around = np.linspace(0, math.pi, 15)
    out = np.column_stack([inner + 0.9 + 0.9 * np.sin(around), -2.0 * np.cos(around)])
    back = np.column_stack([inner + 0.25 - 0.25 * np.sin(around), 2.0 * np.cos(around)])
    return np.concatenate([out, back])


def wedding_band() -> Manifold:
    """The section carried around: a solid of revolution of 120 sides, lying flat."""
    return Manifold.revolve(CrossSection([wedding_band_section()]), 120)


def knocker_ring() -> Manifold:
    """What strikes: a heavy twisted ring that hangs from a bar, an acorn at its foot."""
    count, corners = 144, 28
    rings = []
    for number in range(count):
        turn = 2 * math.pi * number / count
        around = np.arange(corners) * 2 * math.pi / corners
        thick = 6.2 * (1 + 0.13 * np.cos(4 * (around + turn * 5)))
        out = 46 + thick * np.cos(around)
        rings.append(np.column_stack([out * math.cos(turn), thick * np.sin(around), out * math.sin(turn)]))
    loop = wound(rings, closed=True)
    acorn = joined(_acorn(120, 22, 18)).rotate((180, 0, 0)).scale((1.75, 1.75, 1.75)).translate((0, 0, -34))
    bar = Manifold.cylinder(26, 5.4, 5.4, 48, True).rotate((0, 90, 0)).translate((0, 0, 46))
    boss = Manifold.cylinder(22, 9.0, 9.0, 64, True).rotate((0, 90, 0)).translate((0, 0, 46))
    return joined([loop, acorn, bar, boss])
