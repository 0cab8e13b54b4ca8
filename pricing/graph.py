"""Reads the quantities: what each needs, whether it can be read, and in which order they follow.

A quantity is a function of `pricing/quantities/`. Its name is the quantity, its parameters are what it
needs, its return annotation is the table it belongs to, its docstring says meaning, unit and source or
reason. Whatever a reader could not understand is refused here, with file, line and mend.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable, Iterable, Iterator, Mapping, Set
from dataclasses import dataclass
from functools import cache
from graphlib import CycleError, TopologicalSorter
from pathlib import PurePath
from types import FunctionType, ModuleType
from typing import NoReturn

from pricing.errors import FormulaFault, did_you_mean, nearest
from pricing.tables import INPUTS, TABLES, Input, Path, path_between
from pricing.words import CONSTANTS, REDUCING, RUNNING, WORDS, helpers_of

READABLE = (
    ast.Return, ast.BinOp, ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Compare, ast.Lt, ast.LtE, ast.Gt, ast.GtE, ast.Eq,
    ast.Call, ast.Name, ast.Load, ast.Constant,
)  # fmt: skip


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
    function: Callable
    needs: tuple[Need, ...]
    unit: str
    meaning: str
    because: str
    extra: str | None
    file: str
    line: int

    @property
    def formula(self) -> str:
        """The formula in its own words, helpers spelled out where they are called."""
        return ast.unparse(expression_of(self.function))


@cache
def _source(function: Callable) -> str:
    return textwrap.dedent(inspect.getsource(function))


def _definition(function: Callable) -> ast.FunctionDef:
    """The function as a tree that the caller may change."""
    return ast.parse(_source(function)).body[0]


def expression_of(function: Callable) -> ast.expr:
    """What the function returns, as a tree, with its helpers' formulas in place of their calls."""
    definition = _definition(function)
    helpers = {name: function.__globals__[name] for name in helpers_of(function)}
    return _Inlined(helpers).visit(definition.body[-1].value)


class _Inlined(ast.NodeTransformer):
    """Puts the formulas of helpers in place of their calls."""

    def __init__(self, helpers: Mapping[str, FunctionType]):
        self.helpers = helpers

    def visit_Call(self, node: ast.Call) -> ast.expr:
        self.generic_visit(node)
        helper = self.helpers.get(node.func.id) if isinstance(node.func, ast.Name) else None
        if helper is None:
            return node
        given = dict(zip(inspect.signature(helper).parameters, node.args, strict=True))
        return Replaced(given).visit(expression_of(helper))


class Replaced(ast.NodeTransformer):
    """Puts expressions in place of names."""

    def __init__(self, given: Mapping[str, ast.expr]):
        self.given = given

    def visit_Name(self, node: ast.Name) -> ast.expr:
        return self.given.get(node.id, node)


@dataclass(frozen=True)
class Graph:
    """All quantities in an order in which each follows what it needs, and the inputs that they start from."""

    quantities: Mapping[str, Quantity]
    inputs: Mapping[str, Input]

    def table_of(self, column: str) -> str:
        """The table that an input or a quantity is a column of."""
        known = self.quantities.get(column) or self.inputs[column]
        return known.table

    def unit_of(self, column: str) -> str:
        """The unit of an input or a quantity."""
        known = self.quantities.get(column) or self.inputs[column]
        return known.unit

    def meaning_of(self, column: str) -> str:
        """What an input or a quantity is, in one sentence."""
        known = self.quantities.get(column) or self.inputs[column]
        return known.meaning


