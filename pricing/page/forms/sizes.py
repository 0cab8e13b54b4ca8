"""The sizes of a product as fields of its form, and what they say in its file."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import Any

from pricing.folder.shapes import shapes_of
from pricing.folder.toml.places import KeyPath
from pricing.folder.typed_values import figure, word
from pricing.model.product import Product
from pricing.model.sizes import Sizes
from pricing.page.forms.typed import spelled

_BEFORE = "sizes-"
#: The fields, by name, with the kind of what is typed into them.
SIZE_FIELDS: Mapping[str, str] = MappingProxyType(
    {f"{_BEFORE}{key}": shape.kind for key, shape in shapes_of(Sizes).items()}
)
#: The names of the model's fields by their keys in the file, where they differ.
_ATTRIBUTES = MappingProxyType({info.alias or name: name for name, info in Sizes.model_fields.items()})


def size_fields(sizes: Sizes | None) -> dict[str, str]:
    """The texts of the fields; empty where nothing is stated."""
    return {name: _spelled(getattr(sizes, _attribute(name)) if sizes else None) for name in SIZE_FIELDS}


def size_values(text_of: Callable[[str], str]) -> dict[str, Any]:
    """What the fields say, by their names; None where nothing is said."""
    return {name: _value(kind, text_of(name)) for name, kind in SIZE_FIELDS.items()}


def path_of(key: str) -> KeyPath:
    """Where a key of the form stands in the product's file."""
    return ("sizes", key.removeprefix(_BEFORE)) if key in SIZE_FIELDS else (key,)


def is_stated(product: Product, key: str) -> bool:
    """Whether a product itself states a key of the form, and does not take it from another."""
    if key in SIZE_FIELDS:
        return product.sizes is not None and _attribute(key) in product.sizes.model_fields_set
    return key in product.model_fields_set


def nested(values: Mapping[str, Any]) -> dict[str, Any]:
    """A new product's values as its file has them."""
    stated = {key: value for key, value in values.items() if value is not None}
    sizes = {key.removeprefix(_BEFORE): value for key, value in stated.items() if key in SIZE_FIELDS}
    found = {key: value for key, value in stated.items() if key not in SIZE_FIELDS}
    return found | ({"sizes": sizes} if sizes else {})


def _attribute(name: str) -> str:
    return _ATTRIBUTES[name.removeprefix(_BEFORE)]


def _spelled(value: Any) -> str:
    if isinstance(value, Mapping):
        return ", ".join(f"{name} = {spelled(each)}" for name, each in value.items())
    return ", ".join(value) if isinstance(value, tuple) else spelled(value)


def _value(kind: str, text: str) -> Any:
    """A text as the value of a key: `S = 160, M = 175` as a table, `J, L½` as a list."""
    if kind == "number":
        return figure(text)
    if kind == "switch":
        return True if text == "true" else None  # a box that is not ticked says nothing
    parts = [part.strip() for part in text.split(",") if part.strip()]
    if kind == "names":
        return parts or None
    if kind == "figures":
        pairs = [part.rpartition("=") for part in parts]
        return {name.strip(): figure(number) for name, _, number in pairs} or None
    return word(text)
