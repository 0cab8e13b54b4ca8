"""The files of a large folder parsed in a sixth of the time: plain ones by a compiled parser, others by `tomllib`.

`toml_rs` is made for speed: it reads on behind a fault, deeper with each sign, until it may end the whole process, and
lets pass some things that TOML forbids. So it is given only what is surely sound line by line: no escapes, no keys of
more than two parts but in headers, nothing in anything else deeper than `DEEPEST`. The forms are parts of those of
https://toml.io/en/v1.0.0 (whether a key is there twice they do not say); no sign is looked at twice, so that a text
takes as long as it has signs. All other texts, and whatever it refuses, are `tomllib`'s, whose words are known.
"""

from __future__ import annotations

import re
import sys
import threading
import tomllib
from collections.abc import Callable
from functools import cache, partial
from typing import Any

#: Lists and braces in each other.
DEEPEST = 3

_BLANKS, _LINE_END = r"[ \t]*+", r"\r?\n"
_COMMENT = r"#[^\x00-\x08\n-\x1f\x7f]*+"
_TEXT = r"""(?:"[^"\\\x00-\x08\n-\x1f\x7f]*+"|'[^'\x00-\x08\n-\x1f\x7f]*+')"""
_LINES = r'''"""(?:[^"\\\x00-\x08\x0b-\x1f\x7f]++|\r\n)*+"""'''
_PART = rf"(?:[A-Za-z0-9_-]++|{_TEXT})"
_DAY = r"[0-9]{4}-[0-9]{2}-[0-9]{2}"
_NUMBER = r"[+-]?(?:0|[1-9][0-9]{0,40})(?:\.[0-9]{1,40})?(?:[eE][+-]?[0-9]{1,4})?"
_PLAIN_VALUE = rf"{_DAY}|{_NUMBER}|true|false|{_LINES}|{_TEXT}"
_KEY = rf"{_PART}{_BLANKS}(?:\.{_BLANKS}{_PART}{_BLANKS})?+={_BLANKS}"
_HEADER = rf"{_BLANKS}{_PART}{_BLANKS}(?:\.{_BLANKS}{_PART}{_BLANKS}){{0,9}}+"


def loads(text: str) -> dict[str, Any]:
    """What the text says; raises as `tomllib` does."""
    compiled = _compiled_parser()
    if compiled is not None and is_in_plain_forms(text):
        try:
            return compiled(text)
        except ValueError:  # told by the one whose words are known
            pass
    return tomllib.loads(text)


def make_ready() -> None:
    """Load the compiled parser where it may be loaded: who reads files in threads calls this before they begin."""
    _compiled_parser()


def _compiled_parser() -> Callable[[str], dict[str, Any]] | None:
    """The compiled parser, of the TOML that `tomllib` knows; None where it is not there or must not be loaded.

    Once the thread that loaded it has ended, the next reading ends the whole process. So no thread loads it but the
    first, which ends last; what others read before is read by the plain one.
    """
    if "toml_rs" not in sys.modules and threading.current_thread() is not threading.main_thread():
        return None
    return _loaded()


@cache
def _loaded() -> Callable[[str], dict[str, Any]] | None:
    try:
        import toml_rs
    except ImportError:
        return None
    return partial(toml_rs.loads, toml_version="1.0.0")


def is_in_plain_forms(text: str) -> bool:
    """Whether every line of the text is in one of these forms."""
    return _whole().fullmatch(text) is not None


@cache
def _whole() -> re.Pattern[str]:
    value = f"(?>{_PLAIN_VALUE})"
    for _ in range(DEEPEST):
        value = f"(?>{_PLAIN_VALUE}|{_list_of(value)}|{_braces_of(value)})"
    statement = rf"(?>\[\[{_HEADER}\]\]|\[{_HEADER}\]|{_KEY}{value})"
    line = rf"{_BLANKS}(?:{statement}{_BLANKS})?+(?:{_COMMENT})?+"
    return re.compile(rf"(?:{line}{_LINE_END})*+{line}")


def _list_of(value: str) -> str:
    between = rf"(?:[ \t]|{_LINE_END}|{_COMMENT}{_LINE_END})*+"
    return rf"\[{between}(?:{value}{between}(?:,{between}|(?=\])))*+\]"


def _braces_of(value: str) -> str:
    return rf"\{{{_BLANKS}(?:{_KEY}{value}{_BLANKS}(?:,{_BLANKS}(?!\}})|(?=\}})))*+\}}"
