"""The resolved model: rows of plain numbers, one class a table, all that the engine ever sees.

`like`, overrides, meshes, quotes and exchange rates in force are applied already. Each field that is
`given` is an input of the formulas by its own name; its unit and meaning stand here and nowhere else.
`idle` is what a row that is not there holds, chosen so that it adds nothing and divides nothing by 0.
A field that may be None has a companion input `<name>_stated`.
"""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from pydantic import BaseModel, ConfigDict

from pricing.model.given import ANYTHING, ITSELF, Row, given, leads_to, word


class WorkshopRow(Row, at="", group="policy"):
    table: ClassVar[str] = "workshop"
    overhead_per_month: float = given(
        "cur",
        "Overhead of a month: rent, insurance, phone, accounts.",
        at="workshop.overhead.per_month",
        group="overhead",
        measure="Add up what last month's statement of the bank says of rent, insurance, phone, accounts.",
    )
    productive_hours: float = given(
        "h",
        "Attended hours that the month's overhead is spread over.",
        1.0,
        at="workshop.overhead.productive_hours",
        group="overhead",
        measure="Note for one week when you sit down at the bench and get up; a month has 4.3 such weeks.",
    )
    price_per_kwh: float = given(
        "cur/kWh",
        "Price of electricity.",
        at="workshop.energy.price_per_kwh",
        group="machines",
        measure="Take the last bill for power: its sum by its kilowatt-hours.",
    )
    unreclaimed_tax: float = given(
        "1",
        "Purchase tax that cannot be claimed back, as a fraction on top.",
        at="workshop.unreclaimed_tax",
        group="tax",
        measure="Take one supplier's invoice: the tax on it by the sum before tax.",
    )
    workshop_max_return_share: float = given(
        "1",
        "Most of a charge that may be returned metal, unless an alloy says.",
        at="workshop.max_return_share",
        group="alloys",
        measure="Weigh the returned metal in the next charge, by the whole charge.",
    )
    run_sets: float = given(
        "1",
        "Sets in the run that is costed; 0 for the steady state.",
        at=None,
        asked=True,
        bounds=(0, None),
        group="design",
    )
    design_charged: bool = given(
        "switch", "Whether the design is charged to the run.", at=None, asked=True, group="design"
    )
    has_ladder: bool = given(
        "switch", "Whether there is a ladder between wholesale and retail.", at="ladder", says=ANYTHING, typed=True
    )
    keystone: float = given(
        "1",
        "Retail ex-tax price is at least so many times the highest wholesale one.",
        at="ladder.keystone",
        bounds=(0, None),
    )
    one_retail_price: bool = given(
        "switch", "Whether every retail channel asks the same list price.", at="ladder.one_retail_price"
    )


class CurrencyRow(Row, at="quotes.*", group="exchange"):
    table: ClassVar[str] = "currency"
    name: str
    exchange_rate: float = given(
        "cur/quoted", "One unit of the quote's currency in the workshop's currency.", at="price"
    )
    currency_number: float = given("1", "A number that no other currency has.", -1.0, at=None)


class MetalRow(Row, at="quotes.*", group="metal"):
    table: ClassVar[str] = "metal"
    name: str
    currency: str = leads_to("currency")
    quote_price: float = given("quoted", "Price in force, as quoted.", at="price")
    grams_per_unit: float = given("g", "Grams in what it is quoted per.", 1.0, at=None)
    quoted_per: str = word("per")
    quoted_on: date | None = word("date")


class ContentRow(Row, at="alloys.*.composition.*", group="alloys"):
    table: ClassVar[str] = "content"
    element: str
    metal: str | None = leads_to("metal", at=None)
    mass_fraction: float = given("1", "Share of the element in the alloy by mass.", at=ITSELF)
    is_priced: bool = given("switch", "Whether the element's content is given a value.", at=None, listed="unpriced")
    pays_as_scrap: bool = given("switch", "Whether the refiner pays for the element.", at=None, listed="scrap_pays")


