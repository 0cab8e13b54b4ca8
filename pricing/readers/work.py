"""Shows the work: a quantity's formula in symbols, then with the numbers put in, then its result."""

from __future__ import annotations

import ast
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

import numpy as np

from pricing.engine import Computed, fetcher
from pricing.graph import Graph, Need, Quantity, Replaced, expression_of
from pricing.readers.layout import long_rows
from pricing.tables import TABLES
from pricing.words import CONSTANTS, REASONS


@dataclass(frozen=True)
class Work:
    """One quantity at one place: `symbols`, `numbers` and `result` are the three lines of the work.

    `place` says where in words ("pour", "stall"), empty for the variant itself; `needs` are the columns that
    it was computed from.
    """

    quantity: str
    place: str
    meaning: str
    unit: str
    symbols: str
    numbers: str
    result: float
    needs: tuple[str, ...]


class Worker:
    """Shows the work of the figures of one computed workshop."""

    def __init__(self, computed: Computed):
        self.computed = computed
        self.graph: Graph = computed.graph
        self.rows = long_rows(computed.resolved)
        self.counts = {table: {row.index for row in rows} for table, rows in self.rows.items()}

    def work(self, name: str, index: tuple[int, ...]) -> Work:
        """The work of the quantity `name` at a place on the axes of its table."""
        quantity = self.graph.quantities[name]
        values = {need.parameter: self._value(need, quantity, index) for need in quantity.needs}
        expression = expression_of(quantity.function)
        numbers = Replaced({parameter: _written(value) for parameter, value in values.items()} | _CONSTANTS)
        return Work(
            quantity=name,
            place=self._place(quantity, index),
            meaning=quantity.meaning,
            unit=quantity.unit,
            symbols=ast.unparse(expression),
            numbers=ast.unparse(numbers.visit(expression_of(quantity.function))),
            result=float(self.computed[name][index]),
            needs=tuple(need.column for need in quantity.needs),
        )

    def is_of_channel(self, name: str) -> bool:
        """Whether a quantity differs from channel to channel."""
        return "channel" in TABLES[self.graph.table_of(name)].axes

    def each(self, names: Iterable[str], variant: int, channel: int | None = None) -> Iterator[Work]:
        """The work of some quantities of a variant (in a channel), in the order given."""
        for name in names:
            for index in self.places(self.graph.table_of(name), variant, channel):
                yield self.work(name, index)

    def behind(self, names: Iterable[str], variant: int, channel: int | None = None) -> Iterator[Work]:
        """The work of some quantities of a variant (in a channel) and of all that they come from, in order.

        Quantities of other tables are shown for the rows that the variant leads to: its steps, its alloy,
        the channel's fees.
        """
        wanted = ancestors(self.graph, names)
        for name, quantity in self.graph.quantities.items():
            if name in wanted:
                for index in self.places(quantity.table, variant, channel):
                    yield self.work(name, index)

    def places(self, table: str, variant: int, channel: int | None) -> list[tuple[int, ...]]:
        """The rows of a table that a variant (in a channel) leads to."""
        axes = TABLES[table].axes
        held = {"variant": variant, "channel": channel}
        indices = [
            row.index
            for row in self.rows[table]
            if all(held.get(axis) in (None, place) for axis, place in zip(axes, row.index, strict=True))
        ]
        if not axes or axes[0] in held:
            return indices
        reached = self._reached(axes[0], variant, channel)
        return [index for index in indices if index[0] in reached]

    def _reached(self, table: str, variant: int, channel: int | None) -> set[int]:
        """Rows of an outermost table that keys lead to from a variant (in a channel)."""
        keys = self.computed.columns.keys
        found: set[int] = set()
        for (holder, key), target_places in keys.items():
            if TABLES[holder].keys[key] != table:
                continue
            if TABLES[holder].axes[:1] == ("variant",):
                found |= set(np.atleast_1d(target_places[variant]).ravel().tolist())
            elif holder == "channel":
                found |= set(np.atleast_1d(target_places[slice(None) if channel is None else channel]).tolist())
            else:
                upper = self._reached(TABLES[holder].axes[0], variant, channel)
                found |= {int(place) for row in upper for place in np.atleast_1d(target_places[row]).ravel()}
        return found - {-1}

    def _value(self, need: Need, quantity: Quantity, index: tuple[int, ...]):
        """The number put in for one parameter, or the list of numbers along the axis that is taken away."""
        axes = TABLES[quantity.table].axes
        array = fetcher(need, quantity)(self.computed.values, self.computed.columns.keys)
        lead = tuple(0 if array.shape[place] == 1 else index[place] for place in range(len(axes)))
        found = array[lead]
        kind = bool if self.graph.unit_of(need.column) == "switch" else float
        if need.path.extra:
            return [kind(value) for value in found[: self._count(need, quantity, index)]]
        return kind(np.ravel(found)[0])

    def _count(self, need: Need, quantity: Quantity, index: tuple[int, ...]) -> int:
        """How many real rows there are along the axis that is taken away."""
        if need.path.prefix == "other":
            source, start = quantity.table, index[:-1]
        else:
            source, axes = need.path.source, TABLES[quantity.table].axes
            start = tuple(index[axes.index(axis)] for axis in TABLES[source].axes[:-1])
        return sum(1 for row in self.rows[source] if row.index[:-1] == start)

    def _place(self, quantity: Quantity, index: tuple[int, ...]) -> str:
        row = next(row.row for row in self.rows[quantity.table] if row.index == index)
        return {"variant": "", "workshop": ""}.get(quantity.table, self._name(quantity.table, index, row))

    def _name(self, table: str, index: tuple[int, ...], row) -> str:
        name = next(
            (str(found) for key in ("name", "channel", "material", "element") if (found := getattr(row, key, None))), ""
        )
        if table in ("use", "content", "fee", "price_step"):
            above = TABLES[table].inside[0]
            upper = next(each.row for each in self.rows[above] if each.index == index[:-1])
            return f"{upper.name}, {name or index[-1] + 1}"
        return name


