"""Values of a file to a model; where some are refused, to as much of it as can be built.

A reading tells every fault at once, also those that lie between files. So a file with a slip in one table
still yields its other tables: what was refused is taken out, and the rest is built again. What comes to
light only because something was taken out is no fault of the maker's and is not told.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Generic, Literal, TypeVar

from pydantic import BaseModel, ValidationError

from pricing.errors import Fault
from pricing.folder.expected_keys import table_at
from pricing.folder.refused_values import MOST_REFUSALS, Refusal, refusals
from pricing.folder.toml.places import Document, KeyPath, written
from pricing.model.base import SENSE

Model = TypeVar("Model", bound=BaseModel)

#: Tables stand in each other at most this deep, and every round takes at least one level out.
_ROUNDS = 8


@dataclass
class Salvage(Generic[Model]):
    """What came of one file: the model (None where nothing could be built), the faults, what was taken out."""

    model: Model | None
    faults: list[Fault] = field(default_factory=list)
    taken_out: set[KeyPath] = field(default_factory=set)


def salvaged(model: type[Model], document: Document) -> Salvage[Model]:
    """The document's values as `model`, with a fault for everything that it refuses."""
    salvage: Salvage[Model] = Salvage(None)
    values: Any = document.values
    for _ in range(_ROUNDS):
        try:
            salvage.model = model.model_validate(values)
            return salvage
        except ValidationError as error:
            found = refusals(model, values, error)
        salvage.faults += [_fault(document, one) for one in found if not _follows(one, salvage.taken_out)]
        out = {_to_take_out(model, values, one) for one in found}
        if () in out or len(found) >= MOST_REFUSALS:
            return salvage
        salvage.taken_out |= out
        values = _without(values, out)
    return salvage


def _fault(document: Document, refusal: Refusal) -> Fault:
    if refusal.kind == "missing":
        return Fault(document.place(refusal.table), written(refusal.table), refusal.problem, refusal.mend)
    at: Literal["key", "value"] = "key" if refusal.at == "key" else "value"
    return Fault(document.place(refusal.path, at), key_of(document, refusal.path), refusal.problem, refusal.mend)


def key_of(document: Document, path: KeyPath) -> str:
    """The key that a fault at `path` is told under: an item of a plain list by the list's own key."""
    here: Any = document.values
    for part in path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            return written(path)
    if path and isinstance(path[-1], int) and not isinstance(here, Mapping):
        return written(path[:-1])
    return written(path)


def _follows(refusal: Refusal, taken_out: set[KeyPath]) -> bool:
    """Whether it comes to light only because something was taken out of the same table."""
    return any(
        path[: len(refusal.table)] == refusal.table and len(path) == len(refusal.table) + 1 for path in taken_out
    )


def _to_take_out(model: type[BaseModel], values: Any, refusal: Refusal) -> KeyPath:
    """What to leave out to build the rest: a key, its table if that cannot do without, a whole list for an item."""
    path = refusal.table if refusal.kind in ("missing", SENSE) else refusal.path
    for length, part in enumerate(path):
        if isinstance(part, int):
            return path[:length]
    if len(path) > 1 and table_at(model, path[:-1]) is None and not isinstance(_at(values, path), Mapping):
        return path[:-1]  # a composition is one figure: without one of its parts it is another
    return path


def _at(values: Any, path: KeyPath) -> Any:
    for part in path:
        values = values[part] if isinstance(values, Mapping) and part in values else None
    return values


def _without(values: Any, out: set[KeyPath]) -> Any:
    """The values without what stands at these paths; the original stays as it is."""
    if not isinstance(values, Mapping):
        return values
    kept = {}
    for key, value in values.items():
        if (key,) in out:
            continue
        below = {path[1:] for path in out if len(path) > 1 and path[0] == key}
        kept[key] = _without(value, below) if below else value
    return kept
