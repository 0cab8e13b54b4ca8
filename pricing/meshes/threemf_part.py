"""One model part of a 3MF: its XML into objects and build items.

The XML is streamed, so memory goes with the mesh and not with the text. A document type declaration, which could make
a small file grow without end or read other files, is refused at the moment it is met. MeshSource of the form: 3D
Manufacturing Format, Core Specification 1.3 (3MF Consortium).
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from array import array
from collections.abc import Iterable
from dataclasses import dataclass, field
from xml.parsers import expat

import numpy as np

from pricing.meshes.faults import MeshSource, in_short, mebibytes

#: So many bytes may wait for the end of one word.
MOST_WAITING = 4 * 2**20
CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
VERTEX = f"{CORE} vertex"
MODEL_RELATION = "http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"
PRODUCTION = "http://schemas.microsoft.com/3dmanufacturing/production/2015/06"
#: Extensions that may be required without changing the shape.
HARMLESS = frozenset({PRODUCTION, "http://schemas.microsoft.com/3dmanufacturing/material/2015/02"})


@dataclass(frozen=True, slots=True)
class ObjectUse:
    """An object put somewhere: its id, the part that holds it (None: the same) and a 4 × 3 matrix."""

    name: str
    part: str | None
    matrix: np.ndarray


@dataclass(slots=True)
class ModelObject:
    """An object: a mesh of its own, or other objects put together."""

    kind: str
    vertices: array[float] = field(default_factory=lambda: array("d"))
    faces: array[int] = field(default_factory=lambda: array("q"))
    components: list[ObjectUse] = field(default_factory=list)


@dataclass(slots=True)
class Part:
    """A model part: its unit, its objects by id, and what it builds."""

    unit: str = "millimeter"
    things: dict[str, ModelObject] = field(default_factory=dict)
    build: list[ObjectUse] = field(default_factory=list)


class XmlReader(ABC):
    """Streams the XML of one member of the zip; `begin` sees each element as `namespace name` with its attributes."""

    def __init__(self, source: MeshSource, name: str):
        self.source, self.name = source, name
        self.parser = expat.ParserCreate(namespace_separator=" ")
        self.parser.StartDoctypeDeclHandler = self.refuse_doctype
        self.parser.StartElementHandler = self._deeper
        self.parser.EndElementHandler = self._higher
        self.depth = 0

    def parse(self, blocks: Iterable[bytes]) -> None:
        """Read it all. What is not well formed, or not a number where one belongs, is a `MeshFault`."""
        try:
            read = 0
            for block in blocks:
                self.parser.Parse(block, False)
                self.check_counts()
                read += len(block)
                if read - self.parser.CurrentByteIndex > MOST_WAITING:
                    raise self.source.fault(f"{self.name} in it has a word of more than {mebibytes(MOST_WAITING)}")
            self.parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise self.source.fault(f"{self.name} in it is damaged or cut short ({error})") from None
        except (ValueError, OverflowError, KeyError) as error:
            line = self.parser.CurrentLineNumber
            what = f"{error} is missing" if isinstance(error, KeyError) else in_short(str(error).encode(), 100)
            raise self.source.fault(f"{self.name} in it, line {line}: {what}") from None

    def check_counts(self) -> None:  # noqa: B027 - a part without things to count needs none
        """Raise a `MeshFault` where there is more in it than is read."""

    def _deeper(self, element: str, words: dict[str, str]) -> None:
        self.depth += 1
        if self.depth > self.source.limits.nesting:
            raise self.source.fault(f"elements of {self.name} in it stand in each other without end")
        self.begin(element, words)

    def _higher(self, _element: str) -> None:
        self.depth -= 1

    def refuse_doctype(self, *_ignored: object) -> None:
        problem = f"{self.name} in it has a document type declaration (DTD), which a 3MF must not have"
        raise self.source.fault(problem, "It may be harmful. Export it again from a program you trust.")

    @abstractmethod
    def begin(self, element: str, words: dict[str, str]) -> None:
        """An element begins."""


class RelationReader(XmlReader):
    """Collects the parts that a package names as its model, in order."""

    def __init__(self, source: MeshSource, name: str):
        super().__init__(source, name)
        self.targets: list[str] = []

    def begin(self, element: str, words: dict[str, str]) -> None:
        if element.endswith("Relationship") and words.get("Type") == MODEL_RELATION:
            self.targets.append(words["Target"].lstrip("/").lower())


class PartReader(XmlReader):
    """Fills a `Part`."""

    def __init__(self, source: MeshSource, name: str):
        super().__init__(source, name)
        self.part = Part()
        self.thing: ModelObject | None = None
        self.prefixes: dict[str | None, str] = {}
        self.vertices = self.faces = self.things = 0
        self.parser.StartNamespaceDeclHandler = self.remember_prefix
        self.most_nested = source.limits.nesting

    def remember_prefix(self, prefix: str | None, address: str) -> None:
        self.prefixes[prefix] = address

    def _deeper(self, element: str, words: dict[str, str]) -> None:
        if element != VERTEX or self.thing is None or self.depth >= self.most_nested:
            super()._deeper(element, words)
            return
        self.depth += 1  # most of all elements: here without further calls
        self.thing.vertices.extend((float(words["x"]), float(words["y"]), float(words["z"])))
        self.vertices += 1

    def begin(self, element: str, words: dict[str, str]) -> None:
        space, _, kind = element.rpartition(" ")
        if space != CORE:
            return
        if kind == "triangle" and self.thing is not None:
            self.thing.faces.extend((int(words["v1"]), int(words["v2"]), int(words["v3"])))
            self.faces += 1
        elif kind == "object":
            self.thing = self.part.things[words["id"]] = ModelObject(words.get("type", "model"))
            self.things += 1
        elif kind == "component" and self.thing is not None:
            self.thing.components.append(use(words))
            self.things += 1
        elif kind == "item":
            self.part.build.append(use(words))
            self.things += 1
        elif kind == "model":
            self.part.unit = words.get("unit", "millimeter")
            for prefix in words.get("requiredextensions", "").split():
                address = self.prefixes.get(prefix, prefix)
                if address not in HARMLESS:
                    named = f'it needs the 3MF extension "{extension_name(address)}"'
                    raise self.source.fault(
                        f"{named}, which may change the shape and is not read",
                        "Export it as a plain mesh (STL, or 3MF without extensions).",
                    )

    def check_counts(self) -> None:
        """Refuse more of each than is read; asked once a block."""
        limits = self.source.limits
        if max(self.vertices, self.faces) > limits.triangles:
            problem = f"it holds more than {limits.triangles:,} triangles or vertices, which are not read"
            raise self.source.fault(problem, "Export it with fewer triangles.")
        if self.things > limits.uses:
            problem = f"it holds or builds more than {limits.uses:,} objects, which are not read"
            raise self.source.fault(problem, "Export the piece alone, as one object.")


def use(words: dict[str, str]) -> ObjectUse:
    """A component or build item: which object, where."""
    told = words.get("transform", "1 0 0 0 1 0 0 0 1 0 0 0").split(maxsplit=12)
    if len(told) != 12:
        raise ValueError(f"a transform needs 12 numbers, not {'more' if len(told) > 12 else len(told)}")
    numbers = [float(word) for word in told]
    return ObjectUse(words["objectid"], words.get(f"{PRODUCTION} path"), np.array(numbers).reshape(4, 3))


def extension_name(address: str) -> str:
    """`beamlattice` of `http://schemas.microsoft.com/3dmanufacturing/beamlattice/2017/02`; the prefix means nothing."""
    words = [word for word in address[:100].split("/") if word and not word.isdigit()]
    return words[-1] if words else address[:100]