class AlloyRow(Row, at="alloys.*", group="alloys"):
    table: ClassVar[str] = "alloy"
    name: str
    title: str = word("name")
    density: float = given(
        "g/cm3",
        "Density as cast.",
        1.0,
        measure="Weigh a sound piece in air and hung in water: what it weighs by what it loses, less 0.2 %.",
    )
    premium: float = given(
        "1",
        "Premium of casting grain over its melt value.",
        measure="Take the last invoice for grain: what was paid by its melt value on that day, less 1.",
    )
    fabrication_per_g: float = given(
        "cur/g",
        "Charge by weight for casting grain.",
        measure="Take the last invoice for grain: the charge for making it by the grams.",
    )
    stock_premium: float | None = given(
        "1",
        "Premium of sheet and wire over the melt value; as grain where none.",
        measure="Take the last invoice for sheet or wire: what was paid by its melt value on that day, less 1.",
    )
    stock_fabrication_per_g: float | None = given(
        "cur/g",
        "Charge by weight for sheet and wire; as grain where none.",
        measure="Take the last invoice for sheet or wire: the charge for making it by the grams.",
    )
    bought_premium: float | None = given(
        "1",
        "Premium of castings from a casting house over the melt value; as grain where none.",
        measure="Take the casting house's last invoice: what its metal cost by its melt value on that day, less 1.",
    )
    bought_fabrication_per_g: float | None = given(
        "cur/g",
        "Charge by weight of a casting house; as grain where none.",
        measure="Take the casting house's last invoice: its charge by weight by the grams.",
    )
    scrap_payout: float = given(
        "1",
        "Share of the value that a refiner pays for clean scrap.",
        measure="Take the refiner's last settlement: what was paid by the melt value of the lot on that day.",
    )
    scrap_fee_per_g: float = given(
        "cur/g",
        "Assay and lot fees of clean scrap, per gram.",
        measure="Take the refiner's last settlement: its fees by the grams that were sent.",
    )
    lemel_payout: float = given(
        "1",
        "Share of the value that a refiner pays for filings and dust.",
        measure="Take the refiner's last settlement for filings: what was paid by their melt value on that day.",
    )
    lemel_fee_per_g: float = given(
        "cur/g",
        "Assay and lot fees of filings and dust, per gram.",
        measure="Take the refiner's last settlement for filings: its fees by the grams that were sent.",
    )
    melt_loss: float = given(
        "1",
        "Share of a charge lost in the melt.",
        measure="Weigh a charge before melting, and tree, button and spills after: what is missing by the charge.",
    )
    max_return_share: float | None = given(
        "1",
        "Most of a charge that may be returned metal; the workshop's where none.",
        measure="Weigh the returned metal in the next charge, by the whole charge.",
    )
    contents: tuple[ContentRow, ...]


class RoleRow(Row, at="workshop.labour.*", group="labour"):
    table: ClassVar[str] = "role"
    name: str
    wage: float = given(
        "cur/h", "Pay of an hour.", at="rate", measure="Divide what was paid out for last month by its hours."
    )
    on_cost: float = given(
        "1",
        "What falls on top of the pay, as a fraction.",
        measure="Take last month's payslip: what was paid on top by the wage.",
    )
    is_own: bool = given("switch", "Whether it is the maker's own hour, and no hired help.", at="own")


class MachineRow(Row, at="workshop.machines.*", group="machines"):
    table: ClassVar[str] = "machine"
    name: str
    purchase: float = given("cur", "Price of the machine when bought.", measure="Look up the invoice of the machine.")
    residual: float = given(
        "cur", "What it will bring at the end of its life.", measure="Look what used ones of that age are offered for."
    )
    life_hours: float = given(
        "h",
        "Hours that it will run in its life.",
        1.0,
        measure="Count its hours of a usual week, and ask the dealer how many years one lasts.",
    )
    maintenance_per_hour: float = given(
        "cur/h",
        "Upkeep for each hour run.",
        measure="Add up a year's spare parts and repairs, by the hours that it ran.",
    )
    power_kw: float = given("kW", "Rated power.", measure="Read it off the machine's plate.")
    duty: float = given(
        "1",
        "Mean share of the rated power that is drawn.",
        measure="Put a meter into the plug for one run: kilowatt-hours by its hours and the rated kilowatts.",
    )


