"""The glossary: quantities and inputs of the cost model."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pricing.formulas.graph import Graph


@dataclass(frozen=True)
class Entry:
    """One name of the cost model; `formula` and `because` are empty for what is stated, `measure` for all else."""

    name: str
    table: str
    unit: str
    meaning: str
    formula: str = ""
    because: str = ""
    needs: tuple[str, ...] = ()
    used_by: tuple[str, ...] = ()
    measure: str = ""


def glossary(graph: Graph) -> list[Entry]:
    """Quantities in the order in which they are computed, then inputs by table."""
    users: dict[str, list[str]] = {}
    for quantity in graph.quantities.values():
        for need in quantity.needs:
            users.setdefault(need.column, []).append(quantity.name)
    computed = [
        Entry(
            quantity.name,
            quantity.table,
            quantity.unit,
            quantity.meaning,
            quantity.formula,
            quantity.because,
            tuple(dict.fromkeys(need.column for need in quantity.needs)),
            tuple(dict.fromkeys(users.get(quantity.name, ()))),
        )
        for quantity in graph.quantities.values()
    ]
    stated = [
        Entry(
            known.name,
            known.table,
            known.unit,
            known.meaning,
            used_by=tuple(dict.fromkeys(users.get(known.name, ()))),
            measure=known.measure,
        )
        for known in graph.inputs.values()
        if known.stated is None
    ]
    return computed + stated
