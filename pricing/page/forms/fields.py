"""Forms made from the models: the same keys, the same limits, the same words; a form says a value of the file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, RootModel
from pydantic.fields import FieldInfo

from pricing.folder.expected_keys import keys_of
from pricing.folder.shapes import PLAIN, Shape, plain_shapes, shapes_of
from pricing.folder.toml.places import KeyPath, written
from pricing.folder.typed_values import figure, word
from pricing.page.forms.typed import spelled
from pricing.shown import metal_named

#: Tables are drawn so deep in each other.
DEEPEST = 5
#: The name under which a further entry of a table is typed.
NEW_NAME = "new name of"
REMOVED = "remove"


@dataclass(frozen=True)
class Field:
    """One key: `kind` is one of PLAIN; `limits` says in words what may stand."""

    name: str
    key: str
    meaning: str
    kind: str
    value: str
    options: tuple[str, ...]
    limits: str
    required: bool


@dataclass(frozen=True)
class FieldGroup:
    """A table: its fields, then the tables in it. `state` is "there", "open" (nothing stated) or "further" (a new one);
    `name` is its path in the file.

    `naming` is the field in which a further entry gets its name, "" where it needs none; `removing` takes it out.
    """

    head: str
    meaning: str
    state: str
    fields: tuple[Field, ...]
    groups: tuple[FieldGroup, ...]
    naming: str = ""
    removing: str = ""
    name: str = ""


def group_of(
    model: type[BaseModel],
    values: Mapping[str, Any],
    path: KeyPath,
    head: str,
    only: frozenset[str] | None = None,
    state: str = "there",
    removing: str = "",
    naming: str = "",
    deep: int = 0,
) -> FieldGroup:
    """The form of a table at `path` of its file; `only` some of its keys."""
    fields: list[Field] = []
    groups: list[FieldGroup] = []
    shapes = shapes_of(model)
    for key, info in keys_of(model).items():
        if only is not None and key not in only:
            continue
        here, value = (*path, key), values.get(key) if isinstance(values, Mapping) else None
        shape = shapes[key]
        meaning = info.description or ""
        if shape.kind in PLAIN:
            fields.append(_field(here, key, meaning, shape, value, info))
        elif deep < DEEPEST:
            groups += _groups(shape, value, here, key, meaning, deep)
    meaning = (model.__doc__ or "").strip().split("\n")[0]
    return FieldGroup(head, meaning, state, tuple(fields), tuple(groups), naming, removing, written(path))


def _field(path: KeyPath, key: str, meaning: str, shape: Shape, value: Any, info: FieldInfo) -> Field:
    text = _text(value)
    default = "" if info.is_required() or info.default in (None, "", ()) else f"{spelled(info.default)} if left empty"
    limits = "; ".join(each for each in (shape.limits, default) if each)
    return Field(written(path), key, meaning, shape.kind, text, shape.options, limits, info.is_required())


def _groups(shape: Shape, value: Any, path: KeyPath, key: str, meaning: str, deep: int) -> Iterator[FieldGroup]:
    if value is None and shape.or_list is not None:  # either may be stated
        yield from _groups(shape.or_list, value, path, key, meaning, deep)
    shape = shape.of(value)
    if shape.kind == "table":
        state = "there" if value is not None else "open"
        removing = f"{REMOVED} {written(path)}" if value is not None else ""
        yield group_of(shape.table, value or {}, path, key, state=state, removing=removing, deep=deep + 1)
    elif shape.kind == "tables":
        for name, inner in (value or {}).items():
            yield group_of(
                shape.table,
                inner,
                (*path, name),
                f"{key}: {name}",
                removing=f"{REMOVED} {written((*path, name))}",
                deep=deep + 1,
            )
        yield group_of(
            shape.table,
            {},
            (*path, "+"),
            f"{key}: a further one",
            state="further",
            naming=f"{NEW_NAME} {written(path)}",
            deep=deep + 1,
        )
    elif shape.kind == "list":
        items = value or []
        for place, inner in enumerate(items):
            title = _called(inner, place)
            yield group_of(
                shape.table,
                inner,
                (*path, place),
                f"{key}: {title}",
                removing=f"{REMOVED} {written((*path, place))}",
                deep=deep + 1,
            )
        yield group_of(shape.table, {}, (*path, len(items)), f"{key}: a further one", state="further", deep=deep + 1)
    elif shape.kind == "figures":
        (kind,) = shape.options
        fields = [
            Field(
                written((*path, name)),
                metal_named(name) if key == "composition" else name,
                "",
                kind,
                spelled(inner),
                (),
                shape.limits,
                False,
            )
            for name, inner in (value or {}).items()
        ]
        blank = Field(written((*path, "+")), "a further one", "What it says.", kind, "", (), shape.limits, False)
        naming = f"{NEW_NAME} {written(path)}"
        yield FieldGroup(key, meaning, "there", (*fields, blank), (), naming=naming, name=written(path))


def table_typed(
    model: type[BaseModel],
    old: Mapping[str, Any],
    path: KeyPath,
    form: Mapping[str, str],
    only: frozenset[str] | None = None,
    deep: int = 0,
) -> dict[str, Any]:
    """The value of a table that a form says, given the value that it was made from; what was not touched stays."""
    old = old if isinstance(old, Mapping) else {}
    known = shapes_of(model)  # what is no key of the model has no field, and stays
    new = {key: value for key, value in old.items() if key not in known or (only is not None and key not in only)}
    for key, shape in known.items():
        if only is not None and key not in only:
            continue
        here, value = (*path, key), old.get(key)
        if shape.kind in PLAIN:
            found = _value(shape, value, form.get(written(here), ""))
        elif deep < DEEPEST:
            found = _inner(shape, value, here, form, deep)
        else:
            found = value
        if found is not None:
            new[key] = found
    return {key: new[key] for key in [*old, *new] if key in new}


def _text(value: Any) -> str:
    """What stands in the field of a value: names a line each, since a line of an address has commas in it."""
    return "\n".join(map(spelled, value)) if isinstance(value, (list, tuple)) else spelled(value)


def _value(shape: Shape, old: Any, text: str) -> Any:
    text = text.replace("\r\n", "\n")
    if text == _text(old):
        return old
    if shape.kind == "names":
        return [name for part in text.split("\n") if (name := part.strip())] or None
    if shape.kind in ("number", "either"):
        return figure(text)
    if shape.kind == "switch":
        return {"true": True, "false": False}.get(text.strip(), word(text))
    return word(text)


def _inner(shape: Shape, old: Any, path: KeyPath, form: Mapping[str, str], deep: int) -> Any:
    def one(value: Any, here: KeyPath) -> dict[str, Any] | None:
        if form.get(f"{REMOVED} {written(here)}"):
            return None
        found = table_typed(shape.table, value or {}, here, form, deep=deep + 1)
        return found if found or value is not None else None

    if old is None and shape.or_list is not None and (listed := _inner(shape.or_list, old, path, form, deep)):
        return listed
    shape = shape.of(old)
    if shape.kind == "table":
        return one(old, path)
    if shape.kind == "tables":
        found = {name: one(value, (*path, name)) for name, value in (old or {}).items()}
        if name := form.get(f"{NEW_NAME} {written(path)}", "").strip():
            found[name] = table_typed(shape.table, {}, (*path, "+"), form, deep=deep + 1)
        found = {name: value for name, value in found.items() if value is not None}
        return found if found or old is not None else None
    if shape.kind == "list":
        items = [one(value, (*path, place)) for place, value in enumerate(old or [])]
        items.append(one(None, (*path, len(old or []))))
        items = [item for item in items if item is not None]
        return items if items or old is not None else None
    if shape.kind == "figures":
        (kind,) = shape.options
        figures = {
            name: _value(Shape(kind), value, form.get(written((*path, name)), ""))
            for name, value in (old or {}).items()
        }
        if name := form.get(f"{NEW_NAME} {written(path)}", "").strip():
            figures[name] = _value(Shape(kind), None, form.get(written((*path, "+")), ""))
        figures = {name: value for name, value in figures.items() if value is not None}
        return figures if figures or old is not None else None
    return old


def _called(item: Any, place: int) -> str:
    """What an item of a list is called: its name, or the piece of the maker's own that it is, or its number."""
    names = [item[key] for key in ("name", "product") if item.get(key)] if isinstance(item, Mapping) else []
    return str(names[0] if names else place + 1)