class MaterialRow(Row, at="workshop.materials.*", group="materials"):
    table: ClassVar[str] = "material"
    name: str
    pack_unit: str = word("unit")
    pack_price: float = given("cur", "Price of a pack.", measure="Read it off the last invoice.")
    pack_size: float = given("pack_unit", "What a pack holds.", 1.0, measure="Weigh a full pack and an empty one.")
    waste: float = given(
        "1",
        "Bought but never used, as a fraction on top.",
        measure="Weigh what is left in the next finished pack, spilled or out of date, by what was used of it.",
    )


class FlaskRow(Row, at="workshop.flasks.*", group="materials"):
    table: ClassVar[str] = "flask"
    name: str
    flask_diameter_mm: float = given(
        "mm", "Inner diameter of the flask.", at="diameter_mm", measure="Measure it with a rule."
    )
    flask_height_mm: float = given(
        "mm", "Inner height of the flask.", at="height_mm", measure="Measure it with a rule."
    )
    water_per_100: float = given(
        "1", "Water by weight per 100 of powder.", measure="Weigh water and powder of the next mix."
    )
    slurry_density: float = given(
        "g/cm3",
        "Density of the mixed investment.",
        measure="Weigh a cup of the next mix that holds 100 cm3: its grams by 100.",
    )
    button_cm3: float = given(
        "cm3",
        "Metal in the button of a flask.",
        group="design",
        measure="Weigh one button sawn off: its grams by the density of the alloy.",
    )
    powder_g: float | None = given(
        "g", "Weighed powder of a flask; computed where none.", measure="Weigh the powder of the next flask."
    )


class CastingRow(Row, at="products.*.castings.*", group="design"):
    table: ClassVar[str] = "casting"
    name: str = word("name")
    in_alloy: str | None = leads_to("alloy")
    casting_count: float = given("1", "How many of it are in a set.", at="count")
    volume_cm3: float | None = given(
        "cm3",
        "Volume as drawn or measured from a mesh.",
        measure="Weigh a raw casting before it is worked: its grams by the density of the alloy.",
    )
    model_g: float | None = given(
        "g", "Mass of a weighed wax or resin model.", measure="Weigh ten models together, by ten."
    )
    model_density: float = given(
        "g/cm3",
        "Density of that model.",
        1.0,
        measure="Weigh a model that is measured, or hang one in water with a weight: grams by what it loses.",
    )
    metal_g: float | None = given(
        "g", "Mass of a weighed piece of metal.", measure="Weigh five pieces together, by five."
    )
    weighed_finished: bool = given(
        "switch", "Whether the piece was weighed when finished.", at="weighed", says="finished"
    )
    area_cm2: float = given(
        "cm2",
        "Surface as drawn or measured from a mesh.",
        measure="Wrap one in foil without folds, weigh the foil, and weigh 100 cm2 of the same foil.",
    )
    effort: float = given(
        "1",
        "Its minutes against those of a step per piece.",
        1.0,
        measure="Time this casting and the usual one at the step that takes longest.",
    )


class FindingRow(Row, at="products.*.findings.*", group="findings"):
    table: ClassVar[str] = "finding"
    name: str = word("name")
    finding_alloy: str | None = leads_to("alloy", at="alloy")
    finding_quantity: float = given("1", "How many of it go on a set.", at="quantity")
    finding_price: float = given(
        "cur",
        "Price of one, without its metal where that is stated.",
        at="price",
        measure="Read it off the last invoice.",
    )
    finding_metal_g: float = given(
        "g",
        "Metal in one that is paid by weight.",
        at="metal_g",
        needs="finding_alloy",
        measure="Weigh ten together, by ten.",
    )
    finding_premium: float = given(
        "1",
        "Premium of the finding over the melt value of its metal.",
        at="premium",
        needs="finding_alloy",
        measure="Take the last invoice: what was paid by the melt value of its metal on that day, less 1.",
    )
    finding_other_g: float = given("g", "What of one is no metal.", at="other_g", measure="Weigh ten together, by ten.")
    spoil: float = given(
        "1",
        "Spoiled or lost, as a fraction on top.",
        measure="Count them out before the next twenty pieces, and count what is left.",
    )


