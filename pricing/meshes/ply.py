"""PLY, text and binary, read by trimesh.

What trimesh would pass over in silence is looked at first: a text file whose lines are not as many as its header
says. MeshSource of the form: G. Turk, The PLY Polygon File Format (1994).
"""

from __future__ import annotations

import io
import re

import numpy as np

from pricing.meshes.faults import EXTRA, MeshSource, mebibytes
from pricing.meshes.soup import Soup, corners_of

ELEMENT = re.compile(rb"^element[ \t]+(\S+)[ \t]+(\d+)", re.MULTILINE)


def read_ply(source: MeshSource) -> Soup:
    """The triangles of a PLY; polygons are cut into triangles. It carries no unit."""
    check_counts(source)
    try:
        import trimesh
    except ImportError:
        raise source.fault("a PLY is read by trimesh, which is not installed", EXTRA) from None
    try:
        mesh = trimesh.load_mesh(io.BytesIO(source.data), file_type="ply", process=False)
        vertices, faces = np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64)
    except Exception as error:  # whatever the library trips over in a damaged file is one fault to the maker
        raise source.fault(
            f"it is damaged, cut short, or mixes triangles with other polygons ({str(error) or type(error).__name__})",
            "Export it again, with triangles only.",
        ) from None
    return Soup(corners_of(source, vertices, faces))


def check_counts(source: MeshSource) -> None:
    """Refuse a header that is none, or that promises another number of text lines than there are."""
    head, mark, body = source.data.replace(b"\r\n", b"\n").partition(b"end_header\n")
    if not head.startswith(b"ply") or not mark:
        raise source.fault("it is named .ply but has no PLY header, or was cut short within it")
    counts = {name: int(count) for name, count in ELEMENT.findall(head)}
    if not counts.get(b"vertex") or not counts.get(b"face"):
        raise source.fault("it holds no faces", "Export it as a mesh of triangles, not as points.")
    if b"format ascii" not in head:
        return
    if len(source.data) > source.limits.text_bytes:
        raise source.fault(f"a text PLY of {mebibytes(len(source.data))} is not read", "Export it as a binary PLY.")
    lines = sum(1 for line in body.split(b"\n") if line.strip())
    if lines != sum(counts.values()):
        raise source.fault(
            f"its header promises {sum(counts.values()):,} lines of vertices and faces, but {lines:,} follow",
            "It was cut short or damaged. Export it again.",
        )
