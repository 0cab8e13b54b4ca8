"""The engine beside the exact re-computation: what differs in one workshop, variants and quotations."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from types import MappingProxyType

from pricing.costing import Costing, asked_for, cost
from pricing.errors import Faults
from pricing.formulas.engine import Computed
from pricing.formulas.kernel.run import Kernel
from pricing.records import variant_records
from pricing.studies.quantity.quoting import offered, quotation_record

from .compare import NEAR_ZERO, compare, differences
from .recompute import CloseCall, recompute
from .recompute_quote import requote
from .workshop_writer import Quotation, Workshop, write


def what_differs(workshop: Workshop, root: Path, kernel: Kernel | None = None) -> list[str]:
    """Every quantity on which the two differ, the folder written below `root`; empty where they agree.

    A folder that the engine refuses differs too. With the compiled formulas of all quantities they are compared, too.
    """
    folder = write(workshop, root)
    calls: list[CloseCall] = []
    exact = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design, close_calls=calls)
    try:
        # What `cost --json` prints as `variants`.
        costing = cost(folder, asked_for(workshop.as_of, workshop.run, workshop.charge_design))
        found = differences(variant_records(costing.computed), exact, close_calls=edges(calls))
        if kernel is not None:
            by_kernel = differences(
                variant_records(compiled(costing.computed, kernel)), exact, close_calls=edges(calls)
            )
            found += [f"compiled: {each}" for each in by_kernel]
        if workshop.quotations:
            steady = cost(folder, asked_for(workshop.as_of))
            for asked in workshop.quotations:
                found += quoted_otherwise(folder, steady, asked)
    except Faults as refused:
        return [f"the engine refuses the folder: {refused}"]
    return found


def compiled(computed: Computed, kernel: Kernel) -> Computed:
    """The same workshop by the compiled formulas."""
    columns, varied = computed.columns, set(kernel.plan.wanted)
    given = {name: column for name, column in computed.values.items() if name not in varied}
    values = kernel.over_variants(given, columns.keys, columns.sizes)
    return replace(computed, values=MappingProxyType({**given, **values}))


def quoted_otherwise(folder: Path, costing: Costing, asked: Quotation) -> Iterator[str]:
    """What differs in one quotation; nothing where float noise may decide a figure of it."""
    calls: list[CloseCall] = []
    named = (asked.sku, asked.alloy, asked.channel)
    quantities = list(asked.quantities)
    exact = requote(folder, costing.asked.as_of, *named, quantities, asked.charge_design, close_calls=calls)
    if edges(calls):
        return
    variants = costing.computed.resolved.variants
    rows = [row for row, each in enumerate(variants) if (each.sku, each.alloy) == (asked.sku, asked.alloy)]
    (got,) = offered(costing, rows, asked.channel, quantities, asked.charge_design)
    found: list[str] = []
    path = f"{asked.sku} in {asked.alloy}, quoted in {asked.channel}"
    compare(path, quotation_record(got), exact, (Fraction(1, 10**9), NEAR_ZERO), found)
    yield from found


def edges(calls: list[CloseCall]) -> list[CloseCall]:
    """Those calls that noise may decide: on the very edge of a stated tolerance."""
    return [call for call in calls if call.kind == "edge"]
