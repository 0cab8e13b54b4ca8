"""A form beside its file once more: what the maker changed against what was shown, where the file has moved on.

Everything here is text by the names of fields: what was `shown` when the form was opened, what was `typed`, and what
the same form would show `now`. Items of a list have no name but their place in it, so a list is one thing: where
somebody else changed it, a place in it may mean another item, and nothing typed into it is taken up unseen.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass

from pricing.page.forms.fields import REMOVED

#: The part of a field's name up to the first list that it stands in; a bracket within quotation marks is none.
_LIST = re.compile(r'((?:[^"\[]|"(?:[^"\\]|\\.)*")*\[)\d')
_LINE_END = re.compile(r"[\r\n]+")


@dataclass(frozen=True)
class Merged:
    """`fields` is what the form comes to on the file of now; `torn` are the names that both changed, to something else.

    `kept` are the typed texts that may stand in the form of now: those of torn names that mean there what they meant.
    """

    fields: Mapping[str, str]
    torn: tuple[str, ...]
    kept: Mapping[str, str]


def shown_of(text: str) -> Mapping[str, str] | None:
    """What a form showed, as it was sent along; None where it does not say."""
    try:
        found = json.loads(text)
        if isinstance(found, dict) and all(isinstance(value, str) for value in found.values()):
            "".join([*found, *found.values()]).encode()  # half a letter is none
            return found
    except (ValueError, RecursionError):
        pass
    return None


def merged(shown: Mapping[str, str], typed: Mapping[str, str], now: Mapping[str, str]) -> Merged:
    """What was typed, taken up on the file as it is now."""
    changed = {name: text for name, text in typed.items() if not same(text, shown.get(name, ""))}
    moved = {name for name in {*shown, *now} if shown.get(name) != now.get(name)}
    torn, kept = [], {}
    for name, text in changed.items():
        unit = _unit(name)
        if unit is None:
            if name in moved and not same(text, now.get(name, "")):
                torn.append(name)
                if name in now:
                    kept[name] = text
        elif any(other.startswith(unit) for other in moved):
            torn.append(name)
    return Merged({**now, **changed}, tuple(torn), {**_free(changed, torn), **kept})


def _free(changed: Mapping[str, str], torn: list[str]) -> dict[str, str]:
    return {name: text for name, text in changed.items() if name not in torn}


def _unit(name: str) -> str | None:
    """How the names begin of all that is one thing with this field; None where it stands by itself."""
    inner = name.removeprefix(f"{REMOVED} ")
    if found := _LIST.match(inner):
        return found[1]
    if inner != name:  # what goes is all that stands in it
        return "" if inner == "this" else f"{inner}."
    return None


def same(typed: str, other: str) -> bool:
    """Whether a field still holds what it held; browsers take line ends out of a field of one line."""
    return typed == other or typed.replace("\r\n", "\n") == other or typed == _LINE_END.sub("", other)
