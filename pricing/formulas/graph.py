"""Reads the quantities: what each needs, whether it can be read, and in which order they follow.

A quantity is a function of `pricing/quantities/`. Its name is the quantity, its parameters are what it
needs, its return annotation is the table it belongs to, its docstring says meaning, unit and source or
reason. Whatever a reader could not understand is refused here, with file, line and mend.
"""

from __future__ import annotations

import ast
import inspect
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from types import FunctionType, ModuleType
from typing import Any, NoReturn

from pricing.errors import FormulaFault, did_you_mean, nearest
from pricing.formulas.grammar import check_axes, check_body, expression_of, formula_of, place_of, refuse, words_of
from pricing.formulas.tables import INPUTS, TABLES, Input, Path, path_among, path_between
from pricing.words import CONSTANTS, RUNNING, WORDS


@dataclass(frozen=True)
class Need:
    """One parameter of a quantity: which column it is and the way there."""

    parameter: str
    column: str
    path: Path


@dataclass(frozen=True)
class Quantity:
    """One function of the cost model, read and checked.

    `needs` are its parameters in order; `extra` is the axis that its words take away, None where there
    is none; `file` and `line` say where it stands.
    """

    name: str
    table: str
    function: Callable[..., Any]
    needs: tuple[Need, ...]
    unit: str
    meaning: str
    because: str
    extra: str | None
    file: str
    line: int

    def __hash__(self) -> int:
        """By its name: in one graph nothing else has it, and to look at all fields takes long."""
        return hash(self.name)

    @property
    def formula(self) -> str:
        """The formula in its own words, helpers spelled out where they are called."""
        return formula_of(self.function)

    def expression(self) -> ast.expr:
        """The same as a tree that the caller may change."""
        return expression_of(self.function)


@dataclass(frozen=True)
class Graph:
    """All quantities in an order in which each follows what it needs, and the inputs that they start from."""

    quantities: Mapping[str, Quantity]
    inputs: Mapping[str, Input]

    def known(self, column: str) -> Quantity | Input:
        """The input or quantity of this name; its `table`, `unit` and `meaning`."""
        return self.quantities.get(column) or self.inputs[column]

    def table_of(self, column: str) -> str:
        """The table that an input or a quantity is a column of."""
        return self.known(column).table

    def unit_of(self, column: str) -> str:
        """The unit of an input or a quantity."""
        return self.known(column).unit


