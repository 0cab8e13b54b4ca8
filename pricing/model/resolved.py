"""The resolved model: rows of plain numbers, one class a table, all that the engine ever sees.

`like`, overrides, meshes, quotes and exchange rates in force are applied already. Each field that is
`given` is an input of the formulas by its own name; its unit and meaning stand here and nowhere else.
`idle` is what a row that is not there holds, chosen so that it adds nothing and divides nothing by 0.
A field that may be None has a companion input `<name>_stated`.
"""

from __future__ import annotations

from datetime import date
from typing import Any, ClassVar

from pydantic import BaseModel, ConfigDict, Field


class Row(BaseModel):
    """One row of a table of inputs."""

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)
    table: ClassVar[str]


def given(unit: str, meaning: str, idle: float = 0.0, **rest: Any) -> Any:
    """An input of the formulas: its unit (`switch` for a yes or no), its meaning, what an idle row holds."""
    return Field(description=meaning, json_schema_extra={"unit": unit, "idle": idle}, **rest)


class WorkshopRow(Row):
    table: ClassVar[str] = "workshop"
    overhead_per_month: float = given("cur", "Overhead of a month: rent, insurance, phone, accounts.")
    productive_hours: float = given("h", "Attended hours that the month's overhead is spread over.", 1.0)
    price_per_kwh: float = given("cur/kWh", "Price of electricity.")
    unreclaimed_tax: float = given("1", "Purchase tax that cannot be claimed back, as a fraction on top.")
    workshop_max_return_share: float = given("1", "Most of a charge that may be returned metal, unless an alloy says.")
    run_sets: float = given("1", "Sets in the run that is costed; 0 for the steady state.")
    design_charged: bool = given("switch", "Whether the design is charged to the run.")
    has_ladder: bool = given("switch", "Whether there is a ladder between wholesale and retail.")
    keystone: float = given("1", "Retail ex-tax price is at least so many times the highest wholesale one.")
    one_retail_price: bool = given("switch", "Whether every retail channel asks the same list price.")


class CurrencyRow(Row):
    table: ClassVar[str] = "currency"
    name: str
    exchange_rate: float = given("cur/quoted", "One unit of the quote's currency in the workshop's currency.")


class MetalRow(Row):
    table: ClassVar[str] = "metal"
    name: str
    currency: str
    quote_price: float = given("quoted", "Price in force, as quoted.")
    grams_per_unit: float = given("g", "Grams in what it is quoted per.", 1.0)
    quoted_per: str
    quoted_on: date | None


class ContentRow(Row):
    table: ClassVar[str] = "content"
    element: str
    metal: str | None
    mass_fraction: float = given("1", "Share of the element in the alloy by mass.")
    is_priced: bool = given("switch", "Whether the element's content is given a value.")
    pays_as_scrap: bool = given("switch", "Whether the refiner pays for the element.")


class AlloyRow(Row):
    table: ClassVar[str] = "alloy"
    name: str
    title: str
    density: float = given("g/cm3", "Density as cast.", 1.0)
    premium: float = given("1", "Premium of casting grain over its melt value.")
    fabrication_per_g: float = given("cur/g", "Charge by weight for casting grain.")
    stock_premium: float | None = given("1", "Premium of sheet and wire over the melt value; as grain where none.")
    stock_fabrication_per_g: float | None = given("cur/g", "Charge by weight for sheet and wire; as grain where none.")
    scrap_payout: float = given("1", "Share of the value that a refiner pays for clean scrap.")
    scrap_fee_per_g: float = given("cur/g", "Assay and lot fees of clean scrap, per gram.")
    lemel_payout: float = given("1", "Share of the value that a refiner pays for filings and dust.")
    lemel_fee_per_g: float = given("cur/g", "Assay and lot fees of filings and dust, per gram.")
    melt_loss: float = given("1", "Share of a charge lost in the melt.")
    max_return_share: float | None = given(
        "1", "Most of a charge that may be returned metal; the workshop's where none."
    )
    contents: tuple[ContentRow, ...]


class RoleRow(Row):
    table: ClassVar[str] = "role"
    name: str
    wage: float = given("cur/h", "Pay of an hour.")
    on_cost: float = given("1", "What falls on top of the pay, as a fraction.")


class MachineRow(Row):
    table: ClassVar[str] = "machine"
    name: str
    purchase: float = given("cur", "Price of the machine when bought.")
    residual: float = given("cur", "What it will bring at the end of its life.")
    life_hours: float = given("h", "Hours that it will run in its life.", 1.0)
    maintenance_per_hour: float = given("cur/h", "Upkeep for each hour run.")
    power_kw: float = given("kW", "Rated power.")
    duty: float = given("1", "Mean share of the rated power that is drawn.")


