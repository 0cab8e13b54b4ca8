"""The parts of a file that have forms: which there are, the form of one, and the edits that a filled one means."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from pydantic import BaseModel

from pricing.errors import Fault, Faults, Place
from pricing.folder.expected_keys import table_at
from pricing.folder.toml.edits import Drop, Insert, Put
from pricing.folder.toml.places import Document, KeyPath, written
from pricing.model.product import Product
from pricing.page.forms.fields import (
    NEW_NAME,
    REMOVED,
    Field,
    FieldGroup,
    FormSection,
    group_of,
    plain_keys,
    sections,
    table_typed,
)
from pricing.page.forms.one_save import Part


def sections_of(model: type[BaseModel], read: Document) -> list[FormSection]:
    return sections(model, read.values, model is Product)


def group_at(model: type[BaseModel], read: Document, section: FormSection) -> FieldGroup:
    """The form of a section."""
    inner, values, only = _parts(model, read, section)
    naming = f"{NEW_NAME} this" if section.is_new and section.path[-1] == "+" else ""
    removing = "" if section.is_new or section.path == () else f"{REMOVED} this"
    return group_of(inner, values, section.path, section.title, only, naming=naming, removing=removing)


def _parts(
    model: type[BaseModel], read: Document, section: FormSection
) -> tuple[type[BaseModel], Mapping[str, Any], frozenset[str] | None]:
    """The model and the values of a section, and which of its keys."""
    if section.path == ():
        return model, read.values, None if model is Product else plain_keys(model)
    inner = table_at(model, section.path)
    here: Any = read.values
    for part in section.path:
        try:
            here = here[part]
        except (KeyError, IndexError, TypeError):
            here = {}
    assert inner is not None
    return inner, here if isinstance(here, Mapping) else {}, None


def edits_at(model: type[BaseModel], read: Document, section: FormSection, form: Mapping[str, str]) -> list[Any]:
    inner, values, only = _parts(model, read, section)
    if form.get(f"{REMOVED} this"):
        return [Drop(section.path)]
    _refuse_taken_names(read, section, form)
    new = table_typed(inner, values, section.path, form, only)
    target = section.path
    if not new and target and target not in set(_paths(read.values)):
        return []  # a table that was not there and was left empty
    if section.is_new and target[-1] == "+":
        name = form.get(f"{NEW_NAME} this", "").strip()
        target = (*target[:-1], name)
    if section.is_new and isinstance(target[-1], int):
        return [Insert(target, new)]
    return [Put(target, new)]


def _refuse_taken_names(read: Document, section: FormSection, form: Mapping[str, str]) -> None:
    """Raise Faults where a further entry gets the name of one that is there: it would take its place."""
    for field, text in form.items():
        name = text.strip()
        if not field.startswith(f"{NEW_NAME} ") or not name:
            continue
        table = field.removeprefix(f"{NEW_NAME} ")
        if table == "this":
            there = any(each == (*section.path[:-1], name) for each in _paths(read.values))
        else:
            entry = f"{table}.{written((name,))}"
            there = any(written(each) == entry for each in _paths(read.values))
        if there:
            raise Faults([Fault(Place(read.file), field, f'there is "{name}" already', "Give it another name.")])


def _paths(values: Any, path: KeyPath = ()) -> Iterator[KeyPath]:
    """The path of everything that stands in a document."""
    inner = values.items() if isinstance(values, Mapping) else enumerate(values) if isinstance(values, list) else ()
    for key, value in inner:
        yield (*path, key)
        yield from _paths(value, (*path, key))


def fields_of(group: FieldGroup | None) -> list[Field]:
    """Every field of a form."""
    if group is None:
        return []
    return [*group.fields, *(field for inner in group.groups for field in fields_of(inner))]


def part_at(model: type[BaseModel], path: KeyPath) -> Part:
    """The part of a file at a path, as it is saved."""

    def section_in(read: Document) -> FormSection | None:
        return next((each for each in sections_of(model, read) if each.path == path), None)

    def shows(read: Document) -> Mapping[str, str] | None:
        section = section_in(read)
        found = fields_of(group_at(model, read, section)) if section else ()
        return {each.name: each.value for each in found} if section else None

    def edits(read: Document, fields: Mapping[str, str]) -> list[Any]:
        section = section_in(read)
        assert section is not None
        return edits_at(model, read, section, fields)

    return Part(path, shows, edits)
