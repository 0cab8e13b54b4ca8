"""What one resolving works with: the folder, what was asked, the quotes in force, and what is found on the way."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import Any

from pricing.errors import Fault, Place
from pricing.folder.memory import Memory
from pricing.folder.prices.in_force import InForce
from pricing.folder.read import Folder
from pricing.model.alloy import Alloy
from pricing.model.product import Casting
from pricing.model.rows import PriceRow

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
    memory: Memory = field(default_factory=Memory)
    _paths: dict[str, Path] = field(default_factory=dict)
    # Volume and surface of the meshes that were measured, by their files.
    measured_meshes: dict[Path, tuple[float, float]] = field(default_factory=dict)
    # What products ask, by the identity of what they ask for themselves (held along; 0 of nothing) and by the channels
    # that they are sold in.
    price_lists: dict[tuple[int, tuple[str, ...] | None], tuple[tuple[PriceRow, ...], Any]] = field(
        default_factory=dict
    )
    # Castings whose mesh cannot be priced, by identity: it is told once.
    lacking: dict[int, Casting] = field(default_factory=dict)

    @property
    def alloys(self) -> Mapping[str, Alloy]:
        """The alloys by name."""
        return self.folder.stated.alloys

    def path_of(self, file: str) -> Path:
        """Where a file lies that the folder names."""
        path = self._paths.get(file)
        if path is None:
            path = self._paths[file] = self.folder.root / file
        return path

    def measured(self, mesh: Path) -> tuple[float, float]:
        """Volume and surface of a mesh, each measured once. Raises what `measure_mesh` does."""
        found = self.measured_meshes.get(mesh)
        if found is None:
            found = self.measured_meshes[mesh] = self.measure_mesh(mesh)
        return found

    def fault(self, file: str, path: tuple[str | int, ...], problem: str, mend: str) -> None:
        self.faults.append(self.folder.documents.fault(file, path, problem, mend))

    def warn(self, place: Place, key: str, problem: str, mend: str) -> None:
        self.warnings.append(Fault(place, key, problem, mend))
