"""A step of a process, and a product's own figures for it (`processes.toml`)."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Literal

from pydantic import Field

from pricing.model.alloy import Elements
from pricing.model.base import (
    AtLeastOne,
    Fraction,
    FractionAboveZero,
    FractionBelowOne,
    List,
    Name,
    Names,
    NotNegative,
    Sense,
    StatedModel,
    Surcharge,
    own_figures,
)

Per = Literal["piece", "flask", "set", "design"]
TakesMetal = Literal["pour", "cut", "bought"]
Rejects = Literal["crucible", "refiner", "lost"]


#: The ways of saying how much a use takes; exactly one of them stands.
USE_KEYS = ("quantity", "per_cm3", "per_cm2", "per_g", "microns")


class Use(StatedModel):
    """A material that a step uses up, or an alloy that it is plated with; exactly one figure says how much."""

    material: Name | None = Field(None, description="Name of the material; required unless it is a plating.")
    quantity: NotNegative | Literal["flask"] | None = Field(
        None, description='Used each time, in the material\'s unit; "flask" is the powder that fills the flask.'
    )
    per_cm3: NotNegative | None = Field(None, description="Used per cm3 of the set's patterns, in the material's unit.")
    per_cm2: NotNegative | None = Field(None, description="Used per cm2 of the set's surface, in the material's unit.")
    per_g: NotNegative | None = Field(None, description="Used per gram of the set as cast, in the material's unit.")
    alloy: Name | None = Field(None, description="Alloy of a plated layer; required where microns stand.")
    microns: NotNegative | None = Field(None, description="Thickness of the plated layer, in micrometres.")
    covers: Fraction = Field(1.0, description="Share of the set's surface that is plated.")
    waste: Surcharge = Field(0.0, description="Plating metal that is used and does not stay, as a fraction on top.")

    @property
    def kind(self) -> str:
        """Which of the keys says how much."""
        return next(key for key in USE_KEYS if getattr(self, key) is not None)

    @property
    def goes_by_surface(self) -> bool:
        """Whether a surface must be known for it."""
        return self.per_cm2 is not None or self.microns is not None

    def senses(self) -> Iterator[Sense]:
        stated = [key for key in USE_KEYS if getattr(self, key) is not None]
        if not stated:
            ways = "quantity, per_cm3, per_cm2, per_g and microns"
            yield Sense((), "how much is used is missing", f"Add one of {ways}.")
        if len(stated) > 1:
            yield Sense((stated[1],), f"stands beside {stated[0]}", "Keep one of them: a use is counted one way.")
        if self.microns is None:
            if self.material is None:
                yield Sense((), "material is missing", "Add material = with its name.")
            for key in ("alloy", "covers", "waste"):
                if key in self.model_fields_set:
                    yield Sense((key,), "it belongs to a plating, by microns", "Leave it out, or state microns.")
            return
        if self.alloy is None:
            yield Sense(("microns",), "alloy is missing beside it", "Add alloy = with the alloy of the layer.")
        if self.material is not None:
            yield Sense(("material",), "stands beside microns", "Leave it out: a plating names an alloy instead.")


class Step(StatedModel):
    """One step of a process, in the order in which the work is done."""

    name: Name = Field(description="Name of the step, once in its process.")
    per: Per = Field(description="What the step is done to: piece, flask, set or design.")
    together: AtLeastOne = Field(1.0, description="How many of that unit are done at once.")
    shared: bool = Field(False, description="Whether the load is filled with other work.")
    takes_metal: TakesMetal | None = Field(
        None,
        description='"pour", "cut" (from sheet, wire) or "bought" (castings) for the one step that brings metal in.',
    )
    labour: Name | None = Field(None, description="Name of the role that attends to it; required where minutes stand.")
    minutes: NotNegative = Field(0.0, description="Attended minutes each time.")
    rework: Fraction = Field(0.0, description="Fraction of the units that are mended.")
    rework_minutes: NotNegative = Field(0.0, description="Attended minutes for mending one unit.")
    machine: Name | None = Field(None, description="Name of the machine; required where machine_minutes stand.")
    machine_minutes: NotNegative = Field(0.0, description="Minutes that the machine runs each time.")
    uses: List[Use] = Field((), description="Materials used up.")
    fee: NotNegative = Field(0.0, description="Paid each time for bought-in work, in the workshop's currency.")
    good: FractionAboveZero = Field(1.0, description="Fraction that comes out good.")
    metal_loss: FractionBelowOne = Field(0.0, description="Fraction of the piece's mass that the step removes.")
    caught: Fraction = Field(0.0, description="Fraction of what is removed that is kept as lemel.")
    rejects: Rejects = Field("crucible", description='Where a spoiled piece goes: "crucible", "refiner" or "lost".')
    alloys: Names | None = Field(None, description="Alloys in which the step is done; without it in all.")
    holding: Elements | None = Field(
        None, description="Elements: the step is done in every alloy that holds one of them; never beside alloys."
    )
    from_g: NotNegative = Field(
        0.0,
        description="Finished mass of a set (per piece: of one casting) from which it is done, in gram; 0 is no limit.",
    )
    as_part: bool = Field(
        True, description="Whether it is done too where the piece becomes a part of another; the metal step always is."
    )

    def is_done_in(self, alloy: str, composition: Collection[str]) -> bool:
        """Whether the step is there for an alloy of this name, in which these elements are."""
        if self.holding is not None:
            return any(element in composition for element in self.holding)
        return self.alloys is None or alloy in self.alloys

    def senses(self) -> Iterator[Sense]:
        if self.labour is None:
            for key in ("minutes", "rework_minutes"):
                if getattr(self, key):
                    yield Sense((key,), "labour is missing beside it", "Add labour = with the name of a role.")
                    break
        if self.machine is None and self.machine_minutes:
            yield Sense(
                ("machine_minutes",), "machine is missing beside it", "Add machine = with the name of a machine."
            )
        for index, use in enumerate(self.uses):
            if use.quantity == "flask" and self.per != "flask":
                yield Sense(
                    ("uses", index, "quantity"),
                    f"a flask is filled only in a step per flask, and this one is per {self.per}",
                    'Write per = "flask", or state a number.',
                )
        if self.alloys is not None and self.holding is not None:
            yield Sense(("holding",), "stands beside alloys", "Keep one of them.")
        if self.takes_metal and self.per == "design":
            yield Sense(("takes_metal",), "no metal is brought in once per design", "Write per piece, flask or set.")
        if self.from_g:
            yield from self._limited_senses()

    def _limited_senses(self) -> Iterator[Sense]:
        """What a step that is done only from some mass upward may not have."""
        limited = "Leave it out, or leave from_g out."
        if self.per not in ("set", "piece"):
            yield Sense(("per",), "a step with from_g is per set or per piece", 'Write per = "set" or per = "piece".')
        if self.takes_metal:
            yield Sense(("takes_metal",), "a step with from_g cannot bring the metal in", limited)
        if self.good != 1:
            yield Sense(("good",), "a step with from_g has good = 1", limited)
        for key in ("metal_loss", "rework"):
            if getattr(self, key):
                yield Sense((key,), f"a step with from_g has no {key}", limited)
        for index, use in enumerate(self.uses):
            if use.quantity is None:
                yield Sense(("uses", index, use.kind), "a step with from_g has uses by quantity only", limited)


class StepFigures(own_figures(Step, [key for key in Step.model_fields if key != "name"])):  # type: ignore[misc]  # made here
    """A product's own figures for a step: whatever is stated takes the place of the step's."""