class LinkRow(Row, at="products.*.findings.*", group="findings"):
    """One finding on the way from a whole down to the part that a variant is."""

    table: ClassVar[str] = "link"
    name: str
    link_quantity: float = given("1", "How many of the part go into one of what it is joined to.", 1.0, at="quantity")
    link_spoil: float = given(
        "1",
        "Spoiled when they are joined, as a fraction on top.",
        at="spoil",
        measure="Count them out before the next twenty pieces, and count what is left.",
    )


class PartRow(Row, at=None, group="findings"):
    """A piece of the maker's own in a set, or in a piece that is in it, at any depth."""

    table: ClassVar[str] = "part"
    name: str
    piece: str = leads_to("variant", at=None)
    is_joined: bool = given("switch", "Whether the piece is there.", at=None)
    depth: int


class SizeRow(Row, at=None, group="design"):
    table: ClassVar[str] = "size"
    name: str
    inner_mm: float = given("mm", "Inner circumference of the size, or its stated length.", at=None)
    size_sales: float = given(
        "1",
        "How much of it is sold, relative to the other sizes.",
        at=None,
        typed=True,
        bounds=(0, None),
        measure="Count the sizes in the last thirty orders.",
    )


class UseRow(Row, at="processes.*.*.uses.*", group="materials"):
    table: ClassVar[str] = "use"
    material: str | None = leads_to("material")
    plating_alloy: str | None = leads_to("alloy", at="alloy")
    use_quantity: float = given(
        "pack_unit",
        "Taken each time the step is done.",
        at="quantity",
        measure="Weigh the pack before and after the step is done once.",
    )
    takes_flask_powder: bool = given(
        "switch", "Whether the step fills a flask with powder.", at="quantity", says="flask"
    )
    per_cm3: float = given(
        "pack_unit/cm3",
        "Taken per cm3 of the set's patterns.",
        measure="Weigh the pack before and after one load: what is gone by the cm3 of its patterns.",
    )
    per_cm2: float = given(
        "pack_unit/cm2",
        "Taken per cm2 of the set's surface.",
        measure="Weigh the pack before and after one load: what is gone by the cm2 of its pieces.",
    )
    per_g: float = given(
        "pack_unit/g",
        "Taken per gram of the set as cast.",
        measure="Weigh the pack before and after one load: what is gone by the grams of its pieces.",
    )
    microns: float = given(
        "um",
        "Thickness of the plated layer.",
        needs="plating_alloy",
        measure="Ask the plater for a reading on one piece, or weigh one before and after on a fine scale.",
    )
    covers: float = given(
        "1",
        "Share of the surface that is plated.",
        needs="plating_alloy",
        measure="Mark on one piece what is plated, and guess it in tenths.",
    )
    plating_waste: float = given(
        "1",
        "Plating metal that is used and does not stay, on top.",
        at="waste",
        needs="plating_alloy",
        measure="Take the plater's statement: gold taken by gold laid on, less 1.",
    )


