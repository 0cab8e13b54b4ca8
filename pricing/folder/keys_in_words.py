"""What a name means: a quantity, an input, a key that the maker types, a word of formulas or of the trade."""

from __future__ import annotations

import inspect
import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args, get_origin

from pydantic import BaseModel, RootModel

from pricing.errors import UsageFault, nearest
from pricing.folder.expected_keys import keys_of
from pricing.folder.files import FILES
from pricing.formulas.glossary import Entry, glossary
from pricing.formulas.graph import Graph
from pricing.formulas.headings import HEADINGS
from pricing.formulas.trade_words import trade_words
from pricing.model.given import kinds_of
from pricing.words import WORDS


@dataclass(frozen=True)
class Key:
    """A key that the maker types: in which table of which file, and what it means."""

    name: str
    file: str
    table: str
    meaning: str


def tables() -> Iterator[tuple[str, type[BaseModel]]]:
    """Every table that a maker can write, and the file that it is first met in; each once."""
    met: set[type[BaseModel]] = set()
    lacking = [(file.name, file.model) for file in FILES]
    while lacking:
        file, annotation = lacking.pop(0)
        inside = []
        for kind in kinds_of(annotation):
            if get_origin(kind) in (dict, tuple):
                inside += [(file, each) for each in get_args(kind)]
            elif issubclass(kind, BaseModel) and kind not in met:
                met.add(kind)
                if not issubclass(kind, RootModel):
                    yield file, kind
                inside += [(file, field.annotation) for field in kind.model_fields.values()]
        lacking = inside + lacking


def keys() -> Iterator[Key]:
    """Every key of the workshop folder's files."""
    for file, model in tables():
        table = " ".join(re.findall("[A-Z][a-z]*", model.__name__)).lower()
        for name, field in keys_of(model).items():
            yield Key(name, file, table, field.description or "")


def entries_of(graph: Graph, name: str) -> list[Entry | Key]:
    """Everything that goes by a name: quantity or input, keys of files, word of formulas.

    Raises UsageFault, with the nearest name, where there is none.
    """
    known = {each.name: each for each in glossary(graph)}
    typed = list(keys())
    found: list[Entry | Key] = [known[name]] if name in known else []
    found += [key for key in typed if key.name == name]
    if name in WORDS:
        found.append(Key(name, "formulas", "word", (inspect.getdoc(WORDS[name]) or "").splitlines()[0]))
    if name in HEADINGS:
        found.append(Key(name, "screens", "heading", HEADINGS[name]))
    if (word := trade_words().get(name.lower())) is not None:
        found.append(Key(name, "trade", "trade", f"{word.meaning} Ask for: {', '.join(word.see)}."))
    if not found:
        names = {*known, *(key.name for key in typed), *WORDS, *HEADINGS, *trade_words()}
        close = nearest(name, names)
        mend = f'Did you mean "{close}"?' if close else "troytag words lists what there is."
        raise UsageFault(f'there is no quantity, key or word "{name}". {mend}')
    return found
