"""The products of a folder with what each takes from whom, and what rows ask of one of their figures."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from types import MappingProxyType
from typing import Any

from pricing.costing import Costing
from pricing.errors import Fault
from pricing.folder.inherit import inherited, pieces, steps_of
from pricing.folder.toml.places import KeyPath
from pricing.formulas.tables import INPUTS, TABLES
from pricing.model.process import Step
from pricing.model.product import OwnInAlloy, Product
from pricing.model.rows import ROWS, VariantRow
from pricing.workbook.back.cells import ReadCell
from pricing.workbook.back.layered import Shared, Slot, Variant
from pricing.workbook.back.matching import Typed

_BELOW_A_PRODUCT = "products.*."
#: Names under which the parts of a set are stated, by the tables of their rows.
PARTS: Mapping[str, str] = MappingProxyType(
    {
        row.table: row.at.removeprefix(_BELOW_A_PRODUCT).partition(".")[0]
        for row in ROWS
        if row.at is not None and row.at.startswith(_BELOW_A_PRODUCT)
    }
)


@dataclass
class Family:
    """The products of a folder: what each states, what each takes from whom, and their variants' rows."""

    costing: Costing
    _steps: dict[Variant, Mapping[str, Step]] = field(default_factory=dict, repr=False)

    @cached_property
    def products(self) -> Mapping[str, Product]:
        """With `like` applied; sizes that are each priced are one product."""
        return inherited(self.stated)

    @cached_property
    def skus(self) -> Mapping[str, str]:
        """The product of each sku: its own, or the one that a size of its own price belongs to."""
        return {sku: piece.product.sku for sku, piece in pieces(self.products).items()}

    @property
    def stated(self) -> Mapping[str, Product]:
        return self.costing.folder.stated.products

    @cached_property
    def variants(self) -> Mapping[Variant, VariantRow]:
        rows = self.costing.computed.resolved.variants
        return {Variant(self.skus[row.sku], row.alloy): row for row in rows}

    def variant(self, typed: Typed) -> Variant:
        """The product in an alloy whose figure a row holds, all its sizes as one; of a piece in another, that other."""
        row = self.row(typed)
        if row.of:
            row = next(each for each in self.costing.computed.resolved.variants if each.called == row.of)
        return Variant(self.skus[row.sku], row.alloy)

    def row(self, typed: Typed) -> VariantRow:
        """The variant that a row is, or belongs to."""
        return self.costing.computed.resolved.all_variants[typed.row.index[0]]

    def sizes_left(self, typed: Sequence[Typed]) -> Iterator[Fault]:
        """Faults of figures that were typed for some sizes of a product only: no file holds them by size."""
        said: dict[tuple[str, str, Variant, tuple[int, ...]], dict[str, Typed]] = {}
        resolved = self.costing.computed.resolved
        for each in typed:
            if each.row.index and "variant" in TABLES[each.table].axes:
                row = self.row(each)
                if row.of:
                    continue  # a joint of a whole, which is in no sizes of its own price
                key = (each.table, each.name, self.variant(each), each.row.index[1:])
                said.setdefault(key, {})[row.sku] = each
        for (_, name, variant, _), rows in said.items():
            alike = [row.sku for row in resolved.variants
                     if (self.skus[row.sku], row.alloy) == (variant.sku, variant.alloy)]  # fmt: skip
            first = next(iter(rows.values()))
            left = [sku for sku in alike if sku not in rows or rows[sku].value != first.value]
            if left:
                problem = f"the sizes of {variant.sku} are one product, and this was not typed alike for all of them"
                yield first.cell.fault(name, problem, f"Type it for {', '.join(left)} too.")

    def steps(self, variant: Variant) -> Mapping[str, Step]:
        """The steps that a product has in an alloy, its own figures applied, by name; worked out once."""
        found = self._steps.get(variant)
        if found is None:
            stated, product = self.costing.folder.stated, self.products[variant.sku]
            assert product.process is not None  # each has one once `like` is applied
            steps = steps_of(stated.processes[product.process], product, variant.alloy, stated.alloys)
            found = self._steps[variant] = {step.name: step for step in steps}
        return found

    def chain(self, sku: str) -> tuple[str, ...]:
        """A product, the one that it is like, and so on."""
        found = [sku]
        while (like := self.stated[found[-1]].like) is not None:
            found.append(like)
        return tuple(found)

    def slots(self, path: KeyPath) -> dict[Slot, Any]:
        """Where products state something at this path, and what."""
        found: dict[Slot, Any] = {}
        for sku, product in self.stated.items():
            for alloy, own in ((None, product), *product.for_alloy.items()):
                value = plain(at(own, path))
                if value is not None:
                    found[Slot(sku, alloy)] = value
        return found


@dataclass
class Question:
    """What rows ask of one figure of products: what each variant holds, what it shall hold, and which cells say so."""

    path: KeyPath
    now: dict[Variant, Any]
    shared: Mapping[str, Shared] = field(default_factory=dict)
    wanted: dict[Variant, Any] = field(default_factory=dict)
    cells: dict[Variant, list[ReadCell]] = field(default_factory=dict)

    def ask(self, variant: Variant, value: Any, cell: ReadCell) -> None:
        self.wanted[variant] = value
        self.cells.setdefault(variant, []).append(cell)


def is_by_alloy(typed: Typed) -> bool:
    """Whether it is a figure of a product that may differ from alloy to alloy."""
    path = INPUTS[typed.name].path or ()
    return typed.table == "variant" and path[:1] != () and path[0] in OwnInAlloy.model_fields


def at(model: Any, path: KeyPath) -> Any:
    """What stands at a path of a stated model; None where nothing does."""
    for part in path:
        if model is None:
            return None
        model = model.get(part) if isinstance(model, dict) else getattr(model, str(part), None)
    return model


def plain(value: Any) -> Any:
    """A stated value as its file has it: models as tables of what was stated, tuples as lists."""
    if isinstance(value, (list, tuple)):
        return [plain(item) for item in value]
    return value.model_dump(exclude_unset=True) if hasattr(value, "model_dump") else value