class StepRow(Row, at="processes.*.*", group="design"):
    table: ClassVar[str] = "step"
    name: str = word("name")
    role: str | None = leads_to("role", at="labour", group="labour")
    machine: str | None = leads_to("machine", group="machines")
    is_piece: bool = given("switch", "Whether the step is counted by the piece.", at="per", says="piece")
    is_flask: bool = given("switch", "Whether the step is counted by the flask.", at="per", says="flask")
    is_design: bool = given("switch", "Whether the step is done once for a design.", at="per", says="design")
    is_metal_step: bool = given("switch", "Whether the metal comes in at this step.", at="takes_metal", says=ANYTHING)
    is_from_metal: bool = given("switch", "Whether the step is the metal step or comes after it.", at=None)
    together: float = given("1", "How many are done at once.", 1.0, measure="Count what goes into the next full load.")
    shared: bool = given("switch", "Whether the load is filled up with other work.")
    step_minutes: float = given(
        "min",
        "Attended minutes each time.",
        at="minutes",
        group="labour",
        needs="role",
        measure="Time the next few by the clock, what interrupts left out, and take the mean.",
    )
    rework: float = given(
        "1",
        "Fraction of the units that is mended.",
        group="good",
        needs=("role", "not from_g"),
        measure="Count how many of the next thirty are mended.",
    )
    rework_minutes: float = given(
        "min",
        "Attended minutes of a mending.",
        group="labour",
        needs=("role", "not from_g"),
        measure="Time the next mendings by the clock.",
    )
    machine_minutes: float = given(
        "min",
        "Machine minutes each time.",
        group="machines",
        needs="machine",
        measure="Note when the machine starts and when it stops.",
    )
    good: float = given(
        "1",
        "Fraction that comes out good.",
        1.0,
        group="good",
        needs="not from_g",
        measure="Count what is begun at this step in the next batch and what of it is good; the log adds them up.",
    )
    metal_loss: float = given(
        "1",
        "Share of the piece's mass that is taken off.",
        needs=("is_from_metal", "not from_g"),
        measure="Weigh five pieces together before and after the step.",
    )
    caught: float = given(
        "1",
        "Share of what is taken off that is kept.",
        needs=("is_from_metal", "not from_g"),
        measure="Weigh what tray and filter hold after five weighed pieces, by what those lost.",
    )
    goes_to_refiner: bool = given(
        "switch", "Whether a spoiled piece must go to the refiner.", at="rejects", says="refiner", group="good"
    )
    is_lost: bool = given("switch", "Whether a spoiled piece is lost.", at="rejects", says="lost", group="good")
    step_fee: float = given(
        "cur",
        "What bought-in work costs each time.",
        at="fee",
        group="services",
        measure="Read it off the last invoice: its sum by how often it was done.",
    )
    from_g: float = given(
        "g", "Least finished mass (per piece: of one casting) from which the step is done.", needs="from_g"
    )
    uses: tuple[UseRow, ...]


class PriceStepRow(Row, at="channels.*.rounding.steps_by_price.*", group="policy"):
    table: ClassVar[str] = "price_step"
    applies_below: float | None = given(
        "quoted", "The step holds for amounts below this; none for the last.", at="below", needs="applies_below"
    )
    step_size: float = given("quoted", "Prices go up in steps of this.", 1.0, at="step")
    step_position: float = given("1", "Place of the step in its list, from 0.", -1.0, at=None)


class PostageTierRow(Row, at="channels.*.postage.*", group="channel"):
    table: ClassVar[str] = "postage_tier"
    up_to_g: float = given("g", "Mass of the order up to which the tier holds.")
    tier_charged: float = given("quoted", "Postage that the buyer of such an order pays, tax in.", at="charged")
    tier_cost: float = given(
        "cur", "Postage that such an order costs.", at="cost", measure="Read it off the last receipts of the post."
    )
    tier_position: float = given("1", "Place of the tier in its list, from 0.", -1.0, at=None)


class FeeRow(Row, at="channels.*.fees.*", group="channel"):
    table: ClassVar[str] = "fee"
    name: str = word("name")
    fee_rate: float = given(
        "1",
        "Fraction of what the fee is counted on.",
        at="rate",
        measure="Take the channel's last statement: this fee by what it is counted on.",
    )
    fee_min: float = given("quoted", "Least of the running part.", at="min")
    fee_max: float | None = given("quoted", "Most of the running part; none where it has no cap.", at="max")
    fee_fixed: float = given("quoted", "Fixed part.", at="fixed", measure="Read it off the channel's last statement.")
    fee_share: float = given(
        "1",
        "Fraction of the orders that it falls on.",
        at="share",
        measure="Count the orders of the channel's last statement, and those with this fee.",
    )
    fee_per_set: bool = given("switch", "Whether it is taken per set and not per order.", at="per", says="set")
    fee_of_order: bool = given("switch", "Whether postage counts as well.", at="of", says="order")
    fee_taxed: bool = given("switch", "Whether it is counted on amounts with tax.", at="taxed")


