"""Workshops whose exact results are known already, so that the engine can be asked about them again and again."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from pricing.costing import asked_for, cost
from pricing.formulas.engine import compute
from pricing.model.rows import Resolved
from pricing.records import variant_records
from tests.exact.compare import differences
from tests.exact.many import drawn
from tests.exact.recompute import CloseCall, recompute
from tests.exact.workshop_writer import write

SEED = 1


@dataclass(frozen=True)
class Prepared:
    """A workshop as the engine gets it, beside what it comes to exactly."""

    resolved: Resolved
    exact: tuple[dict, ...]
    edges: tuple[CloseCall, ...]

    def differences(self) -> list[str]:
        """Every quantity on which the engine differs today."""
        return differences(variant_records(compute(self.resolved)), list(self.exact), close_calls=self.edges)


@cache
def prepared(number: int) -> Prepared:
    """The workshop of this number, drawn as `python -m tests.exact.many` draws it."""
    workshop, calls = drawn(SEED, number), list[CloseCall]()
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        exact = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design, close_calls=calls)
        asked = asked_for(workshop.as_of, workshop.run, workshop.charge_design)
        resolved = cost(folder, asked).computed.resolved
    return Prepared(resolved, tuple(exact), tuple(call for call in calls if call.kind == "edge"))