class _Reader:
    """Reads one function at a time; every refusal names file, line and quantity."""

    def __init__(self, tables_of: Mapping[str, str]):
        self.tables_of = tables_of

    def read(self, function: FunctionType) -> Quantity:
        self.function = function
        self.file, self.line = place_of(function)
        table = function.__annotations__.get("return")
        if table not in TABLES:
            near = did_you_mean(str(table), TABLES)
            self.refuse(f"is of no table {table!r}", f'say where it belongs, as in -> "variant". {near}')
        meaning, unit, because = self.docstring()
        words = self.check_body(function)
        needs = tuple(self.need(parameter, table) for parameter in self.parameters(function))
        extras = {need.path.extra for need in needs if need.path.extra}
        if len(extras) > 1:
            both = " and ".join(sorted(extras))
            self.refuse(f"takes columns along {both} at once", "total one of them in a quantity of its own")
        extra = extras.pop() if extras else None
        if words & RUNNING and len(TABLES[table].axes) < 2:
            self.refuse("looks along an axis that its table lacks", "downstream and upstream are for steps")
        if extra or words & (REDUCING | RUNNING):
            self.check_axes(expression_of(function), needs, extra)
        return Quantity(function.__name__, table, function, needs, unit, meaning, because, extra, self.file, self.line)

    def check_axes(self, formula: ast.expr, needs: tuple[Need, ...], extra: str | None) -> None:
        """Refuse an axis that is not taken away everywhere, one that is not there, and a run along no column."""
        along = {need.parameter for need in needs if need.path.extra}
        if left := sorted(_names(formula, except_in=REDUCING) & along):
            self.refuse(
                f"has one row for each {extra} in {' and '.join(left)}, its result has not",
                f"take it away with {', '.join(sorted(REDUCING))}",
            )
        own = {need.parameter for need in needs if need.path == Path(self.tables_of[self.function.__name__])}
        for call in (node for node in ast.walk(formula) if isinstance(node, ast.Call)):
            if call.func.id in REDUCING and not _names(call) & along:
                self.refuse(
                    f"takes an axis away in {ast.unparse(call)}, where no parameter has one more than the result",
                    f"leave {call.func.id} out",
                )
            if call.func.id in RUNNING and not (isinstance(call.args[0], ast.Name) and call.args[0].id in own):
                looked = ast.unparse(call.args[0])
                self.refuse(f"looks along {looked}, which is no column of its own table", "make it a quantity first")

    def refuse(self, problem: str, mend: str, line: int | None = None) -> NoReturn:
        raise FormulaFault(f"{self.file}:{line or self.line}: {self.function.__name__} {problem}; {mend}")

    def docstring(self) -> tuple[str, str, str]:
        lines = [line.strip() for line in (inspect.getdoc(self.function) or "").splitlines()]
        found = {}
        for line in lines:
            for word in ("Unit", "Source", "Why"):
                if line.startswith(f"{word}: "):
                    found[word] = line.removeprefix(f"{word}: ")
        meaning = lines[0] if lines else ""
        because = found.get("Source") or found.get("Why")
        if not meaning or "Unit" not in found or not because:
            rest = '"Unit: …"' if "Unit" not in found else '"Source: …" or "Why: …"'
            self.refuse("is not documented", f"its docstring needs {rest if meaning else 'a first line'}")
        return meaning, found["Unit"], because

    @staticmethod
    def parameters(function: FunctionType) -> tuple[str, ...]:
        return tuple(inspect.signature(function).parameters)

    def check_body(self, function: FunctionType) -> set[str]:
        """Refuse what no reader understands; return the words that are used, helpers' included."""
        start = function.__code__.co_firstlineno - 1
        helpers = {name: function.__globals__[name] for name in helpers_of(function)}
        parameters, words = set(self.parameters(function)), set()
        formula = self.only_return(function, start)
        for node, line in _with_lines(formula):
            self.check_node(node, start + line)
            if isinstance(node, ast.Call):
                words.add(self.called({**WORDS, **helpers}, node, start + line))
            elif isinstance(node, ast.Name) and node.id not in parameters | set(CONSTANTS):
                near = did_you_mean(node.id, parameters | set(CONSTANTS))
                self.refuse(f"uses {node.id}, which is not among its parameters", near, start + line)
        if unused := sorted(parameters - _names(formula)):
            self.refuse(f"does not use {' and '.join(unused)}", "leave out of the parameters what the formula lacks")
        for helper in helpers.values():
            words |= self.check_body(helper)
        return words & set(WORDS)

    def only_return(self, function: FunctionType, start: int) -> ast.expr:
        """What a function returns, if to return is all that it does."""
        for parameter in inspect.signature(function).parameters.values():
            if parameter.default is not parameter.empty:
                self.refuse(f"has a default for {parameter.name}", "a formula has no defaults: make it an input")
        tree = _definition(function)
        body = [node for node in tree.body if not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))]
        if len(body) == 1 and isinstance(body[0], ast.Return) and body[0].value is not None:
            return body[0].value
        other = next((node for node in body if not isinstance(node, ast.Return)), body[-1] if body else tree)
        if isinstance(other, ast.If):
            self.refuse("holds an if", "use where(condition, then, otherwise)", start + other.lineno)
        self.refuse("is not one return alone", "move the rest into quantities of their own", start + other.lineno)

    def check_node(self, node: ast.AST, line: int) -> None:
        if not isinstance(node, READABLE):
            choice = "use where(condition, then, otherwise)"
            hint = choice if isinstance(node, ast.IfExp) else "use + - * / comparisons and words"
            self.refuse(f"uses {type(node).__name__}, which no reader understands", hint, line)
        if isinstance(node, ast.Constant) and (isinstance(node.value, bool) or node.value not in (0, 1)):
            self.refuse(f"holds the bare number {node.value!r}", "name it in words.py with its unit", line)
        if isinstance(node, ast.Compare) and len(node.ops) > 1:
            self.refuse("chains comparisons", "use both(first, second)", line)

    def called(self, callable_here: Mapping[str, Callable], call: ast.Call, line: int) -> str:
        name = ast.unparse(call.func)
        if name not in callable_here:
            self.refuse(f"calls {name}", did_you_mean(name, WORDS), line)
        takes = callable_here[name].__code__.co_argcount
        if call.keywords or len(call.args) != takes:
            self.refuse(f"calls {name} with other than {takes} plain operands", "give them in order, unnamed", line)
        return name

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
        if self.tables_of.get(column) == table:
            if prefix == "other" and len(siblings.axes) > 1:
                return Need(parameter, column, Path(table, extra=f"other {siblings.axes[-1]}", prefix="other"))
            if siblings.keys.get(prefix) == table:
                return Need(parameter, column, Path(table, prefix=prefix))
        close = nearest(parameter, self.tables_of)
        mend = f"the nearest is {close}" if close else "none is like it: write the quantity or add the input"
        self.refuse(f"needs {parameter}, which is neither a quantity nor an input", mend)


