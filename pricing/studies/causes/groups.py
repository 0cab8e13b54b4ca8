"""What a figure of the workshop belongs to, when a change of cost is told: whose hour, which metal, which machine.

Every input of the cost model, and every key from one table to another, belongs to one group; metals and exchange
rates are a group each. What a piece of the maker's own takes by itself (its minutes, its volume, its good) is apart
from that of the whole which it is joined to, and is told by its sku.

Variants do not bear on each other, so parts of different wholes are mixed in together: the first part of every whole,
then the second of every one. That keeps the mixtures few, however many parts a workshop has.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from pricing.formulas.columns import Columns
from pricing.formulas.tables import INPUTS, ROW_OF
from pricing.shown import metal_named
from pricing.studies.causes.pairing import Paired


class Group(NamedTuple):
    """One thing that can change.

    `name` is that of the metal or currency, or the sku of the part whose it is; empty for the whole's own.
    """

    kind: str
    name: str = ""

    @property
    def is_of_a_part(self) -> bool:
        """Whether it is of a piece that is joined to another."""
        return bool(self.name) and self.kind not in ("metal", "exchange")

    @property
    def label(self) -> str:
        """How people call it."""
        if self.kind == "metal":
            return metal_named(self.name)
        if self.kind == "exchange":
            return f"{self.name} rate"
        return f"{self.name} in it: {LABELS[self.kind]}" if self.name else LABELS[self.kind]


LABELS: Mapping[str, str] = MappingProxyType(
    {
        "labour": "labour",
        "overhead": "overhead",
        "machines": "machines",
        "materials": "materials",
        "services": "bought-in work",
        "findings": "findings",
        "good": "fractions good",
        "alloys": "alloy terms",
        "tax": "purchase tax",
        "design": "design",
        "channel": "cost of selling",
        "policy": "price policy",
        "formulas": "formulas",
    }
)
#: Tables of what a part takes by itself; how it is joined belongs to the whole.
OF_A_PART = frozenset({"variant", "casting", "finding", "step", "use", "size"})


def kind_of(table: str, column: str) -> str:
    """The kind of group that an input, or a key, of a table belongs to."""
    return (INPUTS.get(column) or ROW_OF[table].inputs[column]).group


@dataclass(frozen=True)
class Mixing:
    """Puts groups of one workshop into the other.

    A group of a part is named by the place of its sku among the parts of its whole; `by_name` tells whose it is.
    Where parts are not told `apart`, what changed in them is the whole's own.
    """

    pair: Paired
    apart: bool = True

    @cached_property
    def skus(self) -> Mapping[str, tuple[str, ...]]:
        """The skus of all that is joined to a variant, at any depth, by what rows know the variant by."""
        found: dict[str, dict[str, None]] = {}
        for row in self.pair.resolved.hidden:
            if row.links and self.apart:
                found.setdefault(row.of, {})[row.sku] = None
        return {whole: tuple(skus) for whole, skus in found.items()}

    @cached_property
    def places(self) -> np.ndarray:
        """For each row of variants, and the idle one: the place of its sku among the parts of its whole, or ""."""
        rows = self.pair.resolved.all_variants
        return np.array(
            [*(str(self.skus[row.of].index(row.sku)) if row.of in self.skus and row.links else "" for row in rows), ""]
        )

    def by_name(self, group: Group, share: np.ndarray) -> Iterator[tuple[Group, np.ndarray]]:
        """The share of a group, that of parts at one place told apart by their skus; adds up to `share`."""
        if not group.is_of_a_part:
            yield group, share
            return
        own = [self.skus.get(row.called, ()) for row in self.pair.resolved.variants]
        place = int(group.name)
        names = np.array([skus[place] if place < len(skus) else "" for skus in own], dtype=object)
        for name in dict.fromkeys(names):
            held = np.where((names == name).reshape(-1, *(1,) * (share.ndim - 1)), share, 0.0)
            if held.any():
                yield Group(group.kind, name), held

    def changed(self, inputs: set[str], keys: set[tuple[str, str]]) -> list[Group]:
        """The groups in which the two workshops differ, looking at these columns and keys only."""
        found: dict[Group, None] = {}
        for table, name, before, after in self._columns(inputs, keys):
            different = self._different(table, name, before, after)
            if different is None:
                continue
            if (alone := self.pair.one_sided.get(table)) is not None:
                found |= dict.fromkeys(self._groups(table, "design", different & alone))
                different = different & ~alone
            kind = kind_of(table, name)
            if kind in ("metal", "exchange"):
                resolved = self.pair.resolved
                names = [row.name for row in (resolved.metals if kind == "metal" else resolved.currencies)]
                found |= {Group(kind, name): None for name, moved in zip(names, different, strict=False) if moved}
            else:
                found |= dict.fromkeys(self._groups(table, kind, different))
        return sorted(found)

    def differing(self, inputs: set[str], keys: set[tuple[str, str]]) -> tuple[set[str], set[tuple[str, str]]]:
        """The inputs and the keys among these in which the two workshops differ."""
        found = {(table, name) for table, name, *sides in self._columns(inputs, keys)
                 if self._different(table, name, *sides) is not None}  # fmt: skip
        return {name for _, name in found} & inputs, found & keys

    def _groups(self, table: str, kind: str, different: np.ndarray) -> list[Group]:
        """The groups of a kind in which a column differs: the whole's own, and those of its parts."""
        if table not in OF_A_PART:
            return [Group(kind)] if different.any() else []
        rows = different.reshape(len(different), -1).any(axis=1)
        return [Group(kind, place) for place in sorted(set(self.places[rows].tolist()))]

    def mixed(self, groups: set[Group], inputs: set[str], keys: set[tuple[str, str]]) -> Columns:
        """The workshop of before with these groups as they are after."""
        made_inputs, made_keys = {}, {}
        for table, name, before, after in self._columns(inputs, keys):
            column = self._column(table, name, before, after, groups)
            if (table, name) in keys and name not in INPUTS:
                made_keys[table, name] = column
            else:
                made_inputs[name] = column
        return Columns(made_inputs, made_keys, self.pair.after.sizes)

    def _columns(
        self, inputs: set[str], keys: set[tuple[str, str]]
    ) -> Iterator[tuple[str, str, np.ndarray, np.ndarray]]:
        """Table, name and both sides' columns of these inputs and keys."""
        before, after = self.pair.before, self.pair.after
        yield from ((INPUTS[name].table, name, before.inputs[name], after.inputs[name]) for name in sorted(inputs))
        yield from ((*key, before.keys[key], after.keys[key]) for key in sorted(keys))

    @cached_property
    def _where(self) -> dict[tuple[str, str], np.ndarray | None]:
        """Where the columns differ that were looked at already."""
        return {}

    def _different(self, table: str, name: str, before: np.ndarray, after: np.ndarray) -> np.ndarray | None:
        """Where a column of the two workshops differs; None where nowhere, as nearly all columns of nearly all days."""
        if (table, name) not in self._where:
            different = before != after
            self._where[table, name] = different if different.any() else None
        return self._where[table, name]

    @cached_property
    def _mixed(self) -> dict[tuple[str, str, frozenset[Group]], np.ndarray]:
        """The columns that were mixed already, by the groups that bear on them."""
        return {}

    def _column(self, table: str, name: str, before: np.ndarray, after: np.ndarray, groups: set[Group]) -> np.ndarray:
        if self._different(table, name, before, after) is None:
            return before
        kind = kind_of(table, name)
        key = table, name, frozenset(group for group in groups if group.kind in (kind, "design"))
        if key not in self._mixed:
            self._mixed[key] = self._mix(table, kind, before, after, groups)
        return self._mixed[key]

    def _mix(self, table: str, kind: str, before: np.ndarray, after: np.ndarray, groups: set[Group]) -> np.ndarray:
        if kind in ("metal", "exchange"):
            rows = self.pair.resolved.metals if kind == "metal" else self.pair.resolved.currencies
            moved = np.array([*(Group(kind, row.name) in groups for row in rows), False])
            return np.where(moved, after, before)
        side = self._side(table, kind, before, after, groups)
        alone = self.pair.one_sided.get(table)
        if alone is None:
            return side
        return np.where(alone, self._side(table, "design", before, after, groups), side)

    def _side(self, table: str, kind: str, before: np.ndarray, after: np.ndarray, groups: set[Group]) -> np.ndarray:
        """The column as it is after where a row's group of this kind is among the groups, else as it was before."""
        if table not in OF_A_PART or not self.skus:
            return after if Group(kind) in groups else before
        chosen = [group.name for group in groups if group.kind == kind]
        if not chosen:
            return before
        moved = np.isin(self.places, chosen)
        return np.where(moved.reshape(-1, *(1,) * (before.ndim - 1)), after, before)
