"""A shaded picture of a mesh: Embree follows the rays, numpy weighs the light.

One soft lamp from the upper left, and the sky from all sides as far as the piece does not hide it from itself. The
same mesh gives the same picture.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np

from pricing.extras import missing
from pricing.meshes.faults import MeshLimits, open_source
from pricing.meshes.measuring import READERS
from pricing.meshes.welding import weld

#: Rays across one pixel, each way: smooth edges.
RAYS_PER_PIXEL = 2
#: Edges sharper than this stay edges, in degrees.
CREASE_DEGREES = 35
#: Directions in which the sky is looked for.
SKY_RAYS = 32
EYE_DISTANCE = 9.0  # in half widths of the piece: hardly any perspective
FRAME = 1.08  # half width of the picture in half widths of the piece
ABOVE_SURFACE = 2e-3  # where rays begin, so that a surface does not shade itself
METAL = (0.96, 0.945, 0.92)  # silver, in linear light
LAMP = np.array([-0.55, 0.75, 0.75]) / np.linalg.norm([-0.55, 0.75, 0.75])
LAMP.flags.writeable = False


def shaded(path: Path, edge: int, metal: tuple[float, float, float] = METAL) -> np.ndarray:
    """The picture of a mesh file, seen from the front and above: (edge, edge, 4) bytes of sRGB and cover.

    `metal` is its colour: red, green and blue in linear light. Raises as `light_on` does.
    """
    return coloured(light_on(path, edge), metal)


def coloured(light: np.ndarray, metal: tuple[float, float, float] = METAL) -> np.ndarray:
    """The picture, (edge, edge, 4) bytes of sRGB and cover, of the light on a piece of metal of this colour."""
    seen = np.isfinite(light)
    picture = np.zeros((*light.shape, 4))
    picture[seen, :3] = np.clip(light[seen][:, None] * np.array(metal), 0, 1) ** (1 / 1.15)
    picture[seen, 3] = 1
    edge = len(light) // RAYS_PER_PIXEL
    tiles = picture.reshape(edge, RAYS_PER_PIXEL, edge, RAYS_PER_PIXEL, 4).mean(axis=(1, 3))
    tiles[..., :3] /= np.maximum(tiles[..., 3:], 1 / RAYS_PER_PIXEL**2)  # of what is covered, not of what lies behind
    return (tiles * 255 + 0.5).astype(np.uint8)


def light_on(path: Path, edge: int) -> np.ndarray:
    """The light that comes from a mesh file: a square of rays, RAYS_PER_PIXEL each way for each of `edge` pixels, NaN
    where nothing is. It is the same in every metal.

    Flat pieces are looked at from higher up. Raises MeshFault where the mesh cannot be read, TroytagError where what
    draws is not installed.
    """
    try:
        from embreex.mesh_construction import TriangleMesh
        from embreex.rtcore_scene import EmbreeScene
        from trimesh import Trimesh
        from trimesh.graph import smooth_shade
    except ImportError as absent:
        raise missing("The picture of a mesh", absent.name or "embreex", "lists") from None
    source = open_source(path, path.name, MeshLimits())
    surface = weld(np.asarray(READERS[path.suffix.lower()](source).triangles, dtype=float))
    mesh = smooth_shade(
        Trimesh(surface.vertices, surface.faces, process=False), np.radians(CREASE_DEGREES), facet_minarea=None
    )
    axes = _eye_axes(mesh.extents)
    corners = mesh.vertices @ axes.T
    middle = (corners.max(axis=0) + corners.min(axis=0)) / 2
    corners = (corners - middle) / np.ptp(corners[:, :2], axis=0).max() * 2
    scene = EmbreeScene()
    TriangleMesh(scene, corners[mesh.faces].astype(np.float32))
    return _lit(scene, corners, mesh.vertex_normals @ axes.T, mesh.faces, edge * RAYS_PER_PIXEL)


def _eye_axes(extents: np.ndarray) -> np.ndarray:
    """Right, up and towards the eye, as rows."""
    is_flat = extents[2] < 0.35 * min(extents[:2])
    height, turn = np.radians(58 if is_flat else 24), np.radians(-62)
    towards = np.array([np.cos(height) * np.cos(turn), np.cos(height) * np.sin(turn), np.sin(height)])
    right = np.cross([0.0, 0.0, 1.0], towards)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(towards, right), towards])


def _lit(scene: Any, corners: np.ndarray, normals: np.ndarray, faces: np.ndarray, across: int) -> np.ndarray:
    places = ((np.arange(across) + 0.5) / across * 2 - 1) * FRAME
    eye = np.array([0.0, 0.0, EYE_DISTANCE])
    looks = np.stack([*(grid.ravel() for grid in np.meshgrid(places, -places)), np.zeros(across**2)], axis=1) - eye
    looks /= np.linalg.norm(looks, axis=1, keepdims=True)
    hit = scene.run(np.tile(eye, (len(looks), 1)).astype(np.float32), looks.astype(np.float32), output=True)
    seen = hit["primID"] >= 0
    looks, face = looks[seen], faces[hit["primID"][seen]]
    second, third = hit["u"][seen][:, None], hit["v"][seen][:, None]
    normal = normals[face[:, 0]] * (1 - second - third) + normals[face[:, 1]] * second + normals[face[:, 2]] * third
    normal = _facing(normal, looks)
    flat = np.cross(corners[face[:, 1]] - corners[face[:, 0]], corners[face[:, 2]] - corners[face[:, 0]])
    start = eye + looks * hit["tfar"][seen][:, None] + _facing(flat, looks) * ABOVE_SURFACE
    lamp = np.clip(normal @ LAMP, 0, None) * _is_free(scene, start, LAMP, normal)
    glint = np.clip((normal * _units(LAMP - looks)).sum(axis=1), 0, None) ** 28 * (lamp > 0)
    light = np.full(len(seen), np.nan)
    light[seen] = 0.50 * _sky(scene, start, normal) + 0.48 * lamp + 0.16 * glint
    return light.reshape(across, across)


def _sky(scene: Any, start: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """How much of a sky that is brighter above each point sees, 0 to 1."""
    number = np.arange(SKY_RAYS) + 0.5
    # Evenly over the sphere: a Fibonacci lattice (González, Mathematical Geosciences 42, 2010).
    rise, turn = 1 - 2 * number / SKY_RAYS, number * np.pi * (1 + 5**0.5)
    level = np.sqrt(1 - rise * rise)
    found, most = np.zeros(len(start)), np.full(len(start), 1e-9)
    for way in np.stack([level * np.cos(turn), rise, level * np.sin(turn)], axis=1):
        weight = np.clip(normal @ way, 0, None)
        found += weight * _is_free(scene, start, way, normal) * (0.65 + 0.35 * way[1])
        most += weight
    return found / most


def _is_free(scene: Any, start: np.ndarray, way: np.ndarray, normal: np.ndarray) -> np.ndarray:
    """Whether nothing stands in this way; looked at only where the surface is turned towards it."""
    free = normal @ way > 0
    ways = np.tile(way, (int(free.sum()), 1)).astype(np.float32)
    free[free] = scene.run(start[free].astype(np.float32), ways, query="OCCLUDED") < 0
    return free


def _facing(vectors: np.ndarray, looks: np.ndarray) -> np.ndarray:
    """Unit vectors, turned towards the eye."""
    turned = np.where((vectors * looks).sum(axis=1, keepdims=True) > 0, -vectors, vectors)
    return _units(turned)


def _units(vectors: np.ndarray) -> np.ndarray:
    return vectors / np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-12)
