"""The engine beside the exact re-computation: what differs in one workshop, variants and quotations."""

from __future__ import annotations

from pathlib import Path

from pricing.costing import asked_for, cost
from pricing.errors import Faults
from pricing.records import variant_records

from ..compare import differences
from .recompute import CloseCall, recompute
from .workshop_writer import Workshop, write


def engine_variants(folder: Path, workshop: Workshop) -> list[dict]:
    """What `cost --json` prints as `variants`."""
    asked = asked_for(workshop.as_of, workshop.run, workshop.charge_design)
    return variant_records(cost(folder, asked).computed)


def what_differs(workshop: Workshop, root: Path) -> list[str]:
    """Every quantity on which the two differ, the folder written below `root`; empty where they agree.

    A folder that the engine refuses differs too.
    """
    folder = write(workshop, root)
    calls: list[CloseCall] = []
    exact = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design, close_calls=calls)
    edges = [call for call in calls if call.kind == "edge"]
    try:
        return differences(engine_variants(folder, workshop), exact, close_calls=edges)
    except Faults as refused:
        return [f"the engine refuses the folder: {refused}"]
