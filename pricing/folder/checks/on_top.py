"""Fractions that come on top (premiums, waste, on-costs) and look like percentages, wherever the folder states one."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from functools import cache
from typing import Annotated, Any, get_args, get_origin

from pydantic import BaseModel

from pricing.errors import Fault
from pricing.folder.files import ALLOYS_FILE, PROCESSES_FILE, WORKSHOP_FILE
from pricing.folder.gathered import Parts
from pricing.folder.toml.places import KeyPath
from pricing.model.base import ON_TOP
from pricing.model.given import kinds_of
from pricing.model.product import Product


def on_top_warnings(parts: Parts) -> Iterator[Fault]:
    """Every fraction on top that is above 1: allowed, and seldom meant."""
    stated: list[tuple[str, KeyPath, Any]] = [
        (WORKSHOP_FILE, (), parts.workshop),
        (ALLOYS_FILE, ("alloys",), parts.alloys),
        (PROCESSES_FILE, ("processes",), parts.processes),
    ]
    above_one = [(file, _above_one(model, above)) for file, above, model in stated]
    above_one += [
        (parts.documents.product_files[sku], _above_one_in(parts, product)) for sku, product in parts.products.items()
    ]
    for file, found in above_one:
        for path, value in found:
            yield parts.documents.fault(
                file,
                path,
                f"{value:g} is {100 * value:g} % on top",
                f"If you meant {value:g} %, write {value / 100:g}.",
            )


def _above_one_in(parts: Parts, product: Product) -> tuple[tuple[KeyPath, float], ...]:
    """The same of a product, each looked at once."""
    kept = parts.memory.on_top
    held = kept.get(id(product)) or kept.put(id(product), (product, _above_one(product, ())))
    return held[1]


def _above_one(model: Any, above: KeyPath) -> tuple[tuple[KeyPath, float], ...]:
    if not _has_above_one(model):  # as nearly nothing has, so that it is asked first
        return ()
    return tuple((path, value) for path, value in fractions_on_top(model, above) if value > 1)


def _has_above_one(stated: Any) -> bool:
    if isinstance(stated, BaseModel):
        held = stated.__dict__
        for name, is_one in _leading_on(type(stated)):
            value = held[name]
            if value and (value > 1 if is_one else _has_above_one(value)):
                return True
        return False
    if isinstance(stated, Mapping):
        return any(map(_has_above_one, stated.values()))
    return isinstance(stated, tuple) and any(map(_has_above_one, stated))


def fractions_on_top(stated: Any, path: KeyPath = ()) -> Iterator[tuple[KeyPath, float]]:
    """Every fraction on top in what is stated, with the keys that lead to it."""
    if isinstance(stated, BaseModel):
        held = stated.__dict__
        for name, is_one in _leading_on(type(stated)):
            value = held[name]
            if is_one and value is not None:
                yield (*path, name), value
            elif value and not is_one:  # most of what may lead to one is not stated
                yield from fractions_on_top(value, (*path, name))
    elif isinstance(stated, Mapping):
        for key, value in stated.items():
            yield from fractions_on_top(value, (*path, key))
    elif isinstance(stated, tuple):
        for place, value in enumerate(stated):
            yield from fractions_on_top(value, (*path, place))


@cache
def _leading_on(model: type[BaseModel]) -> tuple[tuple[str, bool], ...]:
    """The fields of a model that are fractions on top (True) or lead to some (False)."""
    found = []
    for name, field in model.model_fields.items():
        if ON_TOP in field.metadata or _is_on_top(field.annotation):
            found.append((name, True))
        elif any(_leading_on(inner) for inner in _models_in(field.annotation) if inner is not model):
            found.append((name, False))
    return tuple(found)


def _is_on_top(annotation: Any) -> bool:
    """Whether an annotation says so of itself or of one of its alternatives."""
    if get_origin(annotation) is Annotated:
        return ON_TOP in get_args(annotation)[1:]
    return get_origin(annotation) not in (dict, tuple) and any(map(_is_on_top, get_args(annotation)))


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    for kind in kinds_of(annotation):
        if get_origin(kind) in (dict, tuple):
            for inner in get_args(kind):
                yield from _models_in(inner)
        elif isinstance(kind, type) and issubclass(kind, BaseModel):
            yield kind
