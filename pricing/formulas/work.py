"""Shows the work: a quantity's formula in symbols, then with the numbers put in, then its result."""

from __future__ import annotations

import ast
import re
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.formulas.engine import Computed, fetcher
from pricing.formulas.grammar import Replaced
from pricing.formulas.graph import Graph, Need, Quantity
from pricing.formulas.sheet_layout import long_rows
from pricing.formulas.tables import TABLES, Path
from pricing.words import CONSTANTS, REASONS, RUNNING

#: What words that take columns together come to where there is no row.
OVER_NONE: Mapping[str, int] = MappingProxyType({"total": 0, "largest": 0, "product": 1})
#: A name in a formula that is written out.
NAME = re.compile(r"[A-Za-z_]\w*")
#: A place on the axes of a table.
Index = tuple[int, ...]


@dataclass(frozen=True)
class Work:
    """One quantity at one place: `symbols`, `numbers` and `result` are the three lines of the work.

    `place` says where in words ("pour", "stall"), empty for the variant itself; `needs` are the columns that
    it was computed from; `paid_in` is the currency that the unit `quoted` stands for.
    """

    quantity: str
    place: str
    meaning: str
    unit: str
    symbols: str
    numbers: str
    result: float
    needs: tuple[str, ...]
    paid_in: str = ""


@dataclass(frozen=True)
class _Lines:
    """A formula as lines where some parameters have no rows: `symbols`, and `to_fill` for the numbers to be put in.

    `needs` are the columns that stand in them; `runs` says whether a word runs along the last axis.
    """

    symbols: str
    to_fill: str
    needs: tuple[str, ...]
    runs: bool


