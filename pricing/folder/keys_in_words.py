"""What a name means: a quantity, an input, a key that the maker types, a word of formulas or of the trade.

To say it takes no model and no formula once they have been read: all names are remembered, by the program's sources.
"""

from __future__ import annotations

import inspect
import json
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any, get_args, get_origin

from pricing.errors import UsageFault, nearest
from pricing.formulas.glossary import Entry, glossary
from pricing.formulas.headings import HEADINGS
from pricing.formulas.trade_words import trade_words
from pricing.remembered import keep, program, recalled
from pricing.words import WORDS

if TYPE_CHECKING:
    from pydantic import BaseModel

    from pricing.formulas.graph import Graph

#: What all names are kept under, and how much that may be: some hundred kilobytes.
KEPT, MOST_BYTES = "names.kept", 2**23


@dataclass(frozen=True)
class Key:
    """A key that the maker types: in which table of which file, and what it means."""

    name: str
    file: str
    table: str
    meaning: str


@dataclass(frozen=True)
class Names:
    """Every quantity and input of a graph, and every key of the files."""

    entries: tuple[Entry, ...]
    keys: tuple[Key, ...]


def names_of(graph: Graph) -> Names:
    """All names, from formulas and models."""
    return Names(tuple(glossary(graph)), tuple(keys()))


def remembered_names(graph: Callable[[], Graph]) -> Names:
    """The names of the graph that this program makes: as they were kept, or from it and then kept."""
    by = program()
    content = recalled("words", KEPT, MOST_BYTES) if by else None
    if content is not None:
        try:
            kept = json.loads(content)
            if kept["by"] == by:
                return Names(
                    tuple(Entry(**_texts(each)) for each in kept["entries"]),
                    tuple(Key(**_texts(each)) for each in kept["keys"]),
                )
        except (ValueError, KeyError, TypeError, AttributeError, RecursionError):
            pass  # it is none of ours
    names = names_of(graph())
    if by:
        keep("words", KEPT, json.dumps({"by": by, **asdict(names)}).encode())
    return names


def _texts(kept: Mapping[str, Any]) -> dict[str, Any]:
    """Fields of an entry: texts, or lists of them. Raises TypeError for anything else."""
    found = {name: tuple(value) if isinstance(value, list) else value for name, value in kept.items()}
    for value in found.values():
        if not all(isinstance(each, str) for each in (value if isinstance(value, tuple) else (value,))):
            raise TypeError(value)
    return found


def tables() -> Iterator[tuple[str, type[BaseModel]]]:
    """Every table that a maker can write, and the file that it is first met in; each once."""
    from pydantic import BaseModel, RootModel

    from pricing.folder.files import FILES
    from pricing.model.given import kinds_of

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
    from pricing.folder.expected_keys import keys_of

    for file, model in tables():
        table = " ".join(re.findall("[A-Z][a-z]*", model.__name__)).lower()
        for name, field in keys_of(model).items():
            yield Key(name, file, table, field.description or "")


def entries_of(among: Graph | Names, name: str) -> list[Entry | Key]:
    """Everything that goes by a name: quantity or input, keys of files, word of formulas.

    Raises UsageFault, with the nearest name, where there is none.
    """
    names = among if isinstance(among, Names) else names_of(among)
    known = {each.name: each for each in names.entries}
    typed = names.keys
    found: list[Entry | Key] = [known[name]] if name in known else []
    found += [key for key in typed if key.name == name]
    if name in WORDS:
        found.append(Key(name, "formulas", "word", (inspect.getdoc(WORDS[name]) or "").splitlines()[0]))
    if name in HEADINGS:
        found.append(Key(name, "screens", "heading", HEADINGS[name]))
    if (word := trade_words().get(name.lower())) is not None:
        found.append(Key(name, "trade", "trade", f"{word.meaning} Ask for: {', '.join(word.see)}."))
    if not found:
        close = nearest(name, {*known, *(key.name for key in typed), *WORDS, *HEADINGS, *trade_words()})
        mend = f'Did you mean "{close}"?' if close else "troytag words lists what there is."
        raise UsageFault(f'there is no quantity, key or word "{name}". {mend}')
    return found
