"""TOML documents for tests, written piece by piece, with a note of where every piece was put.

The writer knows nothing of parsing: it counts characters and line ends as it writes, so that its notes are an
independent answer to the question where a key or a value stands.
"""

from __future__ import annotations

import json
import re
import string
from dataclasses import dataclass, field
from datetime import date
from typing import Any

from hypothesis import reject
from hypothesis import strategies as st

#: Letters of one, two, three and four bytes, blanks, and signs that mean something in TOML.
LETTERS = string.ascii_letters + string.digits + " _-.=#[]{},:'éßЖ中\N{GRINNING FACE}\u0301"
BARE = re.compile(r"[A-Za-z0-9_-]+")

words = st.text(LETTERS, max_size=6)
plain_values = st.one_of(
    st.integers(-(10**6), 10**6),
    st.floats(allow_nan=False, allow_infinity=False, width=32),
    st.booleans(),
    st.dates(date(1000, 1, 1)),
    words,
)
blanks = st.sampled_from(["", " ", "  ", "\t"])
kinds = st.sampled_from(["plain", "plain", "text", "list", "table"])
line_ends = st.sampled_from(["\n", "\r\n"])


@dataclass
class Written:
    """A document: its text, what it says, and line and column (from 1) of every key and value by path."""

    text: str = ""
    values: dict[str, Any] = field(default_factory=dict)
    keys: dict[tuple, tuple[int, int]] = field(default_factory=dict)
    starts: dict[tuple, tuple[int, int]] = field(default_factory=dict)
    line: int = 1
    column: int = 1

    def put(self, piece: str) -> None:
        for letter in piece:
            self.line, self.column = (self.line + 1, 1) if letter == "\n" else (self.line, self.column + 1)
        self.text += piece

    @property
    def here(self) -> tuple[int, int]:
        return self.line, self.column


@st.composite
def documents(draw) -> Written:
    """A document of pairs, dotted keys, tables, tables in tables, lists of tables, and all of it spaced at will."""
    out = Written()
    line_end = draw(line_ends)

    def end_line():
        out.put(draw(blanks))
        if draw(st.booleans()):
            out.put("# " + draw(words))
        out.put(line_end * draw(st.integers(1, 2)))

    def new_name(table: dict) -> str:
        for _ in range(3):  # as `filter` does it, whose strategy would be made and looked through for each name
            if (name := draw(words)) not in table:
                return name
        reject()

    def put_key(name: str) -> None:
        spellings = [json.dumps(name, ensure_ascii=False)]
        if "'" not in name:
            spellings.append(f"'{name}'")
        out.put(name if BARE.fullmatch(name) and draw(st.booleans()) else draw(st.sampled_from(spellings)))

    def put_value(path: tuple, depth: int) -> Any:
        out.starts[path] = out.here
        kind = draw(kinds) if depth < 3 else "plain"
        if kind == "text":  # over several lines
            text = draw(st.lists(words, min_size=1, max_size=3))
            out.put("'''" + line_end + line_end.join(text).replace("'", "") + "'''")
            return "\n".join(text).replace("'", "")
        if kind == "list":
            return put_list(path, depth)
        if kind == "table":
            out.put("{")
            table: dict[str, Any] = {}
            for number in range(draw(st.integers(0, 3))):
                out.put(("," if number else "") + draw(blanks))
                put_pair(path, table, depth + 1)
            out.put(draw(blanks) + "}")
            return table
        value = draw(plain_values)
        out.put(value.isoformat() if isinstance(value, date) else json.dumps(value, ensure_ascii=False))
        return value

    def put_list(path: tuple, depth: int) -> list:
        out.put("[")
        items = []
        for number in range(draw(st.integers(0, 3))):
            out.put("," if number else "")
            if draw(st.booleans()):
                end_line()
            out.put(draw(blanks))
            items.append(put_value((*path, number), depth + 1))
            out.keys[*path, number] = out.starts[*path, number]
        if draw(st.booleans()):
            end_line()
        out.put("]")
        return items

    def put_names(path: tuple, table: dict, count: int) -> tuple[tuple, dict, str]:
        """So many fresh names with points between; gives the last one's path, the table around it, and it."""
        name = new_name(table)
        path = (*path, name)
        out.keys[path] = out.here
        put_key(name)
        if count == 1:
            return path, table, name
        out.starts[path] = out.keys[path]  # a table that nothing opens begins at its name
        out.put(draw(blanks) + "." + draw(blanks))
        return put_names(path, table.setdefault(name, {}), count - 1)

    def put_pair(path: tuple, table: dict, depth: int) -> None:
        """A pair, or a pair below a dotted key of fresh names."""
        path, table, name = put_names(path, table, draw(st.integers(1, 2 if depth < 3 else 1)))
        out.put(draw(blanks) + "=" + draw(blanks))
        table[name] = put_value(path, depth)

    def put_pairs(path: tuple, table: dict) -> None:
        for _ in range(draw(st.integers(0, 3))):
            out.put(draw(blanks))
            put_pair(path, table, 0)
            end_line()

    def put_header(above: tuple, table: dict, brackets: str) -> tuple[tuple, dict, str]:
        """A header below `above`, whose names it repeats; gives the new path, the table around it, and its name."""
        bracket = out.here
        out.put(brackets)
        for name in (part for part in above if isinstance(part, str)):
            put_key(name)
            out.put(draw(blanks) + "." + draw(blanks))
        above, table, name = put_names(above, table, draw(st.integers(1, 2)))
        out.put(brackets.replace("[", "]"))
        out.starts[above] = bracket
        return above, table, name

    put_pairs((), out.values)
    for _ in range(draw(st.integers(0, 3))):
        if draw(st.booleans()):
            path, around, name = put_header((), out.values, "[")
            around[name] = {}
            end_line()
            put_pairs(path, around[name])
            continue
        path, around, name = put_header((), out.values, "[[")
        around[name] = []
        for number in range(draw(st.integers(1, 3))):
            if number:
                out.starts[*path, number] = out.here
                out.put("[[")
                for position, part in enumerate(path):
                    out.put("." if position else "")
                    out.keys[*path, number] = out.here
                    put_key(part)
                out.put("]]")
            else:
                out.starts[*path, 0], out.keys[*path, 0] = out.starts[path], out.keys[path]
            around[name].append({})
            end_line()
            put_pairs((*path, number), around[name][number])
            if draw(st.booleans()):
                inner, beside, inner_name = put_header((*path, number), around[name][number], "[")
                beside[inner_name] = {}
                end_line()
                put_pairs(inner, beside[inner_name])
    return out
