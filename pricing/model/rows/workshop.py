"""What a workshop is and has: its overhead, hands, machines, materials and flasks."""

from __future__ import annotations

from typing import ClassVar

from pricing.model.given import ANYTHING, Row, given, word


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
