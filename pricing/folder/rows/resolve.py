"""Stated models to the resolved one: everything that a person may leave open, inherit or override is settled.

Quotes and exchange rates in force, `like` and overrides, volumes by mesh or by weighing, rounding steps by
the currency: after this there are only rows of plain numbers. What is missing or cannot hold is told with
its place, all of it at once.
"""

from __future__ import annotations

from collections.abc import Callable

from pricing.errors import Fault, Faults
from pricing.folder.memory import Memory
from pricing.folder.prices.in_force import in_force
from pricing.folder.read import Folder
from pricing.folder.rows.metals import alloy_row, metal_and_currency_rows
from pricing.folder.rows.resolving import Asked, Bench, MeasureMesh
from pricing.folder.rows.variants import VariantRows, variant_rows
from pricing.folder.rows.workshop import channel_row, named_rows, workshop_row
from pricing.model.rows import FlaskRow, MachineRow, MaterialRow, Resolved, RoleRow

__all__ = ["Asked", "MeasureMesh", "resolve"]


def resolve(
    folder: Folder,
    asked: Asked,
    measure_mesh: MeasureMesh,
    memory: Memory | None = None,
    rows: Callable[[Bench], VariantRows] = variant_rows,
) -> tuple[Resolved, tuple[Fault, ...]]:
    """The resolved workshop and its warnings; rows of what has not changed are those of the `memory`.

    `rows` gives those of the variants, which hang on no quote and on nothing that is asked. Raises Faults with
    everything that is missing (quotes, exchange rates, sound meshes) or cannot hold.
    """
    stated = folder.stated
    memory = Memory() if memory is None else memory
    memory.begin_resolving()
    bench = Bench(folder, asked, in_force(stated.quotes, asked.as_of), measure_mesh, memory=memory)
    variants = rows(bench)
    metals, currencies = metal_and_currency_rows(bench, variants)
    if bench.faults:
        raise Faults(bench.faults)
    known = {row.name for row in metals}
    resolved = Resolved.model_construct(  # every row is checked already
        currency=stated.workshop.currency,
        as_of=asked.as_of,
        workshop=workshop_row(bench),
        currencies=currencies,
        metals=metals,
        alloys=tuple(alloy_row(name, alloy, known) for name, alloy in stated.alloys.items()),
        roles=named_rows(RoleRow, stated.workshop.labour),
        machines=named_rows(MachineRow, stated.workshop.machines),
        materials=named_rows(MaterialRow, stated.workshop.materials),
        flasks=named_rows(FlaskRow, stated.workshop.flasks),
        channels=tuple(
            channel_row(name, channel, stated.workshop.currency) for name, channel in stated.channels.items()
        ),
        variants=tuple(variants.listed),
        hidden=tuple(variants.hidden),
    )
    return resolved, tuple(bench.warnings)