def ancestors(graph: Graph, names: Iterable[str]) -> set[str]:
    """Some quantities and all quantities that they come from."""
    found: set[str] = set()
    waiting = list(names)
    while waiting:
        name = waiting.pop()
        if name in graph.quantities and name not in found:
            found.add(name)
            waiting.extend(need.column for need in graph.quantities[name].needs)
    return found


def shown_number(value: float) -> str:
    """A number with six digits that count, as people read it."""
    if value != value:
        return "undefined"
    if value in (float("inf"), -float("inf")):
        return "unlimited"
    text = f"{value:.6g}"
    return (
        text if "e" not in text or abs(value) >= 1e15 or abs(value) < 1e-6 else f"{value:.6f}".rstrip("0").rstrip(".")
    )


def _written(value) -> ast.expr:
    if isinstance(value, list):
        return ast.Name(f"[{', '.join(_word(each) for each in value)}]")
    return ast.Name(f"({_word(value)})" if value < 0 else _word(value))


def _word(value: float | bool) -> str:
    """A number, or yes or no for a switch."""
    return ("yes" if value else "no") if isinstance(value, bool) else shown_number(value)


_CONSTANTS: Mapping[str, ast.expr] = {name: _written(float(value)) for name, value in CONSTANTS.items()}


def result_words(work: Work, currency: str) -> str:
    """The result as people read it, with its unit in the workshop's currency."""
    if work.unit == "reason":
        return REASONS[int(work.result)]
    if work.unit == "switch":
        return "yes" if work.result else "no"
    unit = work.unit.replace("cur", currency, 1) if work.unit.startswith("cur") else work.unit
    return shown_number(work.result) if unit in ("1", "1/set") else f"{shown_number(work.result)} {unit}"
