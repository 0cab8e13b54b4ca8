"""The glossary: quantities and inputs, the keys that the maker types, the words that formulas use."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from typing import get_args, get_origin

from pydantic import BaseModel

from pricing.errors import UsageFault, nearest
from pricing.formulas.graph import Graph
from pricing.model.given import kinds_of
from pricing.model.process import StepFigures
from pricing.model.product import OwnInAlloy
from pricing.model.stated import FILE_OF, Stated
from pricing.words import WORDS

#: Figures that take the place of others are named as those are.
OVERLAYS = (StepFigures, OwnInAlloy)


def _written() -> Iterator[tuple[str, type[BaseModel]]]:
    """Every stated table and the file that it is first met in."""
    met: set[type[BaseModel]] = {*OVERLAYS}
    lacking = [(FILE_OF[part][0], field.annotation) for part, field in Stated.model_fields.items()]
    while lacking:
        file, annotation = lacking.pop(0)
        inside = []
        for kind in kinds_of(annotation):
            if hasattr(kind, "model_fields") and kind not in met:
                met.add(kind)
                yield file, kind
                inside += [(file, field.annotation) for field in kind.model_fields.values()]
            elif get_origin(kind) in (dict, tuple):
                inside += [(file, each) for each in get_args(kind)]
        lacking = inside + lacking


#: Where each stated table is written: for a person to find it.
WRITTEN: tuple[tuple[str, type[BaseModel]], ...] = tuple(_written())


@dataclass(frozen=True)
class Entry:
    """One name of the cost model; `formula` and `because` are empty for what the maker states."""

    name: str
    table: str
    unit: str
    meaning: str
    formula: str = ""
    because: str = ""
    needs: tuple[str, ...] = ()
    used_by: tuple[str, ...] = ()


def glossary(graph: Graph) -> list[Entry]:
    """Quantities in the order in which they are computed, then inputs by table."""
    users: dict[str, list[str]] = {}
    for quantity in graph.quantities.values():
        for need in quantity.needs:
            users.setdefault(need.column, []).append(quantity.name)
    computed = [
        Entry(
            quantity.name,
            quantity.table,
            quantity.unit,
            quantity.meaning,
            quantity.formula,
            quantity.because,
            tuple(dict.fromkeys(need.column for need in quantity.needs)),
            tuple(dict.fromkeys(users.get(quantity.name, ()))),
        )
        for quantity in graph.quantities.values()
    ]
    stated = [
        Entry(
            known.name, known.table, known.unit, known.meaning, used_by=tuple(dict.fromkeys(users.get(known.name, ())))
        )
        for known in graph.inputs.values()
        if known.stated is None
    ]
    return computed + stated


@dataclass(frozen=True)
class Key:
    """A key that the maker types: in which table of which file, and what it means."""

    name: str
    file: str
    table: str
    meaning: str


def keys() -> Iterator[Key]:
    """Every key of the workshop folder's files."""
    for file, model in WRITTEN:
        for name, field in model.model_fields.items():
            yield Key(field.alias or name, file, model.__name__.lower(), field.description or "")


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
    if not found:
        names = {*known, *(key.name for key in typed), *WORDS}
        close = nearest(name, names)
        mend = f'Did you mean "{close}"?' if close else "troytag words lists what there is."
        raise UsageFault(f'there is no quantity, key or word "{name}". {mend}')
    return found
