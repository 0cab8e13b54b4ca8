"""A step of a process, and a product's own figures for it (`processes.toml`)."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Literal

from pydantic import Field

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
    own_figures,
)

Per = Literal["piece", "flask", "set", "design"]
TakesMetal = Literal["pour", "cut"]
Rejects = Literal["crucible", "refiner", "lost"]


#: The ways to say how much of a material is used; exactly one must stand.
USE_KEYS = ("quantity", "per_cm3", "per_cm2", "per_g")


class Use(StatedModel):
    """A material that a step uses up; exactly one of quantity, per_cm3, per_cm2 and per_g says how much."""

    material: Name = Field(description="Name of the material.")
    quantity: NotNegative | Literal["flask"] | None = Field(
        None, description='Used each time, in the material\'s unit; "flask" is the powder that fills the flask.'
    )
    per_cm3: NotNegative | None = Field(None, description="Used per cm3 of the set's patterns, in the material's unit.")
    per_cm2: NotNegative | None = Field(None, description="Used per cm2 of the set's surface, in the material's unit.")
    per_g: NotNegative | None = Field(None, description="Used per gram of the set as cast, in the material's unit.")

    @property
    def kind(self) -> Literal["quantity", "per_cm3", "per_cm2", "per_g"]:
        """Which of the four keys says how much."""
        return next(key for key in USE_KEYS if getattr(self, key) is not None)

    def senses(self) -> Iterator[Sense]:
        stated = [key for key in USE_KEYS if getattr(self, key) is not None]
        if not stated:
            yield Sense((), "how much is used is missing", "Add one of quantity, per_cm3, per_cm2 and per_g.")
        if len(stated) > 1:
            yield Sense((stated[1],), f"stands beside {stated[0]}", "Keep one of them: a use is counted one way.")


class Step(StatedModel):
    """One step of a process, in the order in which the work is done."""

    name: Name = Field(description="Name of the step, once in its process.")
    per: Per = Field(description="What the step is done to: piece, flask, set or design.")
    together: AtLeastOne = Field(1.0, description="How many of that unit are done at once.")
    shared: bool = Field(False, description="Whether the load is filled with other work.")
    takes_metal: TakesMetal | None = Field(
        None, description='"pour" or "cut" for the one step that brings the metal in; "cut" is from sheet, wire or rod.'
    )
    labour: Name | None = Field(None, description="Name of the role that attends to it; required where minutes stand.")
    minutes: NotNegative = Field(0.0, description="Attended minutes each time.")
    rework: Fraction = Field(0.0, description="Fraction of the units that are mended.")
    rework_minutes: NotNegative = Field(0.0, description="Attended minutes for mending one unit.")
    machine: Name | None = Field(None, description="Name of the machine; required where machine_minutes stand.")
    machine_minutes: NotNegative = Field(0.0, description="Minutes that the machine runs each time.")
    uses: List[Use] = Field((), description="Materials used up.")
    fee: NotNegative = Field(0.0, description="Paid to a service each time, in the workshop's currency.")
    good: FractionAboveZero = Field(1.0, description="Fraction that comes out good.")
    metal_loss: FractionBelowOne = Field(0.0, description="Fraction of the piece's mass that the step removes.")
    caught: Fraction = Field(0.0, description="Fraction of what is removed that is kept as lemel.")
    rejects: Rejects = Field("crucible", description='Where a spoiled piece goes: "crucible", "refiner" or "lost".')
    alloys: Names | None = Field(None, description="Alloys in which the step is done; without it in all.")
    from_g: NotNegative = Field(
        0.0, description="Finished mass of a set from which it is done, in gram; 0 is no limit."
    )

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


class StepFigures(own_figures(Step, [key for key in Step.model_fields if key != "name"])):  # type: ignore[misc]
    """A product's own figures for a step: whatever is stated takes the place of the step's."""
