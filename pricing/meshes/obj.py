"""OBJ: vertices and faces of a Wavefront text file.

Read here because the library at hand resolves indices that count backwards from the end of the file and not
from the face's own line, takes index 0 for the last vertex, and does not read tabs or trailing comments. Source of the
form: Appendix B1 of the Wavefront Advanced Visualizer manual (vertices from 1, negative ones count back).
"""

from __future__ import annotations

import io
from array import array

import numpy as np

from pricing.meshes.faults import EXTRA, LONGEST_NUMBER, MeshSource, in_short, mebibytes
from pricing.meshes.soup import Soup, TooManyDented, corners_of, triangulated
from pricing.reading import bytes_in_words

TRIANGLES = "Export it again, with triangles only."


def read_obj(source: MeshSource) -> Soup:
    """The faces of every object and group in the file, cut into triangles. It carries no unit."""
    if len(source.data) > source.limits.text_bytes:
        raise source.fault(f"an OBJ of {mebibytes(len(source.data))} is not read", "Export it as a binary STL.")
    if b"\x00" in source.data[:4096]:
        raise source.fault("it is named .obj but is not text")
    coordinates = array("d")
    polygons: dict[int, array[int]] = {}
    text = source.data.replace(b"\r\n", b"\n").replace(b"\r", b"\n").replace(b"\\\n", b" ")
    if (lines := text.count(b"\n")) > source.limits.lines:
        raise source.fault(f"it has {lines:,} lines; more than {source.limits.lines:,} are not read")
    for number, line in enumerate(io.BytesIO(text), start=1):
        if len(line) > source.limits.line_bytes:
            raise source.fault(f"line {number} has more than {bytes_in_words(source.limits.line_bytes)}")
        words = line.partition(b"#")[0].split()
        if not words:
            continue
        if words[0] == b"v":
            coordinates.extend(position(source, number, words[1:4]))
        elif words[0] == b"f":
            count = len(coordinates) // 3
            corners = [corner(source, number, word, count) for word in words[1:]]
            if len(corners) < 3:
                raise source.fault(f"line {number}: a face needs at least three corners")
            if len(corners) > source.limits.corners:
                most = f"more than {source.limits.corners:,} are not read"
                raise source.fault(f"line {number}: a face has {len(corners):,} corners; {most}", TRIANGLES)
            polygons.setdefault(len(corners), array("q")).extend(corners)
    vertices = np.frombuffer(coordinates, float).reshape(-1, 3) if coordinates else np.empty((0, 3))
    groups = [np.frombuffer(flat, np.int64).reshape(-1, size) for size, flat in polygons.items()]
    highest = max((int(group.max()) for group in groups), default=-1)
    if highest >= len(vertices):
        raise source.fault(f"a face uses vertex {highest + 1:,}, but the file holds {len(vertices):,}")
    try:
        faces = triangulated(vertices, groups, source.limits.dented)
    except TooManyDented as found:
        raise source.fault(f"{found} of its faces are dented, too many to be cut", TRIANGLES) from None
    except ImportError:
        raise source.fault("it has dented faces, which manifold3d cuts and which is not installed", EXTRA) from None
    return Soup(corners_of(source, vertices, faces))


def position(source: MeshSource, number: int, words: list[bytes]) -> list[float]:
    """x, y and z of a vertex on line `number`."""
    try:
        place = [float(word) for word in words if len(word) <= LONGEST_NUMBER]
    except ValueError:
        place = []
    if len(place) != 3:
        shown = " ".join(map(in_short, words))
        raise source.fault(f'line {number}: a vertex needs three numbers, not "{shown}"')
    return place


def corner(source: MeshSource, number: int, word: bytes, count: int) -> int:
    """Index from 0 of a face's corner on line `number`, where `count` vertices stand above it."""
    try:
        index = int(word.partition(b"/")[0])
    except ValueError:
        index = 0
    if index == 0 or index < -count or index > len(source.data):  # each vertex takes a line of the file
        raise source.fault(f'line {number}: "{in_short(word)}" names no vertex of the file')
    return index - 1 if index > 0 else count + index