class Worker:
    """Shows the work of the figures of one computed workshop."""

    def __init__(self, computed: Computed):
        self.computed = computed
        self.graph: Graph = computed.graph
        self.rows = long_rows(computed.resolved)
        #: What was looked up once: lines of formulas, rows by their place, places along a last axis.
        self._lines: dict[tuple[str, frozenset[str]], _Lines] = {}
        self._row_at: dict[str, dict[Index, Any]] = {}
        self._along: dict[str, dict[Index, list[Index]]] = {}

    def work(self, name: str, index: Index) -> Work:
        """The work of the quantity `name` at a place on the axes of its table."""
        quantity = self.graph.quantities[name]
        values = {need.parameter: self._value(need, quantity, index) for need in quantity.needs}
        of_none = frozenset(
            need.parameter for need in quantity.needs if need.path.extra and values[need.parameter] == []
        )
        lines = self._lines_of(quantity, of_none)
        given = {**{parameter: _written(value) for parameter, value in values.items()}, **_CONSTANTS}
        if lines.runs:
            rows = self._rows(quantity, index)
            numbers = ast.unparse(_PutIn(given, rows, index).visit(_to_fill(quantity, of_none)))
        else:
            numbers = NAME.sub(lambda name: given[name[0]].id if name[0] in given else name[0], lines.to_fill)
        return Work(
            quantity=name,
            place=self._place(quantity, index),
            meaning=quantity.meaning,
            unit=quantity.unit,
            symbols=lines.symbols,
            numbers=numbers,
            result=float(self.computed.values[name][index]),
            needs=lines.needs,
            paid_in=self._paid_in(quantity, index),
        )

    def _lines_of(self, quantity: Quantity, of_none: frozenset[str]) -> _Lines:
        """The lines of a formula where these parameters have no rows; most rows of a table have the same."""
        if (known := self._lines.get((quantity.name, of_none))) is None:
            symbols = _LeftOut(of_none).visit(quantity.expression())
            names = {node.id for node in ast.walk(symbols) if isinstance(node, ast.Name)}
            known = self._lines[quantity.name, of_none] = _Lines(
                symbols=ast.unparse(symbols),
                to_fill=ast.unparse(_to_fill(quantity, of_none)),
                needs=tuple(need.column for need in quantity.needs if need.parameter in names),
                runs=bool(
                    RUNNING & {node.id for node in ast.walk(quantity.expression()) if isinstance(node, ast.Name)}
                ),
            )
        return known

    def _paid_in(self, quantity: Quantity, index: Index) -> str:
        """The currency of the channel that a figure is of, or of the metal's quote."""
        places = dict(zip(TABLES[quantity.table].axes, index, strict=True))
        resolved = self.computed.resolved
        if "channel" in places:
            return resolved.channels[places["channel"]].currency
        return resolved.metals[places["metal"]].currency if "metal" in places else resolved.currency

    def is_of_channel(self, name: str) -> bool:
        """Whether a quantity differs from channel to channel."""
        return "channel" in TABLES[self.graph.table_of(name)].axes

    def each(self, names: Iterable[str], variant: int, channel: int | None = None) -> Iterator[Work]:
        """The work of some quantities of a variant (in a channel), in the order given."""
        for name, index in self._starts(names, variant, channel):
            yield self.work(name, index)

    def behind(self, names: Iterable[str], variant: int, channel: int | None = None) -> Iterator[Work]:
        """The work of some quantities of a variant (in a channel) and of all that they come from, in order.

        Only what they really come from: the variant's own steps, its alloy, the roles of its steps, the fees
        of the channel, the price of a channel that this one follows.
        """
        found = self._closure(self._starts(names, variant, channel))
        for name in self.graph.quantities:
            for index in sorted(found.get(name, ())):
                yield self.work(name, index)

    def once(self, names: Iterable[str], behind: bool, variant: int, channels: Iterable[int | None]) -> Iterator[Work]:
        """The work of some quantities of a variant in some channels, each place once; with `behind` that of all that
        leads to them, too."""
        names, seen = list(names), set()
        for channel in channels if any(self.is_of_channel(name) for name in names) else [None]:
            for each in self.behind(names, variant, channel) if behind else self.each(names, variant, channel):
                if (each.quantity, each.place) not in seen:
                    seen.add((each.quantity, each.place))
                    yield each

    def _starts(self, names: Iterable[str], variant: int, channel: int | None) -> list[tuple[str, Index]]:
        """Each name with the places of it that concern a variant (in a channel)."""
        held = {"variant": variant, "channel": channel}
        whole: dict[str, set[Index]] | None = None
        starts = []
        for name in names:
            table = self.graph.table_of(name)
            axes = TABLES[table].axes
            if axes and axes[0] not in held:  # a metal, an alloy, a role: those that the variant comes from
                if whole is None:
                    everything = ("unit_cost", "times_melt_value")
                    whole = self._closure(self._starts(everything, variant, channel))
                starts += [(name, index) for index in sorted(whole.get(name, ()))]
            else:
                here = [(axes.index(axis), place) for axis, place in held.items() if place is not None and axis in axes]
                starts += [
                    (name, row.index) for row in self.rows[table] if all(row.index[at] == place for at, place in here)
                ]
        return starts

    def _closure(self, starts: Iterable[tuple[str, Index]]) -> dict[str, set[Index]]:
        """Some figures and all that they come from, as places by name."""
        found: dict[str, set[Index]] = {}
        waiting = list(starts)
        while waiting:
            name, index = waiting.pop()
            if name not in self.graph.quantities or index in found.setdefault(name, set()):
                continue
            found[name].add(index)
            quantity = self.graph.quantities[name]
            for need in quantity.needs:
                waiting.extend((need.column, place) for place in self._sources(need, quantity, index))
        return found

    def _sources(self, need: Need, quantity: Quantity, index: Index) -> list[Index]:
        """The rows that one parameter is fetched from; none where a key is open."""
        keys, path, axes = self.computed.columns.keys, need.path, TABLES[quantity.table].axes
        if path.prefix == "other":
            return self._places_along(
                path.source, tuple(index[axes.index(axis)] for axis in TABLES[path.source].axes[:-1])
            )
        if path.prefix:
            row = int(keys[quantity.table, path.prefix][index])
            return [] if row < 0 else [(*index[:-1], row)]
        if path.keys:
            (table, _), *further = path.keys
            row = int(keys[path.keys[0]][tuple(index[axes.index(axis)] for axis in TABLES[table].axes)])
            for key in further:
                row = int(keys[key][row])
            return [] if row < 0 else [(row,)]
        wanted = TABLES[path.source].axes
        if path.extra:
            return self._places_along(path.source, tuple(index[axes.index(axis)] for axis in wanted[:-1]))
        return [tuple(index[axes.index(axis)] for axis in wanted)]

    def _places_along(self, table: str, start: Index) -> list[Index]:
        """The places of a table along its last axis, from a place on the axes before."""
        if (found := self._along.get(table)) is None:
            found = self._along[table] = {}
            for row in self.rows[table]:
                found.setdefault(row.index[:-1], []).append(row.index)
        return found.get(start, [])

    def _value(self, need: Need, quantity: Quantity, index: Index) -> float | list[float]:
        """The number put in for one parameter, or the list of numbers along the axis that is taken away."""
        axes = TABLES[quantity.table].axes
        array = fetcher(need, quantity)(self.computed.values, self.computed.columns.keys)
        lead = tuple(0 if array.shape[place] == 1 else index[place] for place in range(len(axes)))
        found = array[lead]
        kind = bool if self.graph.unit_of(need.column) == "switch" else float
        if need.path.extra:
            return [kind(value) for value in found[: len(self._sources(need, quantity, index))]]
        return kind(np.ravel(found)[0])

    def _rows(self, quantity: Quantity, index: Index) -> dict[str, list[float]]:
        """All numbers along the last axis, by parameter, for words that run along it."""
        size = len(self._places_along(quantity.table, index[:-1]))
        own = [need for need in quantity.needs if need.path == Path(quantity.table)]
        return {need.parameter: self.computed.values[need.column][index[:-1]][:size].tolist() for need in own}

    def _place(self, quantity: Quantity, index: Index) -> str:
        return "" if quantity.table in ("variant", "workshop") else self._name(quantity.table, index)

    def _row(self, table: str, index: Index) -> Any:
        if (found := self._row_at.get(table)) is None:
            found = self._row_at[table] = {row.index: row.row for row in self.rows[table]}
        return found[index]

    def _name(self, table: str, index: Index) -> str:
        row = self._row(table, index)
        name = next(
            (str(found) for key in ("name", "channel", "material", "element") if (found := getattr(row, key, None))), ""
        )
        if table in ("use", "content", "fee", "price_step", "postage_tier", "price_fee"):
            upper = self._row(TABLES[table].inside[0], index[:-1])
            return f"{getattr(upper, 'name', None) or upper.channel}, {name or index[-1] + 1}"
        return name


