"""For a notebook or a script: cost a folder in one call, its figures as pandas tables, the work of any figure.

`import pricing` offers what stands here; pandas is loaded when the first table is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, is_dataclass
from datetime import date
from os import PathLike
from pathlib import Path
from types import FunctionType
from typing import TYPE_CHECKING, Any

from pricing.costing import Costing, asked_for, cost_folder
from pricing.days import day
from pricing.errors import UsageFault, did_you_mean
from pricing.folder.read import read_folder
from pricing.formulas.graph import build, cost_model, cost_model_functions
from pricing.formulas.tables import TABLES
from pricing.formulas.work import Work, Worker, lines_of
from pricing.records import number, variant_record

if TYPE_CHECKING:
    from pandas import DataFrame

#: The tables that a frame can be of.
FRAMES = ("price", "variant", "step", "quote")


def cost(
    folder: str | PathLike[str],
    *,
    as_of: date | str | None = None,
    run: float | None = None,
    charge_design: bool = False,
    quantities: Iterable[Callable[..., Any]] = (),
) -> Costed:
    """Cost a workshop folder, as of today or of another day (a date, or a text such as "2026-11-20").

    `run` and `charge_design` ask for a quotation. `quantities` are functions of one's own, written like those in
    `pricing/quantities/`: named, with the quantities that they need as parameters, the table as return annotation, and
    a docstring with `Unit:` and `Why:`. They are computed with all the others, and shown in frames and work.

    Raises Faults with everything in the folder that stands in the way, UsageFault for words that make no sense, and
    FormulaFault for a quantity that cannot be read.
    """
    own: list[FunctionType] = []
    for each in quantities:
        if not isinstance(each, FunctionType):
            raise UsageFault(f"quantities: {each!r} is no function. Write one as those in pricing/quantities/ are.")
        own.append(each)
    graph = build([*cost_model_functions(), *own]) if own else cost_model()
    asked = asked_for(day(as_of) if isinstance(as_of, str) else as_of, run, charge_design)
    found = cost_folder(read_folder(Path(folder)), asked, graph=graph)
    return Costed(found.folder, found.asked, found.computed, found.warnings)


def frame(results: Iterable[Any]) -> DataFrame:
    """What a study returns, a list of dataclasses or of records, as a pandas table: a row each, a column a field."""
    from pandas import DataFrame

    return DataFrame([asdict(each) if is_dataclass(each) and not isinstance(each, type) else each for each in results])


class Costed(Costing):
    """All figures of a folder: `frame()` as tables, `work()` how one came about, `warnings` what is doubtful."""

    def frame(self, of: str = "price") -> DataFrame:
        """The figures by name, as the cost model names them.

        A row is a variant in a channel in which it is sold ("price"), a variant ("variant"), a step of one ("step"), or
        a line of the price history ("quote"); the first columns say which. Money in the workshop's currency, masses in
        gram, times in hours; what is undefined is missing. Raises UsageFault for another table.
        """
        from pandas import DataFrame

        if of not in FRAMES:
            raise UsageFault(f'there is no frame of "{of}". {did_you_mean(of, FRAMES)}')
        if of == "quote":
            return DataFrame([quote.model_dump() for quote in self.folder.stated.quotes])
        return DataFrame(list({"price": self._prices, "variant": self._variants, "step": self._steps}[of]()))

    def work(self, name: str, sku: str, alloy: str, channel: str | None = None, *, behind: bool = False) -> Shown:
        """How a figure of a variant came about: symbols, numbers, result; with `behind` all that it comes from, too.

        What differs by channel is shown for each in which the variant is sold, or for the one named. Raises UsageFault
        for a name that there is not.
        """
        computed = self.computed
        _known("quantity", name, computed.graph.quantities)
        variants = computed.resolved.variants
        _known("product", sku, list(dict.fromkeys(variant.sku for variant in variants)))
        _known(f"{sku} in", alloy, [variant.alloy for variant in variants if variant.sku == sku])
        row = next(row for row, each in enumerate(variants) if (each.sku, each.alloy) == (sku, alloy))
        sold = dict(zip(variants[row].sold_in, variants[row].sold_places, strict=True))
        if channel is not None:
            _known(f"{sku} sold in", channel, list(sold))
            sold = {channel: sold[channel]}
        return Shown(tuple(Worker(computed).once([name], behind, row, sold.values())), computed.resolved.currency)

    def _variants(self) -> Iterator[dict[str, Any]]:
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            del record["steps"], record["prices"]
            yield {**record, **self._own(variant=row)}

    def _prices(self) -> Iterator[dict[str, Any]]:
        places = {channel.name: place for place, channel in enumerate(self.computed.resolved.channels)}
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            prices: dict[str, dict[str, Any]] = record.pop("prices")
            del record["steps"]
            for name, found in prices.items():
                yield {**record, "channel": name, **found, **self._own(variant=row, channel=places[name])}

    def _steps(self) -> Iterator[dict[str, Any]]:
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            for place, step in enumerate(record["steps"]):
                named = {"sku": record["sku"], "alloy": record["alloy"], "step": step.pop("name")}
                yield {**named, **step, **self._own(variant=row, step=place)}

    def _own(self, **place: int) -> dict[str, float | None]:
        """Quantities that the caller added, at a place on the axes of their tables."""
        computed = self.computed
        added = [name for name in computed.graph.quantities if name not in cost_model().quantities]
        alloys = [alloy.name for alloy in computed.resolved.alloys]
        place["alloy"] = alloys.index(computed.resolved.variants[place["variant"]].alloy)
        found = {}
        for name in added:
            axes = TABLES[computed.graph.table_of(name)].axes
            if set(axes) <= set(place):
                found[name] = number(computed[name][tuple(place[axis] for axis in axes)])
        return found


@dataclass(frozen=True, repr=False)
class Shown:
    """The work of some figures: prints as people read it, and holds each figure's work in `works`."""

    works: tuple[Work, ...]
    currency: str

    def __repr__(self) -> str:
        return "\n\n".join("\n".join(lines_of(each, self.currency)) for each in self.works)


def _known(what: str, name: str, names: Sequence[str] | Mapping[str, object]) -> None:
    if name not in names:
        raise UsageFault(f'there is no {what} "{name}". {did_you_mean(name, names)}')
