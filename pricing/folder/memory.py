"""What one reading of a folder leaves to the next: whatever came of things that have not changed since.

Files are known by their marks and their content, models by the very objects that were made of a file, so that all that
came of them stands as long as they do. It belongs to one folder, and to one reading at a time.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from pricing.folder.inherit import Applied, Over
from pricing.folder.kept import Kept, Marks
from pricing.model.process import Step, Use
from pricing.model.product import Casting, Finding, Product
from pricing.model.rows import CastingRow, FindingRow, PriceRow, StepRow, UseRow


@dataclass
class Memory:
    """What was read, checked and resolved; `figures` is what was computed last."""

    files: Kept[str, Any] = field(default_factory=Kept)
    over: Over = field(default_factory=Kept)
    applied: Applied = field(default_factory=Applied)
    checked: Kept[str, Any] = field(default_factory=Kept)
    on_top: Kept[int, tuple[Product, tuple[Any, ...]]] = field(default_factory=Kept)
    # Rows by the identity of what they were made from; the stated object is held so that it stays the only one.
    rows: Kept[str, Any] = field(default_factory=Kept)
    steps: Kept[tuple[int, bool], tuple[Step, StepRow]] = field(default_factory=Kept)
    uses: Kept[int, tuple[tuple[Use, ...], tuple[UseRow, ...]]] = field(default_factory=Kept)
    step_lists: Kept[tuple[int, bool], tuple[tuple[Step, ...], str | None, tuple[StepRow, ...]]] = field(
        default_factory=Kept
    )
    castings: Kept[tuple[int, float | None, float | None], tuple[Casting, CastingRow]] = field(default_factory=Kept)
    findings: Kept[int, tuple[Finding, FindingRow]] = field(default_factory=Kept)
    prices: Kept[tuple[int, int, str, str, bool], tuple[Any, PriceRow]] = field(default_factory=Kept)
    meshes: Kept[Path, tuple[Marks, Any]] = field(default_factory=Kept)
    figures: Any = None

    def begin_reading(self) -> None:
        """Another reading begins: what this one does not ask for is forgotten with the next."""
        for kept in (self.files, self.over, self.applied, self.checked, self.on_top):
            kept.turn()

    def begin_resolving(self) -> None:
        """The same of what is resolved."""
        for kept in (
            self.rows,
            self.steps,
            self.uses,
            self.step_lists,
            self.castings,
            self.findings,
            self.prices,
            self.meshes,
        ):
            kept.turn()
