"""What may stand under a key of a stated model: for forms, for the makers' sheet, for whoever asks by kind."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from types import MappingProxyType
from typing import Annotated, Any, Literal, get_args, get_origin

from pydantic import BaseModel

from pricing.folder.expected_keys import keys_of

#: Kinds of values that stand in one field; "either" is a number or a word.
PLAIN = frozenset({"number", "text", "choice", "switch", "names", "either"})


@dataclass(frozen=True)
class Shape:
    """What an annotation comes to: `kind` as of a Field, or "table", "tables", "figures" (both by name), "list".

    `or_list` is the list that may stand in the place of a table.
    """

    kind: str
    model: type[BaseModel] | None = None
    options: tuple[str, ...] = ()
    limits: str = ""
    is_whole: bool = False
    or_list: Shape | None = None

    def of(self, value: Any) -> Shape:
        """What this value is, where there are two ways of stating it."""
        return self.or_list if self.or_list is not None and isinstance(value, list) else self

    @property
    def table(self) -> type[BaseModel]:
        """The model of the table, or of each table or item; to be asked only of kinds that have one."""
        assert self.model is not None, f"{self.kind} has no model"
        return self.model


def shape_of(annotation: Any, metadata: tuple[Any, ...] = ()) -> Shape:
    """What may stand under a key."""
    origin = get_origin(annotation)
    if origin is Annotated:
        inner, *more = get_args(annotation)
        return shape_of(inner, (*metadata, *more))
    if origin is Literal:
        options = get_args(annotation)
        return Shape("choice", options=tuple(map(str, options))) if isinstance(options[0], str) else Shape("number")
    if origin is dict:
        inner = shape_of(get_args(annotation)[1])
        if inner.kind == "table":
            return Shape("tables", inner.model)
        return (
            Shape("lists", inner.model)
            if inner.kind == "list"
            else Shape("figures", options=(inner.kind,), limits=inner.limits)
        )
    if origin is tuple:
        inner = shape_of(get_args(annotation)[0])
        return Shape("list", inner.model) if inner.kind == "table" else Shape("names")
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return Shape("table", annotation)
    if annotation is bool:
        return Shape("switch", options=("true", "false"))
    if annotation in (int, float):
        return Shape("number", limits=_limits(metadata), is_whole=annotation is int)
    if annotation is str:
        return Shape("text")
    shapes = [shape_of(each, metadata) for each in get_args(annotation) if each is not type(None)]
    if {each.kind for each in shapes} == {"number", "choice"}:
        return Shape("either")
    if [each.kind for each in shapes] == ["table", "list"]:
        return replace(shapes[0], or_list=shapes[1])
    return shapes[0] if shapes else Shape("text")


def _limits(metadata: tuple[Any, ...]) -> str:
    told = []
    for each in metadata:
        for part in (each, *getattr(each, "metadata", ())):
            for name, sign in (("gt", "above"), ("ge", "from"), ("lt", "below"), ("le", "to")):
                if (value := getattr(part, name, None)) is not None:
                    told.append(f"{sign} {value:g}")
    return " ".join(dict.fromkeys(told))


@cache
def shapes_of(model: type[BaseModel]) -> Mapping[str, Shape]:
    """What may stand under each key of a table."""
    return MappingProxyType(
        {key: shape_of(info.annotation, tuple(info.metadata)) for key, info in keys_of(model).items()}
    )


def plain_shapes(model: type[BaseModel]) -> Mapping[str, Shape]:
    """The keys of a table that hold one value each (or a list of names), and of which kind."""
    return {key: shape for key, shape in shapes_of(model).items() if shape.kind in PLAIN}
