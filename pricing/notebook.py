"""For a notebook or a script: cost a folder in one call, its figures as pandas tables, the work of any figure.

`import pricing` offers what stands here; pandas is loaded when the first table is asked for.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, is_dataclass
from datetime import date
from os import PathLike
from pathlib import Path
from types import FunctionType, MappingProxyType
from typing import TYPE_CHECKING, Any

from pricing.costing import Costing, asked_for, cost_folder
from pricing.csv_tables import write_csv
from pricing.days import day
from pricing.errors import UsageFault, did_you_mean
from pricing.folder.prices.in_force import in_force_by_day
from pricing.folder.read import read_folder
from pricing.formulas.graph import build, cost_model, cost_model_functions
from pricing.formulas.tables import TABLES
from pricing.formulas.work import Work, Worker, lines_of
from pricing.records import number, variant_record
from pricing.safe_files import placed
from pricing.units import GRAMS_PER

if TYPE_CHECKING:
    from pandas import DataFrame

#: The tables that a frame can be of.
FRAMES = ("price", "variant", "step", "part", "size", "quote")


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


def to_csv(table: DataFrame | Iterable[Any], path: str | PathLike[str], *, force: bool = False) -> None:
    """Write a frame, or what `frame` takes, as the command line's `--csv` does; in UTF-8, whole or not at all.

    What is undefined is an empty field, a time its day, and no text is one that a spreadsheet would take for a formula.
    What names the rows (the days of a price history) is the first column. Raises UsageFault where the file stands
    already and `force` does not say to write over it.
    """
    from pandas import DataFrame

    written = table if isinstance(table, DataFrame) else frame(table)
    if written.index.name is not None:
        written = written.reset_index()
    for name in written.select_dtypes("datetime").columns:
        written = written.assign(**{str(name): written[name].dt.date})
    lines = written.astype(object).where(written.notna(), None).to_dict("records")
    target = Path(path)
    if target.exists() and not force:
        raise UsageFault(f"{path} stands already. Name another file, or say force=True to write over it.")
    with placed(target, force) as beside, beside.open("w", encoding="utf-8", newline="") as file:
        write_csv([{str(name): value for name, value in line.items()} for line in lines], file)


class Costed(Costing):
    """All figures of a folder: `frame()` as tables, `work()` how one came about, `warnings` what is doubtful.

    `history()` has the prices of metal day by day; `breakeven()` and `band()` are studies of how they move, `study()`
    asks any other.
    """

    def frame(self, of: str = "price") -> DataFrame:
        """The figures by name, as the cost model names them.

        A row is a variant in a channel in which it is sold ("price"), a variant ("variant"), a step of one ("step"),
        a piece that is joined to one ("part"), one of its sizes where all have one price ("size"), or a line of the
        price history ("quote"); the first columns say which. Money in the workshop's currency, masses in gram, times
        in hours; what is undefined is missing. Raises UsageFault for another table.
        """
        from pandas import DataFrame

        if of not in FRAMES:
            raise UsageFault(f'there is no frame of "{of}". {did_you_mean(of, FRAMES)}')
        if of == "quote":
            return DataFrame([quote.model_dump() for quote in self.folder.stated.quotes])
        if of in ("part", "size"):
            return DataFrame(list(self._below(f"{of}s")))
        return DataFrame(list({"price": self._prices, "variant": self._variants, "step": self._steps}[of]()))

    def history(self, per: str = "g", currency: str | None = None) -> DataFrame:
        """The prices of metal in force, a row for each day on which anything was quoted, a column a metal.

        Prices are of one unit (g, dwt, ozt, lb, kg, t) and in one currency, the workshop's if none is named, each by
        the exchange rates of its own day; missing where a metal or a rate was not quoted yet. It ends on the day as of
        which the folder is costed. Raises UsageFault for another unit, and for a currency that has no rate.
        """
        from pandas import DataFrame, DatetimeIndex

        _known("unit", per, GRAMS_PER)
        home, quotes = self.computed.resolved.currency, self.folder.stated.quotes
        currency = currency or home
        _known("rate of", currency, [home, *dict.fromkeys(each.metal for each in quotes if each.per == "unit")])
        metals = list(dict.fromkeys(each.metal for each in quotes if each.per != "unit"))
        days, rows = [], []
        for found in in_force_by_day(each for each in quotes if each.date <= self.asked.as_of):
            days.append(found.as_of)
            rate = found.rate_of(currency, home)
            times = None if rate is None else GRAMS_PER[per] / rate
            prices = (found.price_per_g(metal, home) for metal in metals)
            rows.append([None if price is None or times is None else price * times for price in prices])
        return DataFrame(rows, columns=metals, index=DatetimeIndex(days, name="date"), dtype=float)

    def drawer(self) -> DataFrame:
        """The metal drawer as a table, a row for each alloy and form: grams, what was paid, what it is worth today."""
        from pricing.drawer.on_hand import read_drawer
        from pricing.drawer.records import record
        from pricing.drawer.worth import lying

        until = self.asked.as_of
        return frame(record(each) for each in lying(read_drawer(self.folder.root, until), self.computed))

    def batches(self) -> DataFrame:
        """The batch log as a table, a row for each alloy of a batch: its mass balance, and what is missing in money."""
        from pricing.batches.read import read_log
        from pricing.batches.records import flat

        return frame(line for batch in read_log(self.folder.root) for line in flat(batch, None))

    def breakeven(self, *, asked: bool = False) -> DataFrame:
        """How far metal may move until a price earns its least margin only, or nothing: `troytag study breakeven`.

        A row for each metal in each price; `least_margin_at` and `nothing_left_at` are as the metal is quoted, and
        again in times today's. At the prices published last, or with `asked` at those that the policy asks.
        """
        from pandas import DataFrame

        from pricing.editions.chain import newest
        from pricing.studies.break_even.reach import break_even, least_margins, line_records
        from pricing.studies.repricing.reprice import prices_held

        prices = prices_held(self, None if asked else newest(self.folder.root))
        return DataFrame(list(line_records(break_even(self.computed, prices, least_margins(self)))))

    def study(self, name: str, *, asked: bool = False, **said: Any) -> DataFrame:
        """The records of a question, as `troytag study NAME --csv` prints them; its options by their names.

        `costed.study("mix", each=10, flasks=["12"])` has a row for each piece in each channel, and what else there is
        to know in `attrs` ("limits", "leaves"). Prices are those in force; with `asked` what the policies ask. Raises
        UsageFault for a question or an option that there is not, and whatever the question itself refuses.
        """
        from pandas import DataFrame

        from pricing.questions.every import QUESTIONS
        from pricing.questions.subject import Subject

        _known("study", name, QUESTIONS)
        options = {option.name: option for option in QUESTIONS[name].options}
        for each in said:
            _known("option", each, options)
        lacking = [each.name for each in options.values() if each.required and each.name not in said]
        if lacking:
            raise UsageFault(f"study {name}: say {', '.join(lacking)}.")
        usual = {each.name: False if each.kind == "switch" else each.default for each in options.values()}
        subject = Subject(self.folder, self.asked, "asked" if asked else None, self)
        answer = QUESTIONS[name].answer(subject, usual | said)
        found = DataFrame([dict(row) for row in answer.rows])
        found.attrs = dict(answer.document)
        return found

    def band(
        self,
        history: str | PathLike[str] | None = None,
        *,
        columns: Mapping[str, str] = MappingProxyType({}),
        mend: bool = False,
        channels: Iterable[str] | None = None,
        bands: Sequence[float] | None = None,
        intervals: Sequence[int] | None = None,
    ) -> DataFrame:
        """How bands and intervals of repricing would have fared on a history of metal: `troytag study band`.

        A row for each policy that is tried, a band with an interval in days; `on_frontier` are those that none beats in
        both changes and shortfall. The history is the folder's own or a table in a file, `columns` and `mend` as
        `--column` and `--mend`. Raises UsageFault where it is too short or no price is free to move, Faults for a table
        with faults.
        """
        from pricing.studies.band.back_test import BANDS, INTERVALS, back_test, frontier
        from pricing.studies.metal_history.moves import check_long_enough, kept_history, read_history

        stated, resolved = self.folder.stated, self.computed.resolved
        named = list(stated.channels) if channels is None else list(channels)
        for channel in named:
            _known("channel", channel, stated.channels)
        moves = (
            kept_history(stated.quotes, resolved)
            if history is None
            else read_history(Path(history), resolved, columns, mend)
        )
        check_long_enough(moves)
        results = back_test(self, moves, named, bands or BANDS, intervals or INTERVALS)
        best = frontier(results)
        return frame({**asdict(each), "on_frontier": each in best} for each in results)

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
        in_channels = dict(zip(variants[row].sold_in, variants[row].sold_places, strict=True))
        if channel is not None:
            _known(f"{sku} sold in", channel, list(in_channels))
            in_channels = {channel: in_channels[channel]}
        return Shown(
            tuple(Worker(computed).once([name], behind, row, in_channels.values())), computed.resolved.currency
        )

    def _variants(self) -> Iterator[dict[str, Any]]:
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            _without_tables(record)
            yield {**record, **self._own(variant=row)}

    def _prices(self) -> Iterator[dict[str, Any]]:
        places = {channel.name: place for place, channel in enumerate(self.computed.resolved.channels)}
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            prices: dict[str, dict[str, Any]] = record["prices"]
            _without_tables(record)
            for name, found in prices.items():
                yield {**record, "channel": name, **found, **self._own(variant=row, channel=places[name])}

    def _steps(self) -> Iterator[dict[str, Any]]:
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            for place, step in enumerate(record["steps"]):
                named = {"sku": record["sku"], "alloy": record["alloy"], "step": step.pop("name")}
                yield {**named, **step, **self._own(variant=row, step=place)}

    def _below(self, key: str) -> Iterator[dict[str, Any]]:
        """What stands in a list of every variant's record; margins by channel as a column each."""
        for row in range(len(self.computed.resolved.variants)):
            record = variant_record(self.computed, row)
            for each in record.get(key, ()):
                margins = {f"margin_{name}": margin for name, margin in each.pop("margin", {}).items()}
                whole = {f"of_{name}" if name in each else name: record[name] for name in ("sku", "alloy")}
                yield {**whole, **each, **margins}

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


def _without_tables(record: dict[str, Any]) -> None:
    """Leave out of a variant's record what has rows of its own."""
    for key in ("steps", "parts", "prices", "sizes"):
        record.pop(key, None)


def _known(what: str, name: str, names: Sequence[str] | Mapping[str, object]) -> None:
    if name not in names:
        raise UsageFault(f'there is no {what} "{name}". {did_you_mean(name, names)}')
