"""Which listed row holds the same figure as a row that is computed along with the others.

A piece of the maker's own within a whole, and a size of what has one price for all of its sizes, have rows of their
own in a workbook. What is stated of them is stated once: of the piece by itself, of the product with its sizes.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property

from pricing.formulas.tables import TABLES
from pricing.model.rows import Resolved, VariantRow

#: A place on the axes of a table.
Index = tuple[int, ...]
#: How many sets sell, which is of all sizes together where they have one price.
OF_SETS = "size_sales"


class Twins:
    """The rows of one resolved model that take their figures from others."""

    def __init__(self, resolved: Resolved):
        self.variants = resolved.all_variants
        self.listed = len(resolved.variants)
        self._steps: dict[int, list[int]] = {}

    @property
    def are_some(self) -> bool:
        """Whether there is any hidden variant."""
        return len(self.variants) > self.listed

    def is_hidden(self, table: str, index: Index) -> bool:
        """Whether a row belongs to a variant that is no product by itself."""
        return TABLES[table].axes[:1] == ("variant",) and index[0] >= self.listed

    def of(self, table: str, name: str, index: Index) -> Index | None:
        """The place where the figure of this row is stated, None where that is the row itself."""
        if not self.are_some or not self.is_hidden(table, index):
            return None
        place, *inner = index
        if table == "link":
            return self._link(place, inner[0])
        hidden = self.variants[place]
        if name == OF_SETS and is_size(hidden):
            return None  # as if every set were of this size
        twin = self._listed[hidden.sku, hidden.alloy]
        if table == "size":
            names = [size.name for size in self.variants[twin].sizes]
            return twin, names.index(hidden.sizes[inner[0]].name)
        if table in ("step", "use"):
            return twin, self._steps_of(place, twin)[inner[0]], *inner[1:]
        return twin, *inner

    def is_stated_here(self, table: str, name: str, index: Index) -> bool:
        """Whether a maker states this very figure: on a listed row, or how many of a piece go into a listed whole."""
        if not self.is_hidden(table, index):
            return True
        return table == "link" and self.of(table, name, index) is None

    def price_of(self, index: Index) -> Index | None:
        """The row of the price that all sizes have, for the row of one of them; None for any other."""
        return self.of("price", "price", index) if self.is_hidden("price", index) else None

    @cached_property
    def _listed(self) -> Mapping[tuple[str, str], int]:
        return {(row.sku, row.alloy): place for place, row in enumerate(self.variants[: self.listed])}

    @cached_property
    def _by_path(self) -> Mapping[tuple[str, ...], int]:
        return {row.path: place for place, row in enumerate(self.variants) if row.links}

    def _steps_of(self, place: int, twin: int) -> list[int]:
        """Where the steps of a hidden variant stand among those of its twin, which may have more."""
        if place not in self._steps:
            places = {step.name: at for at, step in enumerate(self.variants[twin].steps)}
            self._steps[place] = [places[step.name] for step in self.variants[place].steps]
        return self._steps[place]

    def _link(self, place: int, at: int) -> Index | None:
        """A joint of a piece within a piece is stated of that piece by itself, which is listed."""
        path = self.variants[place].path
        if at == 0:
            above = self._by_path[path[:2]]
            return (above, 0) if above != place else None
        within = self.variants[self._by_path[path[: at + 1]]]
        by_itself = self.variants[self._listed[within.sku, within.alloy]]
        return self._by_path[by_itself.called, path[at + 1]], 0


def is_size(row: VariantRow) -> bool:
    """Whether a hidden variant is one size of what has one price for all of its sizes."""
    return bool(row.of) and not row.links


def sku_within(variants: tuple[VariantRow, ...], place: int) -> str:
    """A variant by its sku, and what it is in: `bail in pendant (sterling)`, `ring, size J`."""
    row = variants[place]
    if not row.of:
        return row.sku
    if is_size(row):
        return f"{row.sku}, size {row.size}"
    sku, alloy, *_ = row.of.split("\n")
    between = [step.partition(": ")[2] for step in row.path[1:-1]]
    return " in ".join([row.sku, *reversed(between), f"{sku} ({alloy})"])
