"""A TOML file: its values, and where each of them stands.

The values come from `tomllib`, which knows no places. Faults are rare, so the file is parsed a second
time, by `tree-sitter-toml`, only when the place of something is asked. Lines and columns count from 1;
columns count characters, not bytes.
"""

from __future__ import annotations

import json
import re
import tomllib
from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

from pricing.errors import Place
from pricing.folder.toml.text import shown

if TYPE_CHECKING:
    from tree_sitter import Node

_BARE = re.compile(r"[A-Za-z0-9_-]+")

#: Keys and indices from the top of a file down to something in it.
KeyPath = tuple[str | int, ...]


def written(path: KeyPath) -> str:
    """A path as a maker would write it: `steps."cut and grind".minutes`, `castings[0].count`."""
    told = ""
    for part in path:
        if isinstance(part, int):
            told += f"[{part}]"
        else:
            told += ("." if told else "") + (part if _BARE.fullmatch(part) else json.dumps(part, ensure_ascii=False))
    return told


class Point(NamedTuple):
    """A line, counted from 0, and a column, counted in bytes from 0."""

    row: int
    byte: int


class Spot(NamedTuple):
    """Where the key and the value of one path begin.

    An element of a list has no key of its own: its value's place stands for it. The value of a table
    begins at its header's bracket; a table that no header opens begins at its name in the first dotted key.
    """

    key: Point
    value: Point


class Document:
    """One TOML file: `file` is its name relative to the folder, `values` what it says."""

    def __init__(self, file: str, text: str, values: dict[str, Any]):
        self.file = file
        self.values = values
        self._text = text

    @cached_property
    def _lines(self) -> list[str]:
        return self._text.split("\n")

    @cached_property
    def _index(self) -> _Index:
        return _Index(self._text)

    def stands(self, path: KeyPath) -> bool:
        """Whether this path is written in the file."""
        here: Any = self.values
        for part in path:
            if isinstance(here, dict) and part in here:
                here = here[part]
            elif isinstance(here, list) and isinstance(part, int) and 0 <= part < len(here):
                here = here[part]
            else:
                return False
        return True

    def place(self, path: KeyPath = (), at: Literal["key", "value"] = "value") -> Place:
        """Where the key or the value of `path` begins; the nearest table around it where it is not written.

        The whole document (the empty path) begins on its first line.
        """
        spots = self._index.spots
        for length in range(len(path), 0, -1):
            spot = spots.get(path[:length])
            if spot is not None:
                return self._place_at(spot.key if at == "key" and length == len(path) else spot.value)
        return Place(self.file) if not self._text.strip() else self._place_at(Point(0, 0))

    def repeats(self) -> Iterator[tuple[Place, Place]]:
        """Every key or header that is written twice: where it stands again, and where it stood first."""
        return ((self._place_at(again), self._place_at(first)) for first, again in self._index.repeats)

    def _place_at(self, point: Point) -> Place:
        line = self._lines[point.row].removesuffix("\r")
        column = len(line.encode()[: point.byte].decode()) + 1
        return Place(self.file, point.row + 1, column, shown(line))


class _Index:
    """The spots of one document, by path."""

    def __init__(self, text: str):
        import tree_sitter
        import tree_sitter_toml

        self.spots: dict[KeyPath, Spot] = {}
        self.repeats: list[tuple[Point, Point]] = []
        self._opened: set[KeyPath] = set()  # tables that a header opened
        self._written: set[KeyPath] = set()  # keys that were given a value
        self._elements: dict[KeyPath, int] = {}  # tables in double brackets, and how many there are so far
        parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
        here: KeyPath = ()
        for node in parser.parse(text.encode()).root_node.named_children:
            if node.type == "pair":
                self._add_pair(here, node)
            elif node.type in ("table", "table_array_element"):
                inside = self._open(node)
                for child in node.named_children:
                    if child.type == "pair":
                        self._add_pair(inside, child)

    def _open(self, node: Node) -> KeyPath:
        """The path that a header opens."""
        keys = [child for child in node.named_children if child.type in ("bare_key", "quoted_key", "dotted_key")]
        if not keys:  # a header that the grammar could not read
            return ("",)
        parts = _parts(keys[0])
        header = Point(*node.start_point)
        here: KeyPath = ()
        for number, (name, point) in enumerate(parts, start=1):
            here = (*here, name)
            last = number == len(parts)
            is_array = node.type == "table_array_element"
            same = here in self._opened or (here in self._elements and not is_array)
            if here in self._written or (last and same):
                self.repeats.append((self.spots[here].value, header))
            if last and is_array:
                index = self._elements.get(here, 0)
                self._elements[here] = index + 1
                self.spots.setdefault(here, Spot(point, header))
                here = (*here, index)
                self.spots[here] = Spot(point, header)
            elif last:
                if here not in self._opened and here not in self._written:
                    self._opened.add(here)
                    self.spots[here] = Spot(point, header)
            else:
                self.spots.setdefault(here, Spot(point, point))
                if here in self._elements:
                    here = (*here, self._elements[here] - 1)
        return here

    def _add_pair(self, table: KeyPath, node: Node) -> None:
        written = [child for child in node.named_children if child.type not in ("comment", "ERROR")]
        if len(written) != 2:
            return
        key, value = written
        parts = _parts(key)
        here = table
        for name, point in parts[:-1]:
            here = (*here, name)
            self.spots.setdefault(here, Spot(point, point))
        name, point = parts[-1]
        here = (*here, name)
        if here in self.spots:
            self.repeats.append((self.spots[here].key, point))
            return
        self._written.add(here)
        self.spots[here] = Spot(point, Point(*value.start_point))
        self._add_value(here, value)

    def _add_value(self, here: KeyPath, node: Node) -> None:
        if node.type == "inline_table":
            for child in node.named_children:
                if child.type == "pair":
                    self._add_pair(here, child)
        elif node.type == "array":
            elements = (child for child in node.named_children if child.type not in ("comment", "ERROR"))
            for index, child in enumerate(elements):
                point = Point(*child.start_point)
                self.spots[(*here, index)] = Spot(point, point)
                self._add_value((*here, index), child)


def _parts(key: Node) -> list[tuple[str, Point]]:
    """The names of a key, dotted or not, each with where it begins."""
    if key.type == "dotted_key":
        return [_part(child) for child in _plain_keys(key)]
    return [_part(key)]


def _plain_keys(key: Node) -> list[Node]:
    """The names in a dotted key, which the grammar nests to the left; one of thousands is no reason to give up."""
    plain: list[Node] = []
    waiting = [key]
    while waiting:
        node = waiting.pop()
        if node.type == "dotted_key":
            waiting.extend(node.named_children)
        else:
            plain.append(node)
    return plain[::-1]


def _part(key: Node) -> tuple[str, Point]:
    written = (key.text or b"").decode()
    try:
        (name,) = tomllib.loads(f"{written} = 0")
    except (tomllib.TOMLDecodeError, ValueError):  # a key that the grammar takes and TOML does not
        name = written
    return name, Point(*key.start_point)