class MaterialRow(Row):
    table: ClassVar[str] = "material"
    name: str
    pack_unit: str
    pack_price: float = given("cur", "Price of a pack.")
    pack_size: float = given("pack_unit", "What a pack holds.", 1.0)
    waste: float = given("1", "Bought but never used, as a fraction on top.")


class FlaskRow(Row):
    table: ClassVar[str] = "flask"
    name: str
    flask_diameter_mm: float = given("mm", "Inner diameter of the flask.")
    flask_height_mm: float = given("mm", "Inner height of the flask.")
    water_per_100: float = given("1", "Water by weight per 100 of powder.")
    slurry_density: float = given("g/cm3", "Density of the mixed investment.")
    button_cm3: float = given("cm3", "Metal in the button of a flask.")
    powder_g: float | None = given("g", "Weighed powder of a flask; computed where none.")


class CastingRow(Row):
    table: ClassVar[str] = "casting"
    name: str
    in_alloy: str | None
    casting_count: float = given("1", "How many of it are in a set.")
    volume_cm3: float | None = given("cm3", "Volume as drawn or measured from a mesh.")
    model_g: float | None = given("g", "Mass of a weighed wax or resin model.")
    model_density: float = given("g/cm3", "Density of that model.", 1.0)
    metal_g: float | None = given("g", "Mass of a weighed piece of metal.")
    weighed_finished: bool = given("switch", "Whether the piece was weighed when finished.")
    area_cm2: float = given("cm2", "Surface as drawn or measured from a mesh.")


class FindingRow(Row):
    table: ClassVar[str] = "finding"
    name: str
    finding_alloy: str | None
    finding_quantity: float = given("1", "How many of it go on a set.")
    finding_price: float = given("cur", "Price of one, without its metal where that is stated.")
    finding_metal_g: float = given("g", "Metal in one that is paid by weight.")
    spoil: float = given("1", "Spoiled or lost, as a fraction on top.")


class UseRow(Row):
    table: ClassVar[str] = "use"
    material: str
    use_quantity: float = given("pack_unit", "Taken each time the step is done.")
    takes_flask_powder: bool = given("switch", "Whether the step fills a flask with powder.")
    per_cm3: float = given("pack_unit/cm3", "Taken per cm3 of the set's patterns.")
    per_cm2: float = given("pack_unit/cm2", "Taken per cm2 of the set's surface.")
    per_g: float = given("pack_unit/g", "Taken per gram of the set as cast.")


class StepRow(Row):
    table: ClassVar[str] = "step"
    name: str
    role: str | None
    machine: str | None
    is_piece: bool = given("switch", "Whether the step is counted by the piece.")
    is_flask: bool = given("switch", "Whether the step is counted by the flask.")
    is_design: bool = given("switch", "Whether the step is done once for a design.")
    is_metal_step: bool = given("switch", "Whether the metal comes in at this step.")
    is_from_metal: bool = given("switch", "Whether the step is the metal step or comes after it.")
    together: float = given("1", "How many are done at once.", 1.0)
    shared: bool = given("switch", "Whether the load is filled up with other work.")
    step_minutes: float = given("min", "Attended minutes each time.")
    rework: float = given("1", "Fraction of the units that is mended.")
    rework_minutes: float = given("min", "Attended minutes of a mending.")
    machine_minutes: float = given("min", "Machine minutes each time.")
    good: float = given("1", "Fraction that comes out good.", 1.0)
    metal_loss: float = given("1", "Share of the piece's mass that is taken off.")
    caught: float = given("1", "Share of what is taken off that is kept.")
    goes_to_refiner: bool = given("switch", "Whether a spoiled piece must go to the refiner.")
    is_lost: bool = given("switch", "Whether a spoiled piece is lost.")
    step_fee: float = given("cur", "Bought-in service each time.")
    from_g: float = given("g", "Least finished mass of a set from which the step is done.")
    uses: tuple[UseRow, ...]


class PriceStepRow(Row):
    table: ClassVar[str] = "price_step"
    applies_below: float | None = given("cur", "The step holds for amounts below this; none for the last.")
    step_size: float = given("cur", "Prices go up in steps of this.", 1.0)
    step_position: float = given("1", "Place of the step in its list, from 0.", -1.0)