class ChannelRow(Row, at="channels.*", group="channel"):
    table: ClassVar[str] = "channel"
    name: str
    role: str | None = leads_to("role", at="labour")
    currency: str
    is_wholesale: bool = given(
        "switch", "Whether the channel sells to shops.", at="audience", says="wholesale", typed=False
    )
    tax_rate: float = given("1", "Sales tax as a fraction.", at="tax.rate")
    tax_included: bool = given("switch", "Whether the list price has the tax in it.", at="tax.included")
    sets_per_order: float = given(
        "1",
        "Mean number of sets in an order.",
        1.0,
        at="units_per_order",
        measure="Count sets and orders of last month.",
    )
    discount: float = given(
        "1", "Mean discount over the year.", measure="Add up last month's orders at list price, and what was taken off."
    )
    postage_charged: float = given("quoted", "Postage that the buyer of an order pays, tax in.", at="postage.charged")
    postage_cost: float = given(
        "cur",
        "Postage that an order costs.",
        at="postage.cost",
        measure="Add up the last ten receipts of the post, by ten.",
    )
    packing_g: float = given("g", "Mass of the parcel itself.", measure="Weigh an empty parcel.")
    packing: float = given(
        "cur", "Packing that an order costs.", measure="Add up box, paper and tape of one parcel from their invoices."
    )
    packing_per_set: float = given(
        "cur", "Packing that every set costs.", measure="Add up box and card of one set from their invoices."
    )
    order_minutes: float = given(
        "min",
        "Attended minutes for an order.",
        at="minutes",
        needs="role",
        measure="Time the next orders by the clock, from reading one to the post.",
    )
    refund_share: float = given(
        "1",
        "Fraction of the sets that is refunded.",
        measure="Count the sets of the last year, and those that came back.",
    )
    refund_cost: float = given(
        "cur", "What a refunded set costs.", measure="Add up postage and packing of the last one that came back."
    )
    refund_loss: float = given(
        "1",
        "Share of its cost that a set sent back has lost.",
        measure="Look at the last ones that came back: what share of their cost was lost.",
    )
    ending: float = given("quoted", "What every price ends in.", at="rounding.ending", group="policy")
    rounds_up: bool = given(
        "switch",
        "Whether prices are rounded up, not to the nearest.",
        at="rounding.direction",
        says="up",
        group="policy",
    )
    fees: tuple[FeeRow, ...]
    price_steps: tuple[PriceStepRow, ...]
    postage_tiers: tuple[PostageTierRow, ...]


class PriceRow(Row, at="channels.*", group="policy"):
    """What one variant asks in one channel; a variant has one for every channel, sold there or not."""

    table: ClassVar[str] = "price"
    channel: str
    followed: str | None = leads_to("price", at="policy.keystone_of")
    currency: str = leads_to("currency", at=None)
    policy_kind: str
    sold: bool = given("switch", "Whether the product is sold in the channel.", at=None, typed=True)
    is_fixed: bool = given("switch", "Whether the price is stated as it is.", at="policy.fixed", says=ANYTHING)
    fixed_price: float = given("quoted", "That price.", at="policy.fixed")
    asks_solving: bool = given("switch", "Whether the policy is a margin, a markup or earnings.", at=None)
    asked_margin: float = given("1", "Margin on net sales that is asked.", at="policy.margin")
    asked_markup: float = given("1", "Markup on unit cost that is asked.", at="policy.markup")
    asks_earnings: bool = given("switch", "Whether earnings per hour are asked.", at="policy.earn", says=ANYTHING)
    asked_earnings: float = given("cur/h", "Earnings per hour that are asked.", at="policy.earn")
    unit_multiple: float = given("1", "Ex-tax price in times the unit cost.", at="policy.multiple", when="multiple")
    metal_multiple: float = given("1", "Ex-tax price in times the metal cost.", at="policy.metal_multiple")
    work_multiple: float = given("1", "Ex-tax price in times all other cost.", at="policy.work_multiple")
    follows: bool = given(
        "switch", "Whether the price follows another channel's.", at="policy.keystone_of", says=ANYTHING
    )
    follow_multiple: float = given(
        "1", "Ex-tax price in times the followed channel's.", at="policy.multiple", when="keystone_of"
    )
    least_price: float = given("quoted", "Least list price.")
    own_sets_per_order: float | None = given(
        "1",
        "The product's own sets in an order there; the channel's where none.",
        at=None,
        typed=True,
        bounds=(1, None),
        measure="Count sets and orders of this product last year.",
    )


