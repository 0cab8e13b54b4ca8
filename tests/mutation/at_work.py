"""Puts a mistake into a program that runs: every function of the file goes on with the mistaken code.

A function stays the same object, so whoever holds it has the mistake: the graph, a bound formula, a table of words.
"""

from __future__ import annotations

import functools
import gc
import linecache
import sys
from collections.abc import Iterable, Iterator
from pathlib import Path
from types import CodeType, FunctionType


class NothingToChange(Exception):
    """No function of the running program holds the mistake."""


class Running:
    """The functions of some files of a running program, and what the package keeps of earlier calls."""

    def __init__(self, files: Iterable[Path]):
        self.functions: dict[str, list[FunctionType]] = {str(file): [] for file in files}
        self.as_written = {
            name: dict(_codes(compile(Path(name).read_text(encoding="utf-8"), name, "exec", dont_inherit=True)))
            for name in self.functions
        }
        self.kept = []
        for each in gc.get_objects():
            if isinstance(each, FunctionType) and each.__code__.co_filename in self.functions:
                self.functions[each.__code__.co_filename].append(each)
            elif isinstance(each, functools._lru_cache_wrapper) and str(each.__module__).startswith("pricing"):
                self.kept.append(each)

    def put_in(self, file: Path, text: str) -> None:
        """Give the functions of a file the code of `text`, whose lines begin as the file's do."""
        name, changed = str(file), 0
        mistaken = dict(_codes(compile(text, name, "exec", dont_inherit=True)))
        for function in self.functions[name]:
            key = _key(function.__code__)
            if key in mistaken and mistaken[key] != self.as_written[name].get(key):
                function.__code__ = mistaken[key]
                changed += 1
        if not changed and not self.put_figures_in(name, compile(text, name, "exec", dont_inherit=True)):
            raise NothingToChange
        linecache.cache[name] = (len(text), None, text.splitlines(keepends=True), name)

    def put_figures_in(self, name: str, code: CodeType) -> bool:
        """Give the file's own figures, and those who took them from it, what its mistaken lines make of them."""
        held = next((each for each in sys.modules.values() if getattr(each, "__file__", None) == name), None)
        if held is None:
            return False
        mistaken: dict[str, object] = {"__name__": held.__name__, "__file__": name}
        exec(code, mistaken)
        moved = {
            key: value
            for key, value in mistaken.items()
            if isinstance(value, int | float | tuple) and vars(held).get(key) != value
        }
        for key, value in moved.items():
            before = vars(held)[key]
            for module in list(sys.modules.values()):
                if getattr(module, "__dict__", {}).get(key) is before:
                    setattr(module, key, value)
        return bool(moved)

    def forget(self) -> None:
        """Empty what the package keeps of earlier calls."""
        for each in self.kept:
            each.cache_clear()


def _key(code: CodeType) -> tuple[str, int]:
    return code.co_qualname, code.co_firstlineno


def _codes(code: CodeType) -> Iterator[tuple[tuple[str, int], CodeType]]:
    yield _key(code), code
    for inner in code.co_consts:
        if isinstance(inner, CodeType):
            yield from _codes(inner)