def _names(tree: ast.AST, except_in: Set[str] = frozenset()) -> set[str]:
    """The names in a formula, save for what stands within calls of the words `except_in`."""
    if isinstance(tree, ast.Name):
        return {tree.id}
    if isinstance(tree, ast.Call) and isinstance(tree.func, ast.Name) and tree.func.id in except_in:
        return set()
    return set().union(*(_names(inner, except_in) for inner in ast.iter_child_nodes(tree)))


def _with_lines(tree: ast.AST, line: int = 1) -> Iterator[tuple[ast.AST, int]]:
    """Everything in a formula with its line, from left to right, save for the names of what is called.

    An operator has no line of its own and gets that of what it stands in.
    """
    line = getattr(tree, "lineno", line)
    yield tree, line
    for inner in ast.iter_child_nodes(tree):
        if not (isinstance(tree, ast.Call) and inner is tree.func):
            yield from _with_lines(inner, line)


def place_of(function: FunctionType) -> tuple[str, int]:
    """The name of the file that a function stands in, and its first line."""
    return PurePath(inspect.getsourcefile(function) or "").name, function.__code__.co_firstlineno


def functions_of(modules: Iterable[ModuleType]) -> list[FunctionType]:
    """The quantities of some modules: their own public functions, in the order they stand."""
    return [
        function
        for module in modules
        for name, function in vars(module).items()
        if isinstance(function, FunctionType) and function.__module__ == module.__name__ and not name.startswith("_")
    ]


def build(functions: Iterable[FunctionType], inputs: Mapping[str, Input] = INPUTS) -> Graph:
    """Read and check the functions and put them in order.

    Raises FormulaFault, naming file, line, quantity and mend, for whatever cannot be read.
    """
    functions = list(functions)
    tables_of = {name: known.table for name, known in inputs.items()}
    for function in functions:
        name = function.__name__
        if name in {*tables_of, *WORDS, *CONSTANTS}:
            file, line = place_of(function)
            raise FormulaFault(f"{file}:{line}: {name} stands already as a quantity, an input or a word; rename one")
        tables_of[name] = str(function.__annotations__.get("return"))
    reader = _Reader(tables_of)
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


@cache
def cost_model() -> Graph:
    """The graph of the cost model itself."""
    from pricing.quantities import asking, metal_balance, metal_price, pieces, process, rates, selling, unit_cost

    parts = (metal_price, rates, pieces, process, metal_balance, unit_cost, selling, asking)
    return build(functions_of(parts))
