"""A TOML text as what a person wrote: its headers and its pairs, and where each of them begins and ends.

`pricing.folder.toml.places` answers where something stands; here it is also known where it ends, so that one of them
can be taken out or exchanged and every other byte stays. Positions are bytes of the text in UTF-8.
"""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from functools import cached_property
from typing import TYPE_CHECKING, NamedTuple

from pricing.folder.toml.places import KeyPath

if TYPE_CHECKING:
    from tree_sitter import Node

_HEADERS = ("table", "table_array_element")


class Statement(NamedTuple):
    """A pair below no braces, or a header. `table` is the path of the table in which a pair stands."""

    path: KeyPath
    table: KeyPath
    is_header: bool
    node: Node


class TomlText:
    """The bytes of a TOML file, without a byte order mark; they must be TOML."""

    def __init__(self, content: bytes):
        self.content = content

    @cached_property
    def statements(self) -> list[Statement]:
        """Every header and every pair outside braces, in the order of the file."""
        import tree_sitter
        import tree_sitter_toml

        parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_toml.language()))
        counts: dict[KeyPath, int] = {}  # tables in double brackets, and how many there are so far
        found = []
        for node in parser.parse(self.content).root_node.named_children:
            if node.type == "pair":
                found.append(Statement(key_of(node), (), False, node))
            elif node.type in _HEADERS:
                table = _opened(node, counts)
                found.append(Statement(table, table, True, node))
                pairs = (child for child in node.named_children if child.type == "pair")
                found += [Statement((*table, *key_of(pair)), table, False, pair) for pair in pairs]
        return found

    def below(self, path: KeyPath) -> list[Statement]:
        """Every statement that says something about `path` or what is in it."""
        return [statement for statement in self.statements if statement.path[: len(path)] == path]

    def around(self, path: KeyPath) -> tuple[Statement, KeyPath] | None:
        """The pair whose value holds `path` or is it, and what of the path lies inside the value."""
        for statement in self.statements:
            length = len(statement.path)
            if not statement.is_header and statement.path == path[:length]:
                return statement, path[length:]
        return None

    def value(self, path: KeyPath) -> Node | None:
        """The value at `path`; None for a table that only headers and longer keys make, and for what is not there."""
        held = self.around(path)
        return None if held is None else inside(value_of(held[0].node), held[1])

    def stands(self, path: KeyPath) -> bool:
        """Whether anything is said about this path."""
        held = self.around(path)
        return bool(self.below(path)) if held is None else is_said(value_of(held[0].node), held[1])

    def line_start(self, position: int) -> int:
        return self.content.rfind(b"\n", 0, position) + 1

    def line_end(self, position: int) -> int:
        """Behind the line end that follows, or the end of the text."""
        end = self.content.find(b"\n", position)
        return len(self.content) if end < 0 else end + 1

    def end_of(self, statement: Statement) -> int:
        """Behind the line on which a pair or a header ends."""
        node = statement.node
        if statement.is_header:
            bracket = [child for child in node.children if child.type in ("]", "]]")][0]
            return self.line_end(bracket.end_byte)
        return self.line_end(value_of(node).end_byte)

    def last_beside(self, statement: Statement) -> Statement:
        """The last statement before the next header: what comes behind it belongs to no table before it."""
        behind = self.statements[self.statements.index(statement) + 1 :]
        for other in behind:
            if other.is_header:
                break
            statement = other
        return statement

    @cached_property
    def newline(self) -> bytes:
        """How the lines of this text end, as its first one does."""
        end = self.content.find(b"\n")
        return b"\r\n" if end > 0 and self.content[end - 1 : end] == b"\r" else b"\n"


def inside(value: Node, path: KeyPath) -> Node | None:
    """What stands at `path` inside a value: another value."""
    if not path:
        return value
    if value.type == "array" and isinstance(path[0], int):
        items = items_of(value)
        return inside(items[path[0]], path[1:]) if path[0] < len(items) else None
    if value.type == "inline_table":
        for pair in pairs_of(value):
            key = key_of(pair)
            if path[: len(key)] == key:
                return inside(value_of(pair), path[len(key) :])
    return None


def is_said(value: Node, path: KeyPath) -> bool:
    """Whether something stands at `path` inside a value, be it only the front part of a dotted key."""
    if inside(value, path) is not None:
        return True
    for length in range(len(path)):
        braces = inside(value, path[:length])
        if braces is not None and braces.type == "inline_table":
            rest = path[length:]
            if any(key_of(pair)[: len(rest)] == rest for pair in pairs_of(braces)):
                return True
    return False


def items_of(array: Node) -> list[Node]:
    return [child for child in array.named_children if child.type != "comment"]


def pairs_of(inline_table: Node) -> list[Node]:
    return [child for child in inline_table.named_children if child.type == "pair"]


def value_of(pair: Node) -> Node:
    """The value of a pair, to which the grammar counts the comment behind it too."""
    return [child for child in pair.named_children if child.type != "comment"][1]


def key_of(pair: Node) -> KeyPath:
    """The key of a pair; of a dotted one all parts."""
    return tuple(_names(pair.named_children[0]))


def _names(key: Node) -> Iterator[str]:
    if key.type == "dotted_key":
        for child in key.named_children:
            yield from _names(child)
    else:
        (name,) = tomllib.loads(f"{(key.text or b'').decode()} = 0")
        yield name


def _opened(header: Node, counts: dict[KeyPath, int]) -> KeyPath:
    """The path that a header opens, with the numbers of the tables in double brackets along it."""
    key = next(child for child in header.named_children if child.type.endswith("key"))
    names = list(_names(key))
    here: KeyPath = ()
    for number, name in enumerate(names, start=1):
        here = (*here, name)
        if number == len(names) and header.type == "table_array_element":
            counts[here] = counts.get(here, 0) + 1
        if here in counts:
            here = (*here, counts[here] - 1)
    return here
