"""A form with only what is stated; the rest of its keys is offered to be added, each by a word and its meaning."""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass

from pricing.page.forms.fields import Field, FieldGroup
from pricing.page.forms.worded import key_in_words

#: What a key is called and in what it is counted, by the key and its description.
Worded = Callable[[str, str], tuple[str, str]]


@dataclass(frozen=True)
class ShownField:
    """A field as it is shown: its label, the unit beside it; `part` names its place on the page."""

    field: Field
    label: str
    unit: str
    part: str


@dataclass(frozen=True)
class Offer:
    """A key or a table that is not stated: `name` is that of its field or table, `part` its place once it is added."""

    name: str
    label: str
    meaning: str
    part: str


@dataclass(frozen=True)
class ShownGroup:
    """A table as it is shown: what is stated in it, and what may be added; `part` names its place on the page."""

    head: str
    meaning: str
    fields: tuple[ShownField, ...]
    groups: tuple[ShownGroup, ...]
    offers: tuple[Offer, ...]
    group_offers: tuple[Offer, ...]
    naming: str
    removing: str
    part: str


def only_stated(group: FieldGroup, worded: Worded, wanted: Collection[str]) -> ShownGroup:
    """The form of a table without what nobody stated. `wanted` are names that are shown all the same: those that were
    added or typed, and those with a fault beside them."""
    fields, offers = [], []
    for field in group.fields:
        label, unit = worded(field.key, field.meaning)
        if field.value or field.required or field.name in wanted:
            fields.append(ShownField(field, label, unit, part_of(field.name)))
        else:
            offers.append(Offer(field.name, label, _first(field.meaning), part_of(field.name)))
    groups, group_offers = [], []
    for inner in group.groups:
        is_empty_list = inner.state == "there" and not inner.removing and all(not each.value for each in inner.fields)
        if (inner.state == "there" and not is_empty_list) or any(_is_within(name, inner.name) for name in wanted):
            groups.append(only_stated(inner, worded, wanted))
        else:
            head = _head(inner.head)
            group_offers.append(Offer(inner.name, head, _first(inner.meaning), part_of(inner.name)))
    return ShownGroup(
        _head(group.head),
        _first(group.meaning),
        tuple(fields),
        tuple(groups),
        tuple(offers),
        tuple(group_offers),
        group.naming,
        group.removing,
        part_of(group.name or "all of it"),
    )


def part_of(name: str) -> str:
    """What a place on the page is called, by the name of its field or table."""
    return f"part-{hashlib.sha256(name.encode()).hexdigest()[:12]}"


def all_offers(group: ShownGroup) -> Iterator[Offer]:
    """Everything that may be added, at any depth."""
    yield from (*group.offers, *group.group_offers)
    for inner in group.groups:
        yield from all_offers(inner)


def _is_within(name: str, group: str) -> bool:
    """Whether a field, or the name that a further entry of it gets, belongs to a table."""
    plain = name.removeprefix("new name of ")
    return plain == group or plain.startswith((f"{group}.", f"{group}["))


def _head(head: str) -> str:
    key, colon, name = head.partition(": ")
    return f"{key_in_words(key)}{colon}{name}"


def _first(meaning: str) -> str:
    return f"{meaning.split(';')[0].rstrip('.')}." if meaning else ""
