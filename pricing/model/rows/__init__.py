"""The resolved model: rows of plain numbers, one class a table, all that the engine ever sees.

`like`, overrides, meshes, quotes and exchange rates in force are applied already. Each field that is
`given` is an input of the formulas by its own name; its unit and meaning stand here and nowhere else.
`idle` is what a row that is not there holds, chosen so that it adds nothing and divides nothing by 0.
A field that may be None has a companion input `<name>_stated`.
"""

from __future__ import annotations

from datetime import date

from pydantic import BaseModel, ConfigDict

from pricing.model.given import Row
from pricing.model.rows.metals import AlloyRow, ContentRow, CurrencyRow, MetalRow
from pricing.model.rows.pieces import CastingRow, FindingRow, LinkRow, PartRow, SizeRow, VariantRow
from pricing.model.rows.selling import ChannelRow, FeeRow, PostageTierRow, PriceRow, PriceStepRow
from pricing.model.rows.steps import StepRow, UseRow
from pricing.model.rows.workshop import FlaskRow, MachineRow, MaterialRow, RoleRow, WorkshopRow

__all__ = [
    "AlloyRow",
    "CastingRow",
    "ChannelRow",
    "ContentRow",
    "CurrencyRow",
    "FeeRow",
    "FindingRow",
    "FlaskRow",
    "LinkRow",
    "MachineRow",
    "MaterialRow",
    "MetalRow",
    "PartRow",
    "PostageTierRow",
    "PriceRow",
    "PriceStepRow",
    "Resolved",
    "RoleRow",
    "SizeRow",
    "StepRow",
    "UseRow",
    "VariantRow",
    "WorkshopRow",
]


class Resolved(BaseModel):
    """A workshop ready to be costed.

    Variants are in the order of the products and, within one, of its sizes that are each priced and of its alloys;
    every variant has its prices in the order of `channels`. `hidden` are those that are computed along with them:
    each own piece as it goes into a whole (`path` leads to it from the variant `of`), and each size of what has one
    price for all sizes (`size` beside a `path` that names it); sizes have prices, pieces none.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True, defer_build=True)

    currency: str
    as_of: date
    workshop: WorkshopRow
    currencies: tuple[CurrencyRow, ...]
    metals: tuple[MetalRow, ...]
    alloys: tuple[AlloyRow, ...]
    roles: tuple[RoleRow, ...]
    machines: tuple[MachineRow, ...]
    materials: tuple[MaterialRow, ...]
    flasks: tuple[FlaskRow, ...]
    channels: tuple[ChannelRow, ...]
    variants: tuple[VariantRow, ...]
    hidden: tuple[VariantRow, ...] = ()

    @property
    def all_variants(self) -> tuple[VariantRow, ...]:
        """The variants, and behind them those that are computed along with them."""
        return (*self.variants, *self.hidden)


ROWS: tuple[type[Row], ...] = (
    WorkshopRow, CurrencyRow, MetalRow, ContentRow, AlloyRow, RoleRow, MachineRow, MaterialRow, FlaskRow,
    CastingRow, FindingRow, LinkRow, PartRow, SizeRow, UseRow, StepRow, PriceStepRow, PostageTierRow, FeeRow,
    ChannelRow, PriceRow, VariantRow,
)  # fmt: skip
