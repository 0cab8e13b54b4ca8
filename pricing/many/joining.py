"""Puts Parquet files of one form one behind the other: their pages as they lie, and one footer for all of them.

Nothing is unpacked. A footer is a tree of numbered fields in Thrift's compact form, of which only those are known here
that say where something lies, how many rows there are, and what the file says of itself; all others are kept as they
are. (Fields: parquet.thrift of the Apache Parquet format; the compact form: thrift-compact-protocol.md of Apache
Thrift.)
"""

from __future__ import annotations

import struct
from collections.abc import Collection, Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

MAGIC = b"PAR1"
#: Kinds of values, as the compact form numbers them.
TRUE, FALSE, BYTE, DOUBLE, BINARY, LIST, SET, MAP, STRUCT = 1, 2, 3, 7, 8, 9, 10, 11, 12
WHOLE = (4, 5, 6)  # numbers of 16, 32 and 64 bits, written alike
#: Fields of a file: rows, row groups, what it says of itself; of a row group: columns, where it lies, its number.
ROWS, GROUPS, SAID = 3, 4, 5
COLUMNS, GROUP_LIES, NUMBER = 1, 5, 7
#: Fields of a column: where it lies (also of what is written beside the pages), and its own tree with more of them.
COLUMN_LIES, OF_COLUMN, PAGES_LIE = (2, 4, 6), 3, (9, 10, 11, 14)
#: The largest number of a row group that there is room for; those after it have none.
MOST_NUMBERED = 2**15 - 1
PIECE = 2**20

#: Fields by number: kind and value. A list is the kind of its values, and these.
Tree = dict[int, tuple[int, Any]]


def joined(paths: Iterable[Path], to: BinaryIO, unsaid: Collection[str] = ()) -> None:
    """Write the row groups of some files as one; of what the first says of itself nothing that is to be `unsaid`.

    Raises ValueError where a file is no whole one, or of another form than the first.
    """
    whole: Tree = {}
    to.write(MAGIC)
    at = len(MAGIC)
    for path in paths:
        with path.open("rb") as file:
            tree, ends = footer(file)
            if whole and tree[2] != whole[2]:
                raise ValueError(f"{path.name} has other columns than the first")
            _moved(tree, at - len(MAGIC))
            file.seek(len(MAGIC))
            at += _copied(file, to, ends - len(MAGIC))
        if not whole:
            whole = tree
            continue
        whole[ROWS] = whole[ROWS][0], whole[ROWS][1] + tree[ROWS][1]
        whole[GROUPS][1][1].extend(tree[GROUPS][1][1])
    for number, group in enumerate(whole[GROUPS][1][1]):
        if NUMBER in group:
            group[NUMBER] = group[NUMBER][0], number
            if number > MOST_NUMBERED:
                del group[NUMBER]
    if SAID in whole:
        kind, (inner, said) = whole[SAID]
        whole[SAID] = kind, (inner, [each for each in said if each[1][1].decode(errors="replace") not in unsaid])
    written = bytearray()
    _write(written, STRUCT, whole)
    to.write(written + struct.pack("<I", len(written)) + MAGIC)


def footer(file: BinaryIO) -> tuple[Tree, int]:
    """The footer of a file, and where what lies before it ends. Raises ValueError for what is no whole file."""
    size = file.seek(0, 2)
    file.seek(max(0, size - 8))
    tail = file.read(8)
    length = struct.unpack("<I", tail[:4])[0] if len(tail) == 8 else 0
    if tail[4:] != MAGIC or not 0 < length <= size - 12:
        raise ValueError("it is no whole Parquet file")
    file.seek(size - 8 - length)
    try:
        tree: Tree = _Reading(file.read(length)).value(STRUCT)
    except IndexError:
        raise ValueError("its footer is cut off") from None
    return tree, size - 8 - length


def _moved(tree: Tree, by: int) -> None:
    """All that lies somewhere lies so many bytes further on."""

    def move(held: Tree, fields: Iterable[int]) -> None:
        for field in fields:
            if field in held and held[field][1]:  # 0 is nowhere
                held[field] = held[field][0], held[field][1] + by

    for group in tree[GROUPS][1][1]:
        move(group, (GROUP_LIES,))
        for column in group[COLUMNS][1][1]:
            move(column, COLUMN_LIES)
            move(column[OF_COLUMN][1], PAGES_LIE)


def _copied(file: BinaryIO, to: BinaryIO, many: int) -> int:
    left = many
    while left:
        piece = file.read(min(PIECE, left))
        if not piece:
            raise ValueError("it is shorter than it was")
        to.write(piece)
        left -= len(piece)
    return many


@dataclass
class _Reading:
    """Reads values one after the other."""

    held: bytes
    at: int = 0

    def byte(self) -> int:
        self.at += 1
        return self.held[self.at - 1]

    def unsigned(self) -> int:
        """Seven binary digits a byte, the lowest first; the eighth says that more follow."""
        found = shift = 0
        while True:
            byte = self.byte()
            found |= (byte & 127) << shift
            shift += 7
            if byte < 128:
                return found

    def taken(self, many: int) -> bytes:
        self.at += many
        if self.at > len(self.held):
            raise IndexError
        return self.held[self.at - many : self.at]

    def value(self, kind: int) -> Any:
        if kind in WHOLE:
            found = self.unsigned()
            return (found >> 1) ^ -(found & 1)  # the sign is the lowest digit
        if kind == STRUCT:
            return self.tree()
        if kind in (LIST, SET):
            head = self.byte()
            many = head >> 4 if head >> 4 < 15 else self.unsigned()
            return head & 15, [self.value(head & 15) for _ in range(many)]
        if kind == BINARY:
            return self.taken(self.unsigned())
        if kind == DOUBLE:
            return self.taken(8)
        if kind in (TRUE, FALSE, BYTE):  # in a list; of a field the kind itself says which
            return self.byte()
        raise ValueError(f"its footer holds a value of kind {kind}, which is not known here")

    def tree(self) -> Tree:
        found: Tree = {}
        field = 0
        while head := self.byte():
            field = field + (head >> 4) if head >> 4 else self.value(WHOLE[0])
            kind = head & 15
            found[field] = kind, None if kind in (TRUE, FALSE) else self.value(kind)
        return found


def _unsigned(to: bytearray, number: int) -> None:
    while number > 127:
        to.append(number & 127 | 128)
        number >>= 7
    to.append(number)


def _write(to: bytearray, kind: int, value: Any) -> None:
    if kind in WHOLE:
        _unsigned(to, value << 1 if value >= 0 else ~(value << 1))
    elif kind == STRUCT:
        before = 0
        for field, (inner, held) in value.items():
            if 0 < field - before < 16:
                to.append(field - before << 4 | inner)
            else:
                to.append(inner)
                _write(to, WHOLE[0], field)
            if inner not in (TRUE, FALSE):
                _write(to, inner, held)
            before = field
        to.append(0)
    elif kind in (LIST, SET):
        inner, held = value
        to.append(min(len(held), 15) << 4 | inner)
        if len(held) >= 15:
            _unsigned(to, len(held))
        for each in held:
            _write(to, inner, each)
    elif kind == BINARY:
        _unsigned(to, len(value))
        to += value
    elif kind == DOUBLE:
        to += value
    else:
        to.append(value)
