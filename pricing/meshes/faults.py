"""What can be wrong with a mesh file, and how much of one is read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from pricing.errors import Fault, Faults, Place
from pricing.reading import NotRead, bytes_in_words, read_file

EXTRA = 'Install it with: pip install "troytag[meshes]"'
EXPORT_AGAIN = "Export it again from the modelling program."
STATE_VOLUME = "or state volume_cm3 in place of the mesh"


class MeshFault(Faults):
    """A mesh file that cannot be read, or whose volume cannot be priced. Each fault says place, problem and mend."""

    def __init__(self, file: str, *problems_and_mends: tuple[str, str]):
        super().__init__(Fault(Place(file), "mesh", problem, mend) for problem, mend in problems_and_mends)


@dataclass(frozen=True, slots=True)
class MeshLimits:
    """How much of a mesh file is read before it is refused.

    `file_bytes` of a binary file, `text_bytes` of a text file, `unpacked_bytes` that really come out of a 3MF's
    zip, `triangles` that are read from text or looked at closely (about 600 bytes of memory each), `uses` of objects
    that a 3MF puts in place, `nesting` of elements and objects in each other, `line_bytes` of one line of a text,
    `lines` of a text, `corners` of one face, `dented` faces that must be cut with care, and `extent` in mm. The
    defaults are far above a printable piece.
    """

    file_bytes: int = 512 * 2**20
    text_bytes: int = 128 * 2**20
    unpacked_bytes: int = 256 * 2**20
    triangles: int = 2_000_000
    uses: int = 20_000
    nesting: int = 64
    line_bytes: int = 2**18
    lines: int = 6_000_000
    corners: int = 10_000
    dented: int = 20_000
    extent: float = 1e7


#: A number of a text file has no more signs than this; one that has is none.
LONGEST_NUMBER = 100
#: So much of a word of a file is shown.
SHOWN = 24


def in_short(word: bytes, most: int = SHOWN) -> str:
    """A word of a file as a sentence may show it."""
    return word[:most].decode("utf-8", "replace") + "…" * (len(word) > most)


@dataclass(frozen=True, slots=True)
class MeshSource:
    """A mesh file's bytes and the name it is told by."""

    file: str
    data: bytes
    limits: MeshLimits

    def fault(self, problem: str, mend: str = EXPORT_AGAIN) -> MeshFault:
        """The error that says what is wrong with this file; `problem` is a sentence without a full stop."""
        return MeshFault(self.file, (problem, mend))


def mebibytes(count: int) -> str:
    """`734 MiB`, for people."""
    return f"{count / 2**20:,.0f} MiB"


def open_source(path: Path, file: str, limits: MeshLimits) -> MeshSource:
    """The file's bytes, read once.

    It is read and not mapped into memory: a file that another program shortens while it is mapped would kill the
    process. Errors: `MeshFault` where there is no such file, it cannot be read, is empty or larger than the limit.
    """
    source = MeshSource(file, b"", limits)
    try:
        data = read_file(path, limits.file_bytes)
    except NotRead as wrong:
        if wrong.reason == "folder":
            raise source.fault("this is a folder, not a mesh file", "Name the file inside it.") from None
        if wrong.reason == "too large":
            raise source.fault(
                f"the file has more than {bytes_in_words(limits.file_bytes)}, which is not read",
                "Export it with fewer triangles (a chord tolerance of 0.01 mm is plenty for casting).",
            ) from None
        raise source.fault(wrong.problem, wrong.mend) from None
    if not data:
        raise source.fault("the file is empty")
    return MeshSource(file, data, limits)
