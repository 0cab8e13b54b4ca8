"""One piece of a TOML text exchanged, put in or taken out; every other byte stays.

Each function takes the text and a path, and gives the new text. What is asked for is known to be possible: the
path stands where it is to be changed or taken out, and does not stand where it is to be added.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pricing.folder.toml.places import KeyPath
from pricing.folder.toml.remarks import once_known
from pricing.folder.toml.spelling import spelled, spelled_key
from pricing.folder.toml.statements import Statement, TomlText, inside, items_of, key_of, pairs_of, value_of

if TYPE_CHECKING:
    from tree_sitter import Node

#: Tables of a few figures that makers write in braces behind their key.
IN_BRACES = frozenset({"composition", "policy", "postage", "reprice", "rounding", "tax"})


def replaced(source: TomlText, path: KeyPath, value: Any) -> bytes:
    """Another value in the place of one; the remark behind a figure that was a guess says so no longer."""
    node = source.value(path)
    assert node is not None
    splices = [(node.start_byte, node.end_byte, spelled(value).encode())]
    return _spliced(source, [*splices, *_no_guess(source, node, path[-1])])


def _no_guess(source: TomlText, node: Node, key: str | int) -> Iterator[tuple[int, int, bytes]]:
    """The remark behind a value that is written anew, where it says that it is a guess."""
    content = source.content
    end = len(content) if (at := content.find(b"\n", node.end_byte)) < 0 else at
    begin = content.find(b"# a guess, ", node.end_byte, end)
    if begin < 0 or node.type not in ("integer", "float"):
        return
    remark = content[begin + 2 : end].decode().rstrip("\r")
    known = once_known(remark, str(key)).encode()
    if known != remark.encode():
        stop = begin + 2 + len(remark.encode())
        lead = len(content[node.end_byte : begin].rstrip(b" \t"))
        yield (begin + 2, stop, known) if known else (node.end_byte + lead, stop, b"")


# ---- taking out


def dropped(source: TomlText, path: KeyPath) -> bytes:
    """Without what stands at the path: lines of its own with all that is on them, else only itself and its comma."""
    held = source.around(path)
    if held is None or not held[1]:
        return _spliced(source, [_lines_of(source, statement) for statement in source.below(path)])
    statement, rest = held
    return _dropped_inside(source, value_of(statement.node), rest)


def _lines_of(source: TomlText, statement: Statement) -> tuple[int, int, bytes]:
    return source.line_start(statement.node.start_byte), source.end_of(statement), b""


def _dropped_inside(source: TomlText, value: Node, path: KeyPath) -> bytes:
    """What stands inside a value, taken out of the list or the braces around it."""
    if value.type == "array" and isinstance(path[0], int):
        item = items_of(value)[path[0]]
        return _dropped_item(source, value, item) if len(path) == 1 else _dropped_inside(source, item, path[1:])
    for pair in pairs_of(value):
        key = key_of(pair)
        if key == path[: len(key)] and len(key) < len(path):
            return _dropped_inside(source, value_of(pair), path[len(key) :])
    pairs = pairs_of(value)
    kept = [pair for pair in pairs if key_of(pair)[: len(path)] != path]
    if not kept:
        return _spliced(source, [(value.start_byte + 1, value.end_byte - 1, b"")])
    splices = []
    for pair in pairs:
        if pair in kept:
            continue
        after = pairs[pairs.index(pair) + 1 :]
        if any(other in kept for other in after):
            splices.append((pair.start_byte, after[0].start_byte, b""))
        else:  # nothing that stays comes behind it: from the last that stays to the end
            splices.append((value_of(kept[-1]).end_byte, value_of(pairs[-1]).end_byte, b""))
            break
    return _spliced(source, splices)


def _dropped_item(source: TomlText, array: Node, item: Node) -> bytes:
    content, children = source.content, array.children
    place = children.index(item)
    comma = next((child for child in children[place + 1 :] if child.type == ","), None)
    start, end = item.start_byte, comma.end_byte if comma else item.end_byte
    first, last = source.line_start(start), source.line_end(end)
    behind = content[end:last].strip()
    own_lines = not content[first:start].strip() and (not behind or behind.startswith(b"#")) and last < array.end_byte
    if own_lines:
        return _spliced(source, [(first, last, b"")])
    if comma is not None:
        while content[end : end + 1] in (b" ", b"\t"):
            end += 1
        return _spliced(source, [(start, end, b"")])
    before = children[place - 1]
    if before.type == "," and b"\n" not in content[before.start_byte : start]:
        return _spliced(source, [(before.start_byte, end, b"")])
    return _spliced(source, [(start, end, b"")])


# ---- putting in


def inserted(source: TomlText, path: KeyPath, value: Any) -> bytes:
    """One more item of a list; the path ends in its place."""
    array, index = source.value(path[:-1]), path[-1]
    assert isinstance(index, int)
    if array is None:
        return _another_table(source, path[:-1], index, value)
    text, items = spelled(value).encode(), items_of(array)
    if not items:
        return _first_item(source, array, text)
    if index < len(items):
        start = items[index].start_byte
        indent = source.content[source.line_start(start) : start]
        behind = b"," + source.newline + indent if not indent.strip() else b", "
        return _spliced(source, [(start, start, text + behind)])
    last = items[-1]
    comma = next((child for child in array.children[array.children.index(last) :] if child.type == ","), None)
    start = last.start_byte
    indent = source.content[source.line_start(start) : start]
    line_end = source.line_end(comma.end_byte if comma else last.end_byte)
    if indent.strip() or line_end >= array.end_byte:
        end = comma.end_byte if comma else last.end_byte
        return _spliced(source, [(end, end, (b" " if comma else b", ") + text)])
    new = (line_end, line_end, indent + text + (b"," if comma else b"") + source.newline)
    return _spliced(source, [new] if comma else [(last.end_byte, last.end_byte, b","), new])


def _first_item(source: TomlText, array: Node, text: bytes) -> bytes:
    bracket = array.end_byte - 1
    line = source.line_start(bracket)
    if line <= array.start_byte:
        return _spliced(source, [(array.start_byte + 1, bracket, text)])
    indent = source.content[line:bracket]
    return _spliced(source, [(line, line, indent + b"    " + text + b"," + source.newline)])


def _another_table(source: TomlText, path: KeyPath, index: int, value: Any) -> bytes:
    """One more table in double brackets."""
    block = _block(path, value, "[[", "]]")
    if index == 0:
        first = source.below(path)[0]
        position = _above(source, source.line_start(first.node.start_byte))
        return _spliced(source, [(position, position, _lines(source, [*block, ""]))])
    return _spliced(source, [_appended(source, source.below((*path, index - 1)), source.below(path), block)])


def added(source: TomlText, path: KeyPath, value: Any) -> bytes:
    """A key with its value, where a person would write it: in braces, on a line of its own, or under a header."""
    above = path[:-1]
    while above and not source.stands(above):
        path, value, above = above, {path[-1]: value}, above[:-1]
    held = source.around(above) if above else None
    if held is not None:
        statement, rest = held
        braces, key = inside(value_of(statement.node), rest), path[-1:]
        while braces is None:  # the key in braces is a dotted one
            rest, key = rest[:-1], (rest[-1], *key)
            braces = inside(value_of(statement.node), rest)
        return _added_in_braces(source, braces, key, value)
    if _stands_under_header(source, above, path[-1], value):
        blocks = _blocks(path, value)
        around = source.below(above)
        return _spliced(source, [_appended(source, around, around, blocks) if above else _at_end(source, blocks)])
    return _spliced(source, [_line_in_table(source, above, path[-1:], value)])


def _added_in_braces(source: TomlText, braces: Node, key: KeyPath, value: Any) -> bytes:
    text = f"{_dotted(key)} = {spelled(value)}".encode()
    pairs = pairs_of(braces)
    if pairs:
        end = value_of(pairs[-1]).end_byte
        return _spliced(source, [(end, end, b", " + text)])
    end = braces.end_byte - 1
    lead = b"" if end > braces.start_byte + 1 else b" "
    return _spliced(source, [(end, end, lead + text + b" ")])


def _stands_under_header(source: TomlText, above: KeyPath, name: str | int, value: Any) -> bool:
    """Whether a table gets a header of its own: where its neighbours have one, or what it is in has no line."""
    if isinstance(value, Mapping):
        headers = [statement.path for statement in source.below(above) if statement.is_header]
        if name in IN_BRACES:
            return False
        if any(isinstance(inner, Mapping) for inner in value.values()):
            return True
        if above and above not in headers:
            return bool(headers)
        return any(len(path) == len(above) + 1 for path in headers)
    if isinstance(value, (list, tuple)) and value and all(isinstance(item, Mapping) for item in value):
        return any(
            statement.node.type == "table_array_element" and len(statement.path) == len(above) + 2
            for statement in source.below(above)
        )
    return False


def _line_in_table(source: TomlText, table: KeyPath, key: KeyPath, value: Any) -> tuple[int, int, bytes]:
    """A line at the end of a table's own lines; a header for it where it has none."""
    own = [statement for statement in source.statements if statement.table == table and not statement.is_header]
    header = next((each for each in source.statements if each.is_header and each.path == table), None)
    line = f"{_dotted(key)} = {spelled(value)}"
    last = own[-1] if own else header
    if last is not None:
        return _behind(source, last, [line])
    dotted = [each for each in source.below(table) if len(each.table) < len(table)]
    if dotted:  # the table is made by longer keys of another one: a longer key again
        last = dotted[-1]
        return _behind(source, last, [f"{_dotted((*table[len(last.table) :], *key))} = {spelled(value)}"])
    if table:
        first = source.below(table)[0]
        position = _above(source, source.line_start(first.node.start_byte))
        return position, position, _lines(source, [f"[{_dotted(table)}]", line])
    if not source.statements:
        return _at_end(source, [line])
    position = _above(source, source.line_start(source.statements[0].node.start_byte))
    return position, position, _lines(source, [line, ""])