class VariantRow(Row, at="products.*", group="design"):
    table: ClassVar[str] = "variant"
    sku: str = word("sku")
    alloy: str = leads_to("alloy", at=None)
    size: str | None = None
    of: str = ""
    path: tuple[str, ...] = ()
    flask: str | None = leads_to("flask")
    is_cut: bool = given("switch", "Whether the piece is cut from sheet, wire or rod.", at=None)
    is_bought: bool = given("switch", "Whether the castings are bought from a casting house.", at=None)
    sprue_ratio: float = given(
        "1",
        "Sprues and runners per gram of castings (offcut per gram of a cut piece).",
        required="Add gram of sprues and runners per gram of castings.",
        measure="Weigh one tree before and after cutting: what is left of it by the castings.",
    )
    pieces_per_flask: float = given(
        "1", "Castings on one tree.", 1.0, needs="flask", measure="Count the castings of the next full tree."
    )
    expected_sales: float = given(
        "1",
        "Sets over the design's life, all alloys together.",
        1.0,
        needs="steps.is_design",
        measure="Count what sold in the last year, times the years that it will still be made.",
    )
    shrinkage: float = given(
        "1",
        "Linear shrinkage from pattern to metal.",
        measure="Measure one length of a model and of its casting: the difference by the model's.",
    )
    scale: float = given("1", "Linear scale of the pattern.", 1.0)
    band_mm: float = given(
        "mm",
        "Thickness of the band of what is made in sizes.",
        at="sizes.band_mm",
        needs="master_inner_mm",
        measure="Measure it with a caliper.",
    )
    band_share: float = given(
        "1",
        "Share of volume and surface that grows with the size.",
        1.0,
        at="sizes.band_share",
        needs="master_inner_mm",
        measure="Weigh the smallest and the largest size, and see how far the mass goes with the length.",
    )
    master_inner_mm: float = given("mm", "Inner circumference at which the pattern is drawn; 0 without sizes.", at=None)
    sizes: tuple[SizeRow, ...]
    links: tuple[LinkRow, ...]
    parts: tuple[PartRow, ...]
    castings: tuple[CastingRow, ...]
    findings: tuple[FindingRow, ...]
    steps: tuple[StepRow, ...]
    prices: tuple[PriceRow, ...]

    @property
    def product(self) -> str:
        """The sku of the product that states it; one of several sizes that are each priced has a sku of its own."""
        sized = self.size is not None and (not self.of or bool(self.links))
        return self.sku.removesuffix(f"-{self.size}") if sized else self.sku

    @property
    def takes(self) -> str:
        """How its own metal comes in: `cast`, `cut` from sheet, wire or rod, or `bought` from a casting house."""
        return "cut" if self.is_cut else "bought" if self.is_bought else "cast"

    @property
    def sold_places(self) -> tuple[int, ...]:
        """Places of the channels in which it is sold."""
        return tuple(place for place, price in enumerate(self.prices) if price.sold)

    @property
    def sold_in(self) -> tuple[str, ...]:
        """Names of the channels in which it is sold."""
        return tuple(self.prices[place].channel for place in self.sold_places)

    @property
    def called(self) -> str:
        """What other rows know it by: no two variants have the same."""
        return "\n".join((self.sku, self.alloy, *self.path))


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
