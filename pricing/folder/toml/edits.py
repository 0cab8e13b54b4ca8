"""Changes to a TOML file that leave every other byte of it as it was written.

A change is planned on the values that the file says, carried out on its text piece by piece, and what the new
text says is compared with the plan before anybody gets to see it.
"""

from __future__ import annotations

import copy
import tomllib
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pricing.errors import Fault, Faults
from pricing.folder.toml.places import Document, KeyPath, written
from pricing.folder.toml.spelling import plain
from pricing.folder.toml.splices import added, dropped, inserted, replaced
from pricing.folder.toml.statements import TomlText


@dataclass(frozen=True)
class Put:
    """`value` shall stand at `path`, whether or not something stands there; tables around it are made.

    Of a table or a list only what differs is written. A number as Decimal is written with its own digits.
    """

    path: KeyPath
    value: Any


@dataclass(frozen=True)
class Insert:
    """`value` becomes an item of a list: the path ends in its place, counted from 0, up to the list's length."""

    path: KeyPath
    value: Any


@dataclass(frozen=True)
class Drop:
    """What stands at `path` is taken out, with the comments on its own lines."""

    path: KeyPath


Edit = Put | Insert | Drop


def changed(document: Document, content: bytes, edits: Iterable[Edit]) -> bytes:
    """`content` (the document's bytes, without a byte order mark) with these edits made in their order.

    Raises Faults where there is nothing to take out or no table or list to put something into, and where the text
    is written in a way in which the change cannot be made.
    """
    values: Any = copy.deepcopy(document.values)
    for edit in edits:
        _check(document, values, edit)
        for step in _steps(values, edit):
            made = _carried_out(TomlText(content), values, step)
            _note(values, step)
            if made is None or not _says(made, values):
                problem = "this change cannot be made in the way that the file is written"
                raise Faults([Fault(document.place(step.path), written(step.path), problem, "Make it by hand.")])
            content = made
    return content


def _says(content: bytes, values: Any) -> bool:
    """Whether the text says these values."""
    try:
        said = tomllib.loads(content.decode())
    except tomllib.TOMLDecodeError:
        return False
    return bool(_without_empty(said) == _without_empty(plain(values)))


def _check(document: Document, values: Any, edit: Edit) -> None:
    """Faults for an edit that has nothing to work on."""
    here = values
    for length, part in enumerate(edit.path):
        is_last = length == len(edit.path) - 1
        if isinstance(here, dict) and isinstance(part, str):
            if part in here:
                here = here[part]
                continue
            if not isinstance(edit, Drop):
                if any(isinstance(name, int) for name in edit.path[length + 1 :]):
                    problem = f"there is no list {written(edit.path[: length + 1])} to put something into"
                    raise Faults([Fault(document.place(edit.path), "", problem, "Put the list as a whole.")])
                return
        elif isinstance(here, list) and isinstance(part, int):
            if 0 <= part < len(here):
                here = here[part]
                continue
            if part == len(here) and is_last and not isinstance(edit, Drop):
                return
        elif not isinstance(edit, Drop):
            kind = "list" if isinstance(part, int) else "table"
            problem = f"{written(edit.path[:length]) or 'the file'} is no {kind} to put something into"
            raise Faults([Fault(document.place(edit.path[:length]), "", problem, "Change it by hand.")])
        problem = f"there is no {written(edit.path[: length + 1])} to change"
        raise Faults([Fault(document.place(edit.path), "", problem, "Read the file again.")])


def _steps(values: Any, edit: Edit) -> Iterator[Edit]:
    """The edit in steps of which each changes one piece of text; a Put is now of something that differs."""
    if not isinstance(edit, Put):
        yield edit
        return
    old, stands = _at(values, edit.path)
    new = edit.value
    if not stands:
        yield edit
    elif isinstance(old, dict) and isinstance(new, Mapping):
        for key in [key for key in old if key not in new]:
            yield Drop((*edit.path, key))
        for key, value in new.items():
            yield from _steps(values, Put((*edit.path, key), value))
    elif isinstance(old, list) and isinstance(new, (list, tuple)):
        yield from _list_steps(values, edit.path, old, list(new))
    elif not _same(old, new):
        yield edit


def _list_steps(values: Any, path: KeyPath, old: list[Any], new: list[Any]) -> Iterator[Edit]:
    """What is alike at both ends stays; between them items are changed in their places, then taken out or put in."""
    start = 0
    while start < min(len(old), len(new)) and _same(old[start], new[start]):
        start += 1
    behind = 0
    while behind < min(len(old), len(new)) - start and _same(old[-1 - behind], new[-1 - behind]):
        behind += 1
    old_end, new_end = len(old) - behind, len(new) - behind
    for index in range(start, min(old_end, new_end)):
        yield from _steps(values, Put((*path, index), new[index]))
    for index in range(old_end - 1, min(old_end, new_end) - 1, -1):
        yield Drop((*path, index))
    for index in range(min(old_end, new_end), new_end):
        yield Insert((*path, index), new[index])


def _carried_out(source: TomlText, values: Any, step: Edit) -> bytes | None:
    """The text with this step made; None where a table under a header of its own would become something else."""
    if isinstance(step, Drop):
        return dropped(source, step.path)
    around, _ = _at(values, step.path[:-1])
    if isinstance(around, list) and source.value(step.path[:-1]) is None and not isinstance(step.value, Mapping):
        return None
    if isinstance(step, Insert) or isinstance(around, list) and step.path[-1] == len(around):
        return inserted(source, step.path, step.value)
    if not _at(values, step.path)[1]:
        return added(source, step.path, step.value)
    if source.value(step.path) is not None:
        return replaced(source, step.path, step.value)
    return added(TomlText(dropped(source, step.path)), step.path, step.value)  # a table by headers becomes a value


def _note(values: Any, step: Edit) -> None:
    """Make the step in the values."""
    here = values
    *above, last = step.path
    for part in above:
        here = here.setdefault(part, {}) if isinstance(here, dict) else here[part]
    if isinstance(step, Drop):
        del here[last]
    elif isinstance(here, list) and isinstance(last, int) and (isinstance(step, Insert) or last == len(here)):
        here.insert(last, plain(step.value))
    else:
        here[last] = plain(step.value)


def _at(values: Any, path: KeyPath) -> tuple[Any, bool]:
    """What stands at the path, and whether anything does."""
    here = values
    for part in path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return None, False
    return here, True


def _same(old: Any, new: Any) -> bool:
    """Whether the file says this already; 24 and 24.0 are the same number, 1 and true are not the same."""
    if isinstance(old, bool) or isinstance(new, bool):
        return old is new
    if isinstance(old, list) and isinstance(new, (list, tuple)):
        return len(old) == len(new) and all(map(_same, old, new))
    if isinstance(old, dict) and isinstance(new, Mapping):
        return old.keys() == new.keys() and all(_same(old[key], new[key]) for key in old)
    return bool(old == plain(new))


def _without_empty(values: Any) -> Any:
    """Without tables and lists in which nothing is left: whether their own headers stand says nothing.

    What is no number is a word here, since it would not be equal to itself.
    """
    if isinstance(values, dict):
        kept = {key: _without_empty(value) for key, value in values.items()}
        return {key: value for key, value in kept.items() if value not in ({}, [])}
    if isinstance(values, list):
        return [_without_empty(value) for value in values]
    return "nan" if values != values else values
