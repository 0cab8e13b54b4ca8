"""Two workshops brought side by side, row by row, so that any part of one can be put into the other.

What only one of them has stands in the other as a row that is not there (it adds nothing). Variants that only one
of them makes are left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher
from operator import is_
from typing import Any

import numpy as np

from pricing.formulas.columns import Columns, columns_of
from pricing.formulas.tables import CHILDREN, OUTERMOST
from pricing.model.given import AnyRow, Row, idle_of
from pricing.model.rows import ChannelRow, Resolved, VariantRow

#: Rows nested in a row, by the attribute's name.
NESTED = tuple(attribute for _, attribute in CHILDREN.values())


@dataclass(frozen=True)
class Paired:
    """The columns of two workshops, of the same shapes.

    `variants` names the rows of the variants, as (sku, alloy). `one_sided` says for the tables step and use which
    rows only one of the two has.
    """

    before: Columns
    after: Columns
    resolved: Resolved
    variants: tuple[tuple[str, str], ...]
    one_sided: dict[str, np.ndarray]


def paired(before: Resolved, after: Resolved, columns: Columns | None = None) -> Paired:
    """Bring the common variants of two workshops side by side; `columns` are those of the second, where at hand."""
    pairing = _Pairing()
    old: dict[str, tuple[Row, ...]] = {}
    new: dict[str, tuple[Row, ...]] = {}
    for table, attribute in OUTERMOST.items():
        if table != "variant":
            old[attribute], new[attribute] = pairing.outermost(getattr(before, attribute), getattr(after, attribute))
    channels = [row.name for row in new["channels"] if isinstance(row, ChannelRow)]
    olds, news = pairing.outermost(*_common(before.variants, after.variants))
    hidden = pairing.outermost(before.hidden, after.hidden)
    held = {key_of(row): row for row in olds}
    pairs = [pairing.priced(held[key_of(row)], row, channels) for row in news]
    first = before.model_copy(update={**old, "variants": tuple(pair[0] for pair in pairs), "hidden": hidden[0]})
    second = after.model_copy(update={**new, "variants": tuple(pair[1] for pair in pairs), "hidden": hidden[1]})
    stands = columns is not None and all(
        _are_same(getattr(after, attribute), getattr(second, attribute)) for attribute in OUTERMOST.values()
    )
    both = columns_of(first), columns if columns is not None and stands else columns_of(second)
    names = tuple(key_of(row) for row in news)
    return Paired(*both, second, names, pairing.one_sided(both[1], (*second.variants, *second.hidden)))


def _are_same(some: Sequence[Row], others: Sequence[Row]) -> bool:
    """Whether these are the very same rows."""
    return len(some) == len(others) and all(map(is_, some, others))


def _common(before: Sequence[VariantRow], after: Sequence[VariantRow]) -> tuple[list[VariantRow], list[VariantRow]]:
    """The variants of either workshop that the other one makes too."""
    common = {key_of(row) for row in before} & {key_of(row) for row in after}
    return [row for row in before if key_of(row) in common], [row for row in after if key_of(row) in common]


def key_of(variant: VariantRow) -> tuple[str, str]:
    """What a variant is known by."""
    return variant.sku, variant.alloy


class _Pairing:
    """Pairs rows; remembers which stand on one side only, and pairs the same two rows once."""

    def __init__(self) -> None:
        self.alone: set[int] = set()
        self.kept: dict[tuple[int, int], tuple[Any, Any]] = {}  # two rows of one class, whichever it is
        self.lists: dict[tuple[int, int], tuple[tuple[Row, ...], tuple[Row, ...]]] = {}
        self.kinds: dict[type[Row], tuple[str, ...]] = {}
        self.alive: list[object] = []  # so that an id stays the only one

    def outermost(
        self, olds: Sequence[AnyRow], news: Sequence[AnyRow]
    ) -> tuple[tuple[AnyRow, ...], tuple[AnyRow, ...]]:
        """Rows by name; a row that only one side has is taken over by the other, where nothing leads to it."""
        held = {_name(row): row for row in olds}
        pairs = [self.pair(held.pop(name, row), row) for name, row in zip(map(_name, news), news, strict=True)]
        pairs += [(row, row) for row in held.values()]
        return tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs)

    def pair(self, old: AnyRow, new: AnyRow) -> tuple[AnyRow, AnyRow]:
        """Two rows whose nested rows stand side by side."""
        if not self.nested_in(type(new)):
            return old, new
        found: tuple[AnyRow, AnyRow] | None = self.kept.get((id(old), id(new)))
        if found is None:
            olds, news = dict[str, tuple[Row, ...]](), dict[str, tuple[Row, ...]]()
            for name in self.nested_in(type(new)):
                mine, its = getattr(old, name), getattr(new, name)
                first, second = self.nested(mine, its)
                if first is not mine or second is not its:
                    olds[name], news[name] = first, second
            found = (old.model_copy(update=olds), new.model_copy(update=news)) if olds else (old, new)
            self.alive += [old, new, found]
            self.kept[id(old), id(new)] = found
        return found

    def nested_in(self, kind: type[Row]) -> tuple[str, ...]:
        """Where rows of this kind hold others that are brought side by side."""
        if kind not in self.kinds:
            fields = kind.model_fields
            self.kinds[kind] = tuple(name for name in NESTED if name in fields and name != "prices")
        return self.kinds[kind]

    def nested(self, olds: tuple[Row, ...], news: tuple[Row, ...]) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
        """Rows in order, those of one name side by side, the others beside a row that is not there.

        The very same tuples where they stand side by side already, as nearly all do.
        """
        if not olds and not news:
            return olds, news
        key = id(olds), id(news)
        if key not in self.lists:
            self.alive += [olds, news]
            self.lists[key] = self._side_by_side(olds, news)
        return self.lists[key]

    def _side_by_side(self, olds: tuple[Row, ...], news: tuple[Row, ...]) -> tuple[tuple[Row, ...], tuple[Row, ...]]:
        old_names, new_names = list(map(_name, olds)), list(map(_name, news))
        pairs: list[tuple[Row, Row]] = []
        if old_names == new_names:
            if not self.nested_in(type(news[0])):
                return olds, news
            pairs = list(map(self.pair, olds, news))
            if all(pair[0] is old and pair[1] is new for pair, old, new in zip(pairs, olds, news, strict=True)):
                return olds, news
        else:
            for kind, a, b, c, d in SequenceMatcher(None, old_names, new_names, autojunk=False).get_opcodes():
                if kind == "equal":
                    pairs += [self.pair(old, new) for old, new in zip(olds[a:b], news[c:d], strict=True)]
                else:
                    pairs += [self.alone_beside(row) for row in olds[a:b]]
                    pairs += [self.alone_beside(row)[::-1] for row in news[c:d]]
        return tuple(pair[0] for pair in pairs), tuple(pair[1] for pair in pairs)

    def alone_beside(self, row: AnyRow) -> tuple[AnyRow, AnyRow]:
        """A row that one side has, beside one of the same names that adds nothing.

        It is another object than the row, which may stand beside its like in another variant.
        """
        made = row.model_copy(), _idle(row)
        self.alive += made
        self.alone |= set(map(id, made))
        return made

    def priced(self, old: VariantRow, new: VariantRow, channels: list[str]) -> tuple[VariantRow, VariantRow]:
        """Two variants with a price row for every channel, in one order; where there is none, it is not sold."""
        if all([price.channel for price in row.prices] == channels for row in (old, new)):
            return old, new
        sides = []
        for row, other in ((old, new), (new, old)):
            mine, its = ({price.channel: price for price in each.prices} for each in (row, other))
            prices = tuple(mine.get(name) or _idle(its[name]) for name in channels)
            sides.append(row.model_copy(update={"prices": prices}))
        return sides[0], sides[1]

    def one_sided(self, columns: Columns, variants: Iterable[VariantRow]) -> dict[str, np.ndarray]:
        steps = np.zeros(columns.inputs["good"].shape, dtype=bool)
        for place, variant in enumerate(variants if self.alone else ()):
            for position, step in enumerate(variant.steps):
                steps[place, position] = id(step) in self.alone
        uses = np.broadcast_to(steps[..., None], columns.inputs["use_quantity"].shape)
        return {"step": steps, "use": uses}


def _name(row: Row) -> str:
    if isinstance(row, VariantRow):
        return row.called
    held = row.__dict__
    for name in ("name", "material", "element"):
        if (found := held.get(name)) is not None:
            return str(found)
    return ""


def _idle(row: AnyRow) -> AnyRow:
    """The row as if it were not there: every input idle, names and keys as they are."""
    values = idle_of(type(row))
    for name in type(row).nested:
        values[name] = tuple(_idle(inner) for inner in getattr(row, name))
    return row.model_copy(update=values)
