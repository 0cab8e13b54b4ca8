"""Within which bounds an input lies: read off the stated models, so that a sheet refuses what the folder would."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from types import MappingProxyType
from typing import Any

from pydantic import BaseModel, TypeAdapter

from pricing.model.alloy import Alloy
from pricing.model.base import MOST_ON_TOP, FractionAboveZero
from pricing.model.channel import Channel, Fee, Policy, Postage, PriceStep, Rounding, Tax
from pricing.model.process import Step, Use
from pricing.model.product import Casting, Finding, Product
from pricing.model.quote import Quote
from pricing.model.workshop import Energy, Flask, Machine, Material, Overhead, Role, Workshop
from pricing.readers.cells import literal
from pricing.tables import INPUTS


def _same(model: type[BaseModel], *names: str) -> dict[str, tuple[type[BaseModel], str]]:
    return {name: (model, name) for name in names}


#: Where the maker states an input: the model and its field. Inputs that no field holds stand in OWN_BOUNDS.
STATED_FIELDS: Mapping[str, tuple[type[BaseModel], str]] = MappingProxyType(
    {
        "overhead_per_month": (Overhead, "per_month"),
        **_same(Overhead, "productive_hours"),
        **_same(Energy, "price_per_kwh"),
        **_same(Workshop, "unreclaimed_tax"),
        "workshop_max_return_share": (Workshop, "max_return_share"),
        "exchange_rate": (Quote, "price"),
        "quote_price": (Quote, "price"),
        **_same(
            Alloy, "density", "premium", "fabrication_per_g", "stock_premium", "stock_fabrication_per_g",
            "scrap_payout", "scrap_fee_per_g", "lemel_payout", "lemel_fee_per_g", "melt_loss", "max_return_share",
        ),
        "wage": (Role, "rate"),
        **_same(Role, "on_cost"),
        **_same(Machine, "purchase", "residual", "life_hours", "maintenance_per_hour", "power_kw", "duty"),
        **_same(Material, "pack_price", "pack_size", "waste"),
        "flask_diameter_mm": (Flask, "diameter_mm"),
        "flask_height_mm": (Flask, "height_mm"),
        **_same(Flask, "water_per_100", "slurry_density", "button_cm3", "powder_g"),
        "casting_count": (Casting, "count"),
        **_same(Casting, "volume_cm3", "model_g", "model_density", "metal_g", "area_cm2"),
        "finding_quantity": (Finding, "quantity"),
        "finding_price": (Finding, "price"),
        "finding_metal_g": (Finding, "metal_g"),
        **_same(Finding, "spoil"),
        "use_quantity": (Use, "quantity"),
        **_same(Use, "per_cm3", "per_cm2", "per_g"),
        **_same(Step, "together", "rework", "rework_minutes", "machine_minutes"),
        **_same(Step, "good", "metal_loss", "caught", "from_g"),
        "step_minutes": (Step, "minutes"),
        "step_fee": (Step, "fee"),
        "tax_rate": (Tax, "rate"),
        "sets_per_order": (Channel, "units_per_order"),
        **_same(Channel, "discount", "packing", "refund_share", "refund_cost", "least_price"),
        "postage_charged": (Postage, "charged"),
        "postage_cost": (Postage, "cost"),
        "order_minutes": (Channel, "minutes"),
        **_same(Rounding, "ending"),
        "applies_below": (PriceStep, "below"),
        "step_size": (PriceStep, "step"),
        **{f"fee_{name}": (Fee, name) for name in ("rate", "min", "max", "fixed", "share")},
        "fixed_price": (Policy, "fixed"),
        "asked_margin": (Policy, "margin"),
        "asked_markup": (Policy, "markup"),
        "asked_earnings": (Policy, "earn"),
        "unit_multiple": (Policy, "multiple"),
        "follow_multiple": (Policy, "multiple"),
        **_same(Policy, "metal_multiple", "work_multiple"),
        **_same(Product, "sprue_ratio", "pieces_per_flask", "expected_sales", "shrinkage", "scale"),
    }
)  # fmt: skip


#: Limits from here on guard against overflow; no maker needs to be told.
BEYOND_WORDS = 1e9


@dataclass(frozen=True)
class Bounds:
    """Limits of an input; `open_low` and `open_high` say that the limit itself is not allowed."""

    low: float | None = None
    high: float | None = None
    open_low: bool = False
    open_high: bool = False
    whole: bool = False

    def words(self) -> str:
        """The limits as people read them."""
        low, high = (None if limit is None or abs(limit) >= BEYOND_WORDS else limit for limit in (self.low, self.high))
        kind = "a whole number" if self.whole else "a number"
        if low is None and high is None:
            return kind
        least = "" if low is None else f"{'above' if self.open_low else 'from'} {low:g}"
        most = "" if high is None else f"{'below' if self.open_high else 'to'} {high:g}"
        return " ".join(part for part in (kind, least, most) if part)

    def test(self, address: str) -> str:
        """A formula that is true where the cell holds a number within the limits."""
        tests = [f"ISNUMBER({address})"]
        if self.low is not None:
            tests.append(f"{address}{'>' if self.open_low else '>='}{literal(self.low)}")
        if self.high is not None:
            tests.append(f"{address}{'<' if self.open_high else '<='}{literal(self.high)}")
        if self.whole:
            tests.append(f"INT({address})={address}")
        return f"=AND({','.join(tests)})" if len(tests) > 1 else f"={tests[0]}"


#: What only the sheet states; 0 stands for "none".
OWN_BOUNDS: Mapping[str, Bounds] = MappingProxyType({"keystone": Bounds(low=0), "run_sets": Bounds(low=0)})


@cache
def bounds_of(name: str) -> Bounds | None:
    """The bounds of an input that is a number; None for one that nobody states."""
    if name in OWN_BOUNDS:
        return OWN_BOUNDS[name]
    if name == "mass_fraction":  # the value of a key, not a field
        return _bounds(TypeAdapter(FractionAboveZero).json_schema())
    if name not in STATED_FIELDS:
        return None
    model, field_name = STATED_FIELDS[name]
    return _bounds(_schema(model)["properties"][field_name])


def is_share(name: str) -> bool:
    """Whether an input is a fraction: a number without a unit that is nowhere near a count."""
    known = INPUTS.get(name)
    bounds = bounds_of(name) if known and known.unit == "1" else None
    return bounds is not None and bounds.high is not None and bounds.high <= MOST_ON_TOP


@cache
def _schema(model: type[BaseModel]) -> dict[str, Any]:
    return model.model_json_schema()


def _bounds(schema: dict[str, Any]) -> Bounds:
    number = next(part for part in schema.get("anyOf", [schema]) if part.get("type") in ("number", "integer"))
    return Bounds(
        low=number.get("minimum", number.get("exclusiveMinimum")),
        high=number.get("maximum", number.get("exclusiveMaximum")),
        open_low="exclusiveMinimum" in number,
        open_high="exclusiveMaximum" in number,
        whole=number["type"] == "integer",
    )
