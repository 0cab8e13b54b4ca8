"""Figures and formulas as an edition keeps them, and how they are shown again without being computed again."""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Mapping
from dataclasses import dataclass
from importlib import resources
from types import MappingProxyType
from typing import Any

from pricing.editions.chain import Edition, sensible
from pricing.editions.inputs import inputs_of
from pricing.editions.packed import array_of
from pricing.formulas.columns import columns_of
from pricing.formulas.engine import Computed
from pricing.formulas.graph import Graph, Need, Quantity
from pricing.formulas.tables import INPUTS, Path


@dataclass(frozen=True)
class KeptQuantity(Quantity):
    """A quantity of the day of publishing: its formula as text, which is read but never run."""

    text: str = ""

    def expression(self) -> ast.expr:
        return ast.parse(self.text, mode="eval").body


def formulas_version() -> str:
    """SHA-256 of the sources of all quantities and of the words they are written in."""
    package = resources.files("pricing")
    quantities = [file for file in (package / "quantities").iterdir() if file.name.endswith(".py")]
    files = sorted(quantities, key=lambda file: file.name)
    found = hashlib.sha256()
    for file in (*files, package / "words.py"):
        found.update(file.name.encode() + b"\n" + file.read_bytes().replace(b"\r\n", b"\n"))
    return found.hexdigest()


def frozen_formulas(graph: Graph) -> list[dict[str, Any]]:
    """Every quantity's formula in words, in order, with all that is needed to read it again."""
    return [
        {
            "name": quantity.name,
            "table": quantity.table,
            "unit": quantity.unit,
            "meaning": quantity.meaning,
            "formula": quantity.formula,
            "extra": quantity.extra,
            "needs": [[need.parameter, need.column, *_frozen_path(need.path)] for need in quantity.needs],
        }
        for quantity in graph.quantities.values()
    ]


def _frozen_path(path: Path) -> list[Any]:
    return [path.source, " ".join(".".join(key) for key in path.keys), path.extra, path.prefix]


def computed_again(edition: Edition) -> Computed:
    """The figures of an edition as they were published, for whoever shows them: nothing is computed.

    Formulas are those of the day of publishing, as text. Raises Faults where figures and formulas make no sense.
    """
    resolved = inputs_of(edition)
    with sensible(edition.number, "figures"):
        columns = columns_of(resolved)
        kept = edition.content["figures"].items()
        figures = {name: array_of(listed) for name, listed in kept}
        graph = Graph({kept["name"]: _quantity(kept) for kept in edition.content["formulas"]}, INPUTS)
        for quantity in graph.quantities.values():
            quantity.expression()
        return Computed(resolved, graph, columns, MappingProxyType({**columns.inputs, **figures}))


def _quantity(kept: Mapping[str, Any]) -> KeptQuantity:
    needs = tuple(
        Need(parameter, column, Path(source, tuple(tuple(key.split(".")) for key in keys.split()), extra, prefix))
        for parameter, column, source, keys, extra, prefix in kept["needs"]
    )
    return KeptQuantity(
        name=kept["name"],
        table=kept["table"],
        function=_never_run,
        needs=needs,
        unit=kept["unit"],
        meaning=kept["meaning"],
        because="",
        extra=kept["extra"],
        file="",
        line=0,
        text=kept["formula"],
    )


def _never_run(*_: Any) -> None:
    raise AssertionError("the formula of a published edition is text: its figures are kept, not computed")