class FeeRow(Row):
    table: ClassVar[str] = "fee"
    name: str
    fee_rate: float = given("1", "Fraction of what the fee is counted on.")
    fee_min: float = given("cur", "Least of the running part.")
    fee_max: float | None = given("cur", "Most of the running part; none where it has no cap.")
    fee_fixed: float = given("cur", "Fixed part.")
    fee_share: float = given("1", "Fraction of the orders that it falls on.")
    fee_per_set: bool = given("switch", "Whether it is taken per set and not per order.")
    fee_of_order: bool = given("switch", "Whether postage counts as well.")
    fee_taxed: bool = given("switch", "Whether it is counted on amounts with tax.")


class ChannelRow(Row):
    table: ClassVar[str] = "channel"
    name: str
    role: str | None
    is_wholesale: bool = given("switch", "Whether the channel sells to shops.")
    tax_rate: float = given("1", "Sales tax as a fraction.")
    tax_included: bool = given("switch", "Whether the list price has the tax in it.")
    sets_per_order: float = given("1", "Mean number of sets in an order.", 1.0)
    discount: float = given("1", "Mean discount over the year.")
    postage_charged: float = given("cur", "Postage that the buyer of an order pays, tax in.")
    postage_cost: float = given("cur", "Postage that an order costs.")
    packing: float = given("cur", "Packing that an order costs.")
    order_minutes: float = given("min", "Attended minutes for an order.")
    refund_share: float = given("1", "Fraction of the sets that is refunded.")
    refund_cost: float = given("cur", "What a refunded set costs.")
    ending: float = given("cur", "What every price ends in.")
    rounds_up: bool = given("switch", "Whether prices are rounded up, not to the nearest.")
    fees: tuple[FeeRow, ...]
    price_steps: tuple[PriceStepRow, ...]


class PriceRow(Row):
    """What one variant asks in one channel; a variant has one for every channel, sold there or not."""

    table: ClassVar[str] = "price"
    channel: str
    followed: str | None
    policy_kind: str
    sold: bool = given("switch", "Whether the product is sold in the channel.")
    is_fixed: bool = given("switch", "Whether the price is stated as it is.")
    fixed_price: float = given("cur", "That price.")
    asks_solving: bool = given("switch", "Whether the policy is a margin, a markup or earnings.")
    asked_margin: float = given("1", "Margin on net sales that is asked.")
    asked_markup: float = given("1", "Markup on unit cost that is asked.")
    asks_earnings: bool = given("switch", "Whether earnings per hour are asked.")
    asked_earnings: float = given("cur/h", "Earnings per hour that are asked.")
    unit_multiple: float = given("1", "Ex-tax price in times the unit cost.")
    metal_multiple: float = given("1", "Ex-tax price in times the metal cost.")
    work_multiple: float = given("1", "Ex-tax price in times all other cost.")
    follows: bool = given("switch", "Whether the price follows another channel's.")
    follow_multiple: float = given("1", "Ex-tax price in times the followed channel's.")
    least_price: float = given("cur", "Least list price.")


class VariantRow(Row):
    table: ClassVar[str] = "variant"
    sku: str
    alloy: str
    flask: str | None
    is_cut: bool = given("switch", "Whether the piece is cut from sheet, wire or rod.")
    sprue_ratio: float = given("1", "Sprues and runners per gram of castings (offcut per gram of a cut piece).")
    pieces_per_flask: float = given("1", "Castings on one tree.", 1.0)
    expected_sales: float = given("1", "Sets over the design's life, all alloys together.", 1.0)
    shrinkage: float = given("1", "Linear shrinkage from pattern to metal.")
    scale: float = given("1", "Linear scale of the pattern.", 1.0)
    castings: tuple[CastingRow, ...]
    findings: tuple[FindingRow, ...]
    steps: tuple[StepRow, ...]
    prices: tuple[PriceRow, ...]


class Resolved(BaseModel):
    """A workshop ready to be costed.

    Variants are in the order of the products and, within one, of its alloys; every variant has its
    prices in the order of `channels`.
    """

    model_config = ConfigDict(frozen=True, extra="forbid", strict=True)

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


ROWS: tuple[type[Row], ...] = (
    WorkshopRow, CurrencyRow, MetalRow, ContentRow, AlloyRow, RoleRow, MachineRow, MaterialRow, FlaskRow,
    CastingRow, FindingRow, UseRow, StepRow, PriceStepRow, FeeRow, ChannelRow, PriceRow, VariantRow,
)  # fmt: skip
