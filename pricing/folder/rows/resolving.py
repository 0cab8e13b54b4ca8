"""What one resolving works with: the folder, what was asked, the quotes in force, and what is found on the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path

from pricing.errors import Fault, Place
from pricing.folder.prices.in_force import InForce
from pricing.folder.read import Folder
from pricing.model.alloy import Alloy
from pricing.model.process import Step
from pricing.model.product import Casting
from pricing.model.rows import CastingRow, PriceRow, StepRow

#: Measures a mesh file: its volume in cm3 and its surface in cm2. Raises TroytagError where it cannot.
MeasureMesh = Callable[[Path], tuple[float, float]]


@dataclass(frozen=True)
class Asked:
    """What is to be costed: the day, and a run of so many sets (None: the steady state)."""

    as_of: date
    run: float | None = None
    charge_design: bool = False


@dataclass
class Bench:
    """What one resolving works with, and the faults and warnings that it finds."""

    folder: Folder
    asked: Asked
    quotes: InForce
    measure_mesh: MeasureMesh
    faults: list[Fault] = field(default_factory=list)
    warnings: list[Fault] = field(default_factory=list)
    # Rows by the identity of what they were made from; the stated object is held so that it stays the only one.
    steps: dict[tuple[int, bool], tuple[Step, StepRow]] = field(default_factory=dict)
    step_lists: dict[tuple[int, bool], tuple[tuple[Step, ...], str | None, tuple[StepRow, ...]]] = field(
        default_factory=dict
    )
    castings: dict[int, tuple[Casting, CastingRow | None]] = field(default_factory=dict)
    prices: dict[tuple[str, bool], PriceRow] = field(default_factory=dict)  # by channel and whether it is sold there

    @property
    def alloys(self) -> Mapping[str, Alloy]:
        """The alloys by name."""
        return self.folder.stated.alloys

    def fault(self, file: str, path: tuple[str | int, ...], problem: str, mend: str) -> None:
        self.faults.append(self.folder.documents.fault(file, path, problem, mend))

    def warn(self, place: Place, key: str, problem: str, mend: str) -> None:
        self.warnings.append(Fault(place, key, problem, mend))