def _behind(source: TomlText, statement: Statement, lines: list[str]) -> tuple[int, int, bytes]:
    """Lines behind a statement, indented as it is."""
    start = statement.node.start_byte
    indent = source.content[source.line_start(start) : start].decode()
    end = source.end_of(statement)
    missing = source.newline if not source.content[:end].endswith(b"\n") else b""
    return end, end, missing + _lines(source, [indent + line for line in lines])


def _appended(
    source: TomlText, around: list[Statement], like: list[Statement], lines: list[str]
) -> tuple[int, int, bytes]:
    """Lines behind all of `around`, with a blank line between where the headers in `like` keep one."""
    end = source.end_of(source.last_beside(around[-1]))
    airy = not any(statement.is_header for statement in like)
    for statement in like:
        if statement.is_header:
            start = _above(source, source.line_start(statement.node.start_byte))
            airy = airy or start > 0 and not source.content[source.line_start(start - 1) : start].strip()
    missing = source.newline if not source.content[:end].endswith(b"\n") else b""
    return end, end, missing + _lines(source, [*([""] if airy else []), *lines])


def _at_end(source: TomlText, lines: list[str]) -> tuple[int, int, bytes]:
    end = len(source.content)
    text = source.content
    missing = source.newline if text and not text.endswith(b"\n") else b""
    airy = bool(text.strip()) and lines[0].startswith("[") and not text.endswith(source.newline * 2)
    return end, end, missing + _lines(source, [*([""] if airy else []), *lines])