class _Reader:
    """Reads one function at a time; every refusal names file, line and quantity."""

    def __init__(self, tables_of: Mapping[str, str], checked: bool):
        self.tables_of, self.checked = tables_of, checked

    def refuse(self, problem: str, mend: str) -> NoReturn:
        refuse(self.function, problem, mend)

    def read(self, function: FunctionType) -> Quantity:
        self.function = function
        table = table_stated(function)
        if table not in TABLES:
            near, told = did_you_mean(table, TABLES), table if "return" in function.__annotations__ else None
            self.refuse(f"is of no table {told!r}", f'say where it belongs, as in -> "variant". {near}')
        meaning, unit, because = self.docstring()
        if self.checked:
            check_body(function)
        needs = tuple(self.need(parameter, table) for parameter in inspect.signature(function).parameters)
        extras = {need.path.extra for need in needs if need.path.extra}
        if len(extras) > 1:
            both = " and ".join(sorted(extras))
            self.refuse(f"takes columns along {both} at once", "total one of them in a quantity of its own")
        extra = extras.pop() if extras else None
        if self.checked:
            self.check_axes(table, needs, extra)
        return Quantity(function.__name__, table, function, needs, unit, meaning, because, extra, *place_of(function))

    def check_axes(self, table: str, needs: tuple[Need, ...], extra: str | None) -> None:
        if words_of(self.function) & RUNNING and len(TABLES[table].axes) < 2:
            self.refuse("looks along an axis that its table lacks", "downstream and upstream are for steps")
        along = {need.parameter for need in needs if need.path.extra}
        check_axes(self.function, along, {need.parameter for need in needs if need.path == Path(table)}, extra)

    def docstring(self) -> tuple[str, str, str]:
        lines = [line.strip() for line in (inspect.getdoc(self.function) or "").splitlines()]
        found = {}
        for line in lines:
            for word in ("Unit", "Source", "Why"):
                if line.startswith(f"{word}: "):
                    found[word] = line.removeprefix(f"{word}: ")
        meaning = lines[0] if lines else ""
        because = found.get("Source") or found.get("Why")
        if not self.checked:  # python -OO leaves docstrings out
            return meaning, found.get("Unit", ""), because or ""
        if "Unit" not in found or not because:
            rest = '"Unit: …"' if "Unit" not in found else '"Source: …" or "Why: …"'
            self.refuse("is not documented", f"its docstring needs {rest if meaning else 'a first line'}")
        return meaning, found["Unit"], because

    def need(self, parameter: str, table: str) -> Need:
        if parameter in self.tables_of:
            path = path_between(table, self.tables_of[parameter])
            if path is None:
                there = self.tables_of[parameter]
                self.refuse(
                    f"needs {parameter} of table {there}, which no single way leads to from {table}",
                    "total it nearer by, or add the key to tables.py",
                )
            return Need(parameter, parameter, path)
        prefix, _, column = parameter.partition("_")
        siblings = TABLES[table]
        if prefix == "other" and (path := path_among(table, self.tables_of.get(column))) is not None:
            return Need(parameter, column, path)
        if (target := siblings.keys.get(prefix)) not in (None, table) and self.tables_of.get(column) == target:
            return Need(parameter, column, Path(target, ((table, prefix),)))
        if self.tables_of.get(column) == table:
            if siblings.keys.get(prefix) == table:
                return Need(parameter, column, Path(table, prefix=prefix))
        close = nearest(parameter, self.tables_of)
        mend = f"the nearest is {close}" if close else "none is like it: write the quantity or add the input"
        self.refuse(f"needs {parameter}, which is neither a quantity nor an input", mend)


def functions_of(modules: Iterable[ModuleType]) -> list[FunctionType]:
    """The quantities of some modules: their own public functions, in the order they stand."""
    return [
        function
        for module in modules
        for name, function in vars(module).items()
        if isinstance(function, FunctionType) and function.__module__ == module.__name__ and not name.startswith("_")
    ]


def table_stated(function: FunctionType) -> str:
    """The table in a quantity's return annotation; in quotes of its own where annotations are kept as texts."""
    return str(function.__annotations__.get("return")).strip("'\"")


def build(functions: Iterable[FunctionType], inputs: Mapping[str, Input] = INPUTS, checked: bool = True) -> Graph:
    """Read and check the functions and put them in order.

    Raises FormulaFault, naming file, line, quantity and mend, for whatever cannot be read. Unless `checked`, what the
    functions say in their bodies is taken on trust, and their sources are not opened.
    """
    functions = list(functions)
    tables_of = {name: known.table for name, known in inputs.items()}
    for function in functions:
        name = function.__name__
        if name in {*tables_of, *WORDS, *CONSTANTS}:
            file, line = place_of(function)
            raise FormulaFault(f"{file}:{line}: {name} stands already as a quantity, an input or a word; rename one")
        tables_of[name] = table_stated(function)
    reader = _Reader(tables_of, checked)
    quantities = {function.__name__: reader.read(function) for function in functions}
    before = {
        name: [need.column for need in quantity.needs if need.column in quantities]
        for name, quantity in quantities.items()
    }
    try:
        order = list(TopologicalSorter(before).static_order())
    except CycleError as fault:
        circle = list(reversed(fault.args[1]))
        first = quantities[circle[0]]
        raise FormulaFault(f"{first.file}:{first.line}: {' -> '.join(circle)} is a circle; break it") from None
    return Graph({name: quantities[name] for name in order}, dict(inputs))


def cost_model_functions() -> list[FunctionType]:
    """Every quantity of the cost model, as it stands in `pricing/quantities/`."""
    from pricing.quantities import asking, metal_balance, metal_price, pieces, process, rates, selling, unit_cost

    return functions_of((metal_price, rates, pieces, process, metal_balance, unit_cost, selling, asking))


@cache
def cost_model() -> Graph:
    """The graph of the cost model itself. Its formulas are checked by the tests, not at every start."""
    return build(cost_model_functions(), checked=False)
