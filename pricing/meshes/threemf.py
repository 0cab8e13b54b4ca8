"""3MF: a zip of XML parts, with a unit of its own.

Read here because the library at hand neither applies the unit nor counts what the zip unpacks to, and needs two more
libraries for it. MeshSource of the form: 3D Manufacturing Format, Core Specification 1.3 and Production Extension 1.1.
"""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from types import MappingProxyType

import numpy as np

from pricing.meshes.faults import EXPORT_AGAIN, MeshSource, mebibytes
from pricing.meshes.soup import Soup, corners_of
from pricing.meshes.threemf_part import ModelObject, ObjectUse, Part, PartReader, RelationReader

ROOT_RELATIONS = "_rels/.rels"
BLOCK_BYTES = 2**18
#: 3MF's words for the units that have a short name here.
SHORT = MappingProxyType({"millimeter": "mm", "centimeter": "cm", "meter": "m", "inch": "in"})


class Package:
    """The zip. What comes out of it is counted as it comes, since the sizes that a zip states may lie."""

    def __init__(self, source: MeshSource):
        self.source = source
        self.unpacked = 0
        self.parts: dict[str, Part] = {}
        try:
            self.zip = zipfile.ZipFile(io.BytesIO(source.data))
            self.names = {name.lower().lstrip("/"): name for name in self.zip.namelist()}
        except (zipfile.BadZipFile, ValueError, NotImplementedError, UnicodeDecodeError) as error:
            raise source.fault(f"it is not a whole 3MF ({error})") from None

    def blocks(self, name: str) -> Iterator[bytes]:
        """The unpacked bytes of a member, a block at a time."""
        try:
            with self.zip.open(self.names[name]) as member:
                while block := member.read(BLOCK_BYTES):
                    self.unpacked += len(block)
                    if self.unpacked > self.source.limits.unpacked_bytes:
                        most = mebibytes(self.source.limits.unpacked_bytes)
                        raise self.source.fault(
                            f"it unpacks to more than {most}, which is more than a printable piece needs",
                            "Export it with fewer triangles.",
                        )
                    yield block
        except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, NotImplementedError) as error:
            raise self.source.fault(f"{name} in it is damaged or locked ({error})") from None

    def main(self) -> str:
        """The name of the part that is to be built."""
        if ROOT_RELATIONS in self.names:
            relations = RelationReader(self.source, ROOT_RELATIONS)
            relations.parse(self.blocks(ROOT_RELATIONS))
            for name in relations.targets:
                if name in self.names:
                    return name
        models = [name for name in self.names if name.endswith(".model")]
        if len(models) != 1:
            raise self.source.fault("it is a zip but holds no 3MF model")
        return models[0]

    def part(self, name: str) -> Part:
        """A model part, read once."""
        if name not in self.names:
            raise self.source.fault(f"it lacks its part {name}")
        if name not in self.parts:
            reader = PartReader(self.source, name)
            reader.parse(self.blocks(name))
            self.parts[name] = reader.part
        return self.parts[name]


class Assembly:
    """Follows the build items to the meshes."""

    def __init__(self, package: Package):
        self.package, self.source = package, package.source
        self.sizes: dict[tuple[str, str], int] = {}
        self.uses: dict[tuple[str, str], int] = {}
        self.left_out = 0

    def find(self, part: str, use: ObjectUse) -> tuple[str, ModelObject]:
        """The part that a use speaks of, and the object there."""
        where = use.part.lstrip("/").lower() if use.part else part
        thing = self.package.part(where).things.get(use.name)
        if thing is None:
            raise self.source.fault(f"it builds object {use.name}, which {where} does not hold")
        return where, thing

    def size(self, part: str, use: ObjectUse, trail: tuple[tuple[str, str], ...] = ()) -> int:
        """How many triangles a use comes to, counted before any is made: objects in objects multiply."""
        where, thing = self.find(part, use)
        key = (where, use.name)
        if key in trail:
            raise self.source.fault(f"object {use.name} in it contains itself")
        if len(trail) > self.source.limits.nesting:
            raise self.source.fault("objects in it stand in each other without end")
        if key not in self.sizes:
            inside = sum(self.size(where, inner, (*trail, key)) for inner in thing.components)
            self.uses[key] = 1 + sum(self.uses[self.find(where, inner)[0], inner.name] for inner in thing.components)
            # An empty object counts as one, or empty ones within empty ones could go on for ever.
            self.sizes[key] = max(1, len(thing.faces) // 3 + inside)
        return self.sizes[key]

    def triangles(self, part: str, use: ObjectUse, outer: np.ndarray) -> Iterator[np.ndarray]:
        """The corners of a use, moved into place; `outer` is the 4 × 4 matrix of what it stands in."""
        where, thing = self.find(part, use)
        if thing.kind not in ("model", "solidsupport"):
            self.left_out += 1
            return
        matrix = np.column_stack([use.matrix, [0, 0, 0, 1]]) @ outer
        if thing.faces:
            vertices = np.frombuffer(thing.vertices, float).reshape(-1, 3) if thing.vertices else np.empty((0, 3))
            faces = np.frombuffer(thing.faces, np.int64).reshape(-1, 3)
            if np.linalg.det(matrix[:3, :3]) < 0:
                faces = faces[:, ::-1]
            yield corners_of(self.source, vertices @ matrix[:3, :3] + matrix[3, :3], faces)
        for inner in thing.components:
            yield from self.triangles(where, inner, matrix)


def read_3mf(source: MeshSource) -> Soup:
    """Everything that a 3MF builds, in its own unit; supports and other non-model objects are left out and told."""
    package = Package(source)
    main = package.main()
    part = package.part(main)
    assembly = Assembly(package)
    count = sum(assembly.size(main, item) for item in part.build)
    if count > source.limits.triangles:
        raise source.fault(f"it builds {count:,} triangles; more than {source.limits.triangles:,} are not read")
    uses = sum(assembly.uses[assembly.find(main, item)[0], item.name] for item in part.build)
    if uses > source.limits.uses:
        problem = f"it puts {uses:,} objects in place; more than {source.limits.uses:,} are not read"
        raise source.fault(problem, "Export the piece alone, as one object.")
    pieces = [piece for item in part.build for piece in assembly.triangles(main, item, np.eye(4))]
    if not pieces:
        raise source.fault("it builds no piece", f"Put the piece on the build plate. {EXPORT_AGAIN}")
    if {other.unit for other in package.parts.values()} != {part.unit}:
        raise source.fault("its parts are drawn in different units")
    left_out = assembly.left_out
    remark = f"supports and surfaces in it are no part of the piece and are left out ({left_out})"
    return Soup(np.concatenate(pieces), SHORT.get(part.unit, part.unit), (remark,) if left_out else ())
