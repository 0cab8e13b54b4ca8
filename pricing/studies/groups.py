"""What a figure of the workshop belongs to, when a change of cost is told: whose hour, which metal, which machine.

Every input of the cost model, and every key from one table to another, belongs to one group; metals and exchange
rates are a group each.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from pricing.formulas.columns import Columns
from pricing.formulas.tables import INPUTS, ROW_OF
from pricing.shown import metal_named
from pricing.studies.pairing import Paired


class Group(NamedTuple):
    """One thing that can change; `name` is that of the metal or currency, empty for the rest."""

    kind: str
    name: str = ""

    @property
    def label(self) -> str:
        """How people call it."""
        return {"metal": metal_named(self.name), "exchange": f"{self.name} rate"}.get(self.kind) or LABELS[self.kind]


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


def kind_of(table: str, column: str) -> str:
    """The kind of group that an input, or a key, of a table belongs to."""
    return (INPUTS.get(column) or ROW_OF[table].inputs[column]).group


@dataclass(frozen=True)
class Mixing:
    """Puts groups of one workshop into the other."""

    pair: Paired

    def changed(self, inputs: set[str], keys: set[tuple[str, str]]) -> list[Group]:
        """The groups in which the two workshops differ, looking at these columns and keys only."""
        found: dict[Group, None] = {}
        for table, name, before, after in self._columns(inputs, keys):
            different = before != after
            if not different.any():
                continue
            if (alone := self.pair.one_sided.get(table)) is not None:
                if (different & alone).any():
                    found[Group("design")] = None
                different = different & ~alone
                if not different.any():
                    continue
            kind = kind_of(table, name)
            if kind in ("metal", "exchange"):
                resolved = self.pair.resolved
                names = [row.name for row in (resolved.metals if kind == "metal" else resolved.currencies)]
                found |= {Group(kind, name): None for name, moved in zip(names, different, strict=False) if moved}
            else:
                found[Group(kind)] = None
        return sorted(found)

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

    def _column(self, table: str, name: str, before: np.ndarray, after: np.ndarray, groups: set[Group]) -> np.ndarray:
        kind = kind_of(table, name)
        if kind in ("metal", "exchange"):
            rows = self.pair.resolved.metals if kind == "metal" else self.pair.resolved.currencies
            moved = np.array([*(Group(kind, row.name) in groups for row in rows), False])
            return np.where(moved, after, before)
        side = after if Group(kind) in groups else before
        alone = self.pair.one_sided.get(table)
        if alone is None:
            return side
        return np.where(alone, after if Group("design") in groups else before, side)