def _above(source: TomlText, position: int) -> int:
    """Above the comments that stand right above a line; the file's first line, if it speaks to editors, stays first."""
    while position:
        before = source.line_start(position - 1)
        line = source.content[before:position].strip()
        if not line.startswith(b"#") or line.startswith(b"#:"):
            break
        position = before
    return position


def _blocks(path: KeyPath, value: Any) -> list[str]:
    """The lines of a table, or of several in double brackets, with their headers."""
    if isinstance(value, Mapping):
        return _block(path, value, "[", "]")
    return [line for item in value for line in _block(path, item, "[[", "]]")]


def _block(path: KeyPath, value: Mapping[str, Any], opening: str, closing: str) -> list[str]:
    """A header with its lines. Tables of named tables get headers of their own, and so a header may need no lines."""
    only_tables = opening == "[" and value and all(isinstance(item, Mapping) for item in value.values())
    under = {key for key, item in value.items() if _wants_header(key, item, bool(only_tables))}
    lines = [f"{spelled_key(key)} = {spelled(item)}" for key, item in value.items() if key not in under]
    head = [] if under and not lines else [f"{opening}{_dotted(path)}{closing}", *lines]
    return head + [line for key in value if key in under for line in _block((*path, key), value[key], "[", "]")]


def _wants_header(key: str, value: Any, only_tables: bool) -> bool:
    if not isinstance(value, Mapping) or key in IN_BRACES:
        return False
    return only_tables or any(isinstance(inner, Mapping) for inner in value.values())


def _dotted(path: KeyPath) -> str:
    """Names with points between; numbers of tables in double brackets are not written."""
    return ".".join(spelled_key(part) for part in path if isinstance(part, str))


def _lines(source: TomlText, lines: Iterable[str]) -> bytes:
    return b"".join(line.encode() + source.newline for line in lines)


def _spliced(source: TomlText, splices: Iterable[tuple[int, int, bytes]]) -> bytes:
    content = source.content
    for start, end, text in sorted(splices, reverse=True):
        content = content[:start] + text + content[end:]
    return content
