"""What a stated model expects at a path: the table that stands there and the keys that it knows."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel, RootModel
from pydantic.fields import FieldInfo

from pricing.folder.toml.places import KeyPath


@cache
def keys_of(model: type[BaseModel]) -> dict[str, FieldInfo]:
    """The keys of a model's table as they are written in the file."""
    return {field.alias or name: field for name, field in model.model_fields.items()}


def table_at(model: type[BaseModel], path: KeyPath) -> type[BaseModel] | None:
    """The model of the table at `path` below `model`; None where no table with fixed keys stands there."""
    here: Any = model
    for part in path:
        here = _inside(here, part)
    return next((kind for kind in _kinds(here) if isinstance(kind, type) and issubclass(kind, BaseModel)), None)


def _inside(annotation: Any, part: str | int) -> Any:
    for kind in _kinds(annotation):
        if isinstance(kind, type) and issubclass(kind, RootModel):
            return _inside(kind.model_fields["root"].annotation, part)
        if isinstance(kind, type) and issubclass(kind, BaseModel):
            field = keys_of(kind).get(str(part))
            return field.annotation if field else None
        if get_origin(kind) is dict and isinstance(part, str):
            return get_args(kind)[1]
        if get_origin(kind) is tuple and isinstance(part, int):
            return get_args(kind)[0]
    return None


def _kinds(annotation: Any) -> Iterator[Any]:
    """The kinds that an annotation allows, without its constraints and alternatives."""
    origin = get_origin(annotation)
    if origin is Annotated:
        yield from _kinds(get_args(annotation)[0])
    elif origin in (dict, tuple) or isinstance(annotation, type):
        yield annotation
    else:
        for inner in get_args(annotation):
            yield from _kinds(inner)
