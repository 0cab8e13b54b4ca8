"""How a piece is made: its steps, and what they use up."""

from __future__ import annotations

from typing import ClassVar

from pricing.model.given import ANYTHING, Row, given, leads_to, word


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