@dataclass(frozen=True)
class FormSection:
    """A part of a file that has a form of its own; `is_new` one that is not there yet and gets a name in it."""

    title: str
    path: KeyPath
    is_new: bool = False


def sections(model: type[BaseModel], values: Mapping[str, Any], whole: bool) -> list[FormSection]:
    """The parts of a file; a product is one `whole`."""
    if whole:
        return [FormSection("all of it", ())]
    if issubclass(model, RootModel):
        return [*(FormSection(name, (name,)) for name in values), FormSection("a further one", ("+",), True)]
    found = []
    shapes = shapes_of(model)
    if plain_keys(model):
        found.append(FormSection("in general", ()))
    for key, shape in shapes.items():
        value = values.get(key)
        value = value if isinstance(value, Mapping) else {}
        if shape.kind == "table":
            found.append(FormSection(key, (key,)))
        elif shape.kind == "tables":
            found += [FormSection(f"{key}: {name}", (key, name)) for name in value]
            found.append(FormSection(f"{key}: a further one", (key, "+"), True))
        elif shape.kind == "lists":
            for name, items in value.items():
                for place, item in enumerate(items if isinstance(items, list) else ()):
                    title = item.get("name", place + 1) if isinstance(item, Mapping) else place + 1
                    found.append(FormSection(f"{name}: {title}", (key, name, place)))
                found.append(FormSection(f"{name}: a further step", (key, name, len(items)), True))
    return found


def plain_keys(model: type[BaseModel]) -> frozenset[str]:
    """The keys of a model that hold no tables."""
    return frozenset(plain_shapes(model))
