"""PLY, text and binary, read by trimesh.

What trimesh would pass over in silence is looked at first: a text file whose lines are not as many as its header
says. MeshSource of the form: G. Turk, The PLY Polygon File Format (1994).
"""

from __future__ import annotations

import io
import re

import numpy as np

from pricing.meshes.faults import EXTRA, LONGEST_NUMBER, MeshSource, in_short, mebibytes
from pricing.meshes.soup import Soup, corners_of
from pricing.reading import bytes_in_words

#: Most bytes of a header: a few lines for each kind of thing in the file.
HEADER_BYTES = 2**16
HEADER_LINES = 2**12
COMMENT = re.compile(rb"^(?:comment|obj_info)\b.*\n", re.MULTILINE)
LONG_WORD = re.compile(rb"(?<!\S)\S{%d}" % (LONGEST_NUMBER + 1))
ELEMENT = re.compile(rb"^element[ \t]+(\S+)[ \t]+(\d+)", re.MULTILINE)


def read_ply(source: MeshSource) -> Soup:
    """The triangles of a PLY; polygons are cut into triangles. It carries no unit."""
    data = checked(source)
    try:
        import trimesh
    except ImportError:
        raise source.fault("a PLY is read by trimesh, which is not installed", EXTRA) from None
    try:
        mesh = trimesh.load_mesh(io.BytesIO(data), file_type="ply", process=False)
        vertices, faces = np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64)
    except Exception as error:  # whatever the library trips over in a damaged file is one fault to the maker
        raise source.fault(
            f"it is damaged, cut short, or mixes triangles with other polygons ({str(error) or type(error).__name__})",
            "Export it again, with triangles only.",
        ) from None
    return Soup(corners_of(source, vertices, faces))


def checked(source: MeshSource) -> bytes:
    """The file without the comments in its header, which are nothing to measure: one may name a picture to load.

    Refuses a header that is none, or that promises another number of text lines than there are, or more than fits.
    """
    data = source.data if b"\r" not in source.data[:HEADER_BYTES] else source.data.replace(b"\r\n", b"\n", HEADER_LINES)
    head, mark, body = data.partition(b"end_header\n")
    if not head.startswith(b"ply") or not mark or len(head) > HEADER_BYTES:
        raise source.fault("it is named .ply but has no PLY header, or was cut short within it")
    counts = {name: int(count[:18]) for name, count in ELEMENT.findall(head)}
    if not counts.get(b"vertex") or not counts.get(b"face"):
        raise source.fault("it holds no faces", "Export it as a mesh of triangles, not as points.")
    promised = sum(counts.values())
    if b"format ascii" in head:
        if len(data) > source.limits.text_bytes:
            raise source.fault(f"a text PLY of {mebibytes(len(data))} is not read", "Export it as a binary PLY.")
        if (lines := body.count(b"\n")) > source.limits.lines:
            raise source.fault(f"it has {lines:,} lines; more than {source.limits.lines:,} are not read")
        lines = 0
        for line in io.BytesIO(body):
            lines += not line.isspace()
            if len(line) > source.limits.line_bytes:
                raise source.fault(f"a line of it has more than {bytes_in_words(source.limits.line_bytes)}")
        if found := LONG_WORD.search(body):
            raise source.fault(f'"{in_short(found[0])}" is not a number', "Export it again.")
        if lines != promised:
            raise source.fault(
                f"its header promises {promised:,} lines of vertices and faces, but {lines:,} follow",
                "It was cut short or damaged. Export it again.",
            )
    elif promised > len(body):
        raise source.fault(
            f"its header promises {promised:,} vertices and faces, and only {len(body):,} bytes follow",
            "It was cut short or damaged. Export it again.",
        )
    return COMMENT.sub(b"", head) + mark + body
