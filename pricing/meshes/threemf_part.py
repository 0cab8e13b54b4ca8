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

from pricing.meshes.faults import MeshSource

CORE = "http://schemas.microsoft.com/3dmanufacturing/core/2015/02"
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
    vertices: array = field(default_factory=lambda: array("d"))
    faces: array = field(default_factory=lambda: array("q"))
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
        self.parser.StartElementHandler = self.begin

    def parse(self, blocks: Iterable[bytes]) -> None:
        """Read it all. What is not well formed, or not a number where one belongs, is a `MeshFault`."""
        try:
            for block in blocks:
                self.parser.Parse(block, False)
            self.parser.Parse(b"", True)
        except expat.ExpatError as error:
            raise self.source.fault(f"{self.name} in it is damaged or cut short ({error})") from None
        except (ValueError, OverflowError, KeyError) as error:
            line = self.parser.CurrentLineNumber
            what = f"{error} is missing" if isinstance(error, KeyError) else str(error)
            raise self.source.fault(f"{self.name} in it, line {line}: {what}") from None

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
        self.parser.StartNamespaceDeclHandler = self.remember_prefix

    def remember_prefix(self, prefix: str | None, address: str) -> None:
        self.prefixes[prefix] = address

    def begin(self, element: str, words: dict[str, str]) -> None:
        space, _, kind = element.rpartition(" ")
        if space != CORE:
            return
        if kind == "vertex" and self.thing is not None:
            self.thing.vertices.extend((float(words["x"]), float(words["y"]), float(words["z"])))
        elif kind == "triangle" and self.thing is not None:
            self.thing.faces.extend((int(words["v1"]), int(words["v2"]), int(words["v3"])))
        elif kind == "object":
            self.thing = self.part.things[words["id"]] = ModelObject(words.get("type", "model"))
        elif kind == "component" and self.thing is not None:
            self.thing.components.append(use(words))
        elif kind == "item":
            self.part.build.append(use(words))
        elif kind == "model":
            self.part.unit = words.get("unit", "millimeter")
            for prefix in words.get("requiredextensions", "").split():
                address = self.prefixes.get(prefix, prefix)
                if address not in HARMLESS:
                    raise self.source.fault(
                        f'it needs the 3MF extension "{prefix}", which may change the shape and is not read',
                        "Export it as a plain mesh (STL, or 3MF without extensions).",
                    )


def use(words: dict[str, str]) -> ObjectUse:
    """A component or build item: which object, where."""
    numbers = [float(word) for word in words.get("transform", "1 0 0 0 1 0 0 0 1 0 0 0").split()]
    if len(numbers) != 12:
        raise ValueError(f"a transform needs 12 numbers, not {len(numbers)}")
    return ObjectUse(words["objectid"], words.get(f"{PRODUCTION} path"), np.array(numbers).reshape(4, 3))
