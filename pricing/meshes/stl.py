"""STL, binary and in text.

Sources: the binary layout (80 bytes, a count, 50 bytes a triangle: normal, three corners, two spare bytes) and the
text form are those of the StereoLithography interface specification (3D Systems, 1989).
"""

from __future__ import annotations

import re
from itertools import chain, islice

import numpy as np

from pricing.meshes.faults import EXPORT_AGAIN, LONGEST_NUMBER, MeshFault, MeshSource, in_short, mebibytes
from pricing.meshes.soup import Soup

HEADER_BYTES = 84
RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("spare", "<u2")])
#: So many vertices of a text are turned into numbers at a time.
BLOCK_VERTICES = 2**16
VERTEX = re.compile(rb"\bvertex[ \t]+(\S+)[ \t]+(\S+)[ \t]+(\S+)")


def read_stl(source: MeshSource) -> Soup:
    """The triangles of a binary or text STL. It carries no unit.

    Many binary files begin with the word `solid`, so the count and the size decide, not the first word.
    """
    data = source.data
    stated = int.from_bytes(data[80:HEADER_BYTES], "little") if len(data) >= HEADER_BYTES else 0
    if len(data) == HEADER_BYTES + RECORD.itemsize * stated and stated:
        return Soup(np.frombuffer(data, RECORD, stated, HEADER_BYTES)["corners"])
    start = data[:2048].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith(b"solid") and b"\x00" not in start:
        return Soup(text_triangles(source))
    raise binary_fault(source, stated)


def binary_fault(source: MeshSource, stated: int) -> MeshFault:
    """Why this is no whole binary STL, as an error."""
    data = source.data
    for magic, name in ((b"PK", "3mf"), (b"ply", "ply"), (b"v ", "obj"), (b"#", "obj"), (b"<", "xml")):
        if data.startswith(magic):
            return source.fault(f"it is named .stl but looks like {name}", "Give it the name's ending that it is.")
    held, spare = divmod(max(0, len(data) - HEADER_BYTES), RECORD.itemsize)
    if len(data) < HEADER_BYTES:
        return source.fault(f"it is too short to be an STL ({len(data)} bytes)")
    if not stated and not held:
        return source.fault("it holds no triangles")
    half = " and a half" if spare else ""
    return source.fault(
        f"it says that it holds {stated:,} triangles but holds {held:,}{half}",
        f"It was cut short or damaged. {EXPORT_AGAIN}",
    )


def text_triangles(source: MeshSource) -> np.ndarray:
    """Corners (count, 3, 3) of a text STL; every solid in it counts."""
    if len(source.data) > source.limits.text_bytes:
        problem = f"a text STL of {mebibytes(len(source.data))} is not read"
        raise source.fault(problem, "Export it as a binary STL, which is five times smaller.")
    text = source.data.lower()
    facets = sum(1 for _ in re.finditer(rb"^[ \t]*facet\b", text, re.MULTILINE))
    ends = sum(1 for _ in re.finditer(rb"^[ \t]*endfacet\b", text, re.MULTILINE))
    if not facets:
        raise source.fault("it holds no triangles")
    if facets > source.limits.triangles:
        raise source.fault(f"it holds {facets:,} triangles; more than {source.limits.triangles:,} are not read")
    pieces, found = [], VERTEX.finditer(text)
    try:
        while block := [each.groups() for each in islice(found, BLOCK_VERTICES)]:
            if max(map(len, chain.from_iterable(block))) > LONGEST_NUMBER:
                raise ValueError
            pieces.append(np.array(block, dtype=bytes).astype(float))
    except ValueError:
        raise not_a_number(source, text) from None
    vertices = sum(map(len, pieces))
    if ends != facets or vertices != 3 * facets or b"endsolid" not in text[text.rfind(b"endfacet") :]:
        raise source.fault(
            f"it ends in the middle or is damaged: {facets:,} facets are begun, {ends:,} ended, "
            f"with {vertices:,} vertices"
        )
    return np.concatenate(pieces).reshape(-1, 3, 3)


def not_a_number(source: MeshSource, text: bytes) -> MeshFault:
    """The error for the first corner whose coordinate is no number, with its line."""
    match, word = next(
        (found, word) for found in VERTEX.finditer(text) for word in found.groups() if not is_number(word)
    )
    line = text.count(b"\n", 0, match.start()) + 1
    return source.fault(
        f'line {line}: "{in_short(word)}" is not a number', "Export it again, with a point for decimals."
    )


def is_number(word: bytes) -> bool:
    try:
        float(word[: LONGEST_NUMBER + 1])
    except ValueError:
        return False
    return len(word) <= LONGEST_NUMBER
