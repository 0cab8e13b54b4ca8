"""The figures of a plan: what to make, each flask and what is weighed for it, kiln loads, metal in all."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from pricing.pouring.chances import Count
from pricing.pouring.designs import Design


@dataclass(frozen=True)
class Line:
    """A design with its count; `flasks` are the units in each flask of the plan, `attained` the chance with these."""

    design: Design
    count: Count
    flasks: tuple[tuple[int, int], ...]
    attained: float

    @property
    def patterns(self) -> int:
        """Castings' patterns to print or inject."""
        return self.count.patterns * self.design.chain.castings

    @property
    def on_trees(self) -> int:
        """Castings that have a place on the trees."""
        return self.count.on_trees * self.design.chain.castings

    @property
    def expected_starts(self) -> float:
        """The cost model's mean: castings to begin for the sets wanted."""
        chain = self.design.chain
        return self.design.quantity * chain.per_set * chain.castings * self.design.first_starts


@dataclass(frozen=True)
class InFlask:
    """So many units of a design on one tree; `missing_g` comes off the charge for each casting that is not there."""

    design: Design
    units: int
    missing_g: float

    @property
    def castings(self) -> int:
        return self.units * self.design.chain.castings


@dataclass(frozen=True)
class Flask:
    """One pour, with what goes on the scale, in gram; masses of metal are those of this flask alone.

    charge_g = castings_g + sprue_g + button_g + melt_lost_g = returned_g + fresh_g. `powder_g` is None where nothing
    is invested; `load` is 0 where nothing is burnt out. `room` is how full the
    tree is, `room_g` what the crucible takes.
    """

    number: int
    alloy: str
    flask: str
    load: int
    holds: tuple[InFlask, ...]
    room: float
    castings_g: float
    sprue_g: float
    button_g: float
    melt_lost_g: float
    charge_g: float
    returned_g: float
    fresh_g: float
    elements: Mapping[str, float]
    room_g: float | None
    tree_cm3: float
    powder_g: float | None
    water_g: float | None
    pour_c: float | None
    flask_c: float | None


@dataclass(frozen=True)
class Load:
    """One burnout: which flasks stand in the kiln, for how long, what it draws and costs."""

    number: int
    machine: str
    step: str
    minutes: float
    flasks: tuple[int, ...]
    share: float
    kwh: float
    cost: float


@dataclass(frozen=True)
class AlloyTotal:
    """One alloy in all flasks; `to_buy_g` is what the drawer lacks of the fresh metal (all of it, with no drawer)."""

    alloy: str
    charge_g: float
    returned_g: float
    fresh_g: float
    to_buy_g: float
    cost: float


@dataclass(frozen=True)
class Taken:
    """What is not poured: cut from sheet, wire or rod, or bought as castings."""

    line: Line
    metal_g: float


@dataclass(frozen=True)
class Plan:
    """A whole plan. `least_flasks` and `least_loads` are proved; `by` says how the flasks were found."""

    sure: float | None
    lines: tuple[Line, ...]
    flasks: tuple[Flask, ...]
    loads: tuple[Load, ...]
    alloys: tuple[AlloyTotal, ...]
    taken: tuple[Taken, ...]
    least_flasks: int
    least_loads: int
    by: str
    has_drawer: bool
    notes: tuple[str, ...]

    @property
    def gap(self) -> float:
        """How far the flasks may be above the fewest, as a share."""
        return (len(self.flasks) - self.least_flasks) / len(self.flasks) if self.flasks else 0.0