class _OverNoRow(ast.NodeTransformer):
    """Knows the words that take together columns of a table in which this row has no rows: `of_none` names these."""

    def __init__(self, of_none: frozenset[str]):
        self.of_none = of_none

    def comes_to(self, node: ast.AST) -> int | None:
        """What a call of such a word comes to; None for anything else."""
        if not (isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in OVER_NONE):
            return None
        names = {inner.id for argument in node.args for inner in ast.walk(argument) if isinstance(inner, ast.Name)}
        return OVER_NONE[node.func.id] if names & self.of_none else None


class _LeftOut(_OverNoRow):
    """Leaves out what is added over no rows: a product without pieces of its own is told nothing of them."""

    def visit_BinOp(self, node: ast.BinOp) -> ast.expr:
        self.generic_visit(node)
        if isinstance(node.op, ast.Add):
            if self.comes_to(node.right) == 0:
                return node.left
            if self.comes_to(node.left) == 0:
                return node.right
        return node


class _Nothing(_OverNoRow):
    """Puts what a word comes to over no rows in its place."""

    def visit_Call(self, node: ast.Call) -> ast.AST:
        comes_to = self.comes_to(node)
        return self.generic_visit(node) if comes_to is None else ast.Constant(comes_to)


class _PutIn(Replaced):
    """Puts numbers in place of names; a word that runs along the steps becomes the product of what it takes."""

    def __init__(self, given: Mapping[str, ast.expr], rows: Mapping[str, list[float]], index: Index):
        super().__init__(given)
        self.rows, self.index = rows, index

    def visit_Call(self, node: ast.Call) -> ast.expr:
        if not isinstance(node.func, ast.Name) or node.func.id not in RUNNING:
            self.generic_visit(node)
            return node
        (along,) = node.args
        assert isinstance(along, ast.Name)  # a run goes along a column
        row, here = self.rows[along.id], self.index[-1]
        taken = row[here:] if node.func.id == "downstream" else row[:here]
        return ast.Call(ast.Name("product"), [_written(taken)], []) if taken else ast.Constant(OVER_NONE["product"])


def _to_fill(quantity: Quantity, of_none: frozenset[str]) -> ast.expr:
    """A formula into which numbers are put, as a tree that the caller may change."""
    filled: ast.expr = _Nothing(of_none).visit(_LeftOut(of_none).visit(quantity.expression()))
    return filled


def shown_number(value: float) -> str:
    """A number with six digits that count, as people read it."""
    if value != value:
        return "undefined"
    if value in (float("inf"), -float("inf")):
        return "unlimited"
    text = f"{value:.6g}"
    if "e" not in text or not 1e-6 <= abs(value) < 1e15:
        return text
    return f"{value:.{6 if abs(value) >= 1 else 11}f}".rstrip("0").rstrip(".")


def _written(value: float | list[float]) -> ast.Name:
    if isinstance(value, list):
        return ast.Name(f"[{', '.join(_word(each) for each in value)}]")
    return ast.Name(f"({_word(value)})" if value < 0 else _word(value))


def _word(value: float | bool) -> str:
    """A number, or yes or no for a switch."""
    return ("yes" if value else "no") if isinstance(value, bool) else shown_number(value)


_CONSTANTS: Mapping[str, ast.Name] = MappingProxyType(
    {name: _written(float(value)) for name, value in CONSTANTS.items()}
)


def result_words(work: Work, currency: str) -> str:
    """The result as people read it, with its unit in the workshop's currency."""
    if work.unit == "reason":
        return REASONS[int(work.result)]
    if work.unit == "switch":
        return "yes" if work.result else "no"
    unit = work.unit.replace("cur", currency, 1) if work.unit.startswith("cur") else work.unit
    unit = unit.replace("quoted", work.paid_in, 1)
    return shown_number(work.result) if unit in ("1", "1/set") else f"{shown_number(work.result)} {unit}"


def lines_of(work: Work, currency: str) -> tuple[str, str, str, str, str]:
    """The work as people read it: name and place, meaning, symbols, numbers put in, result; folded at 80 columns."""
    place = f" · {work.place}" if work.place else ""
    result = f"  = {result_words(work, currency)}"
    return (
        f"{work.quantity}{place}",
        _hanging(work.meaning, "  "),
        _hanging(work.symbols, "  = "),
        _hanging(work.numbers, "  = "),
        result,
    )


def _hanging(text: str, lead: str) -> str:
    indent = " " * len(lead)
    return textwrap.fill(text, 80, initial_indent=lead, subsequent_indent=indent, break_on_hyphens=False)
