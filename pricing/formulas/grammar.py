"""What a formula may say: one return, words, constants, + - * / and comparisons.

A formula is read by its source, so that whatever some reader could not understand is refused with file, line,
quantity and mend. The reading itself (which words, which expression) serves the readers too.
"""

from __future__ import annotations

import ast
import inspect
import textwrap
from collections.abc import Callable, Iterator, Mapping, Set
from functools import cache
from pathlib import PurePath
from types import FunctionType
from typing import Any, NoReturn

from pricing.errors import FormulaFault, did_you_mean
from pricing.words import CONSTANTS, REDUCING, RUNNING, WORDS, helpers_of

READABLE = (
    ast.Return, ast.BinOp, ast.Add, ast.Sub, ast.Mult, ast.Div, ast.Compare, ast.Lt, ast.LtE, ast.Gt, ast.GtE, ast.Eq,
    ast.Call, ast.Name, ast.Load, ast.Constant,
)  # fmt: skip


@cache
def _source(function: Callable[..., Any]) -> str:
    return textwrap.dedent(inspect.getsource(function))


def _definition(function: Callable[..., Any]) -> ast.FunctionDef:
    """The function as a tree that the caller may change."""
    definition = ast.parse(_source(function)).body[0]
    assert isinstance(definition, ast.FunctionDef)
    return definition


def expression_of(function: Callable[..., Any]) -> ast.expr:
    """What the function returns, as a tree, with its helpers' formulas in place of their calls."""
    last = _definition(function).body[-1]
    assert isinstance(last, ast.Return) and last.value is not None  # what `check_body` lets through
    helpers = {name: function.__globals__[name] for name in helpers_of(function)}
    formula: ast.expr = _Inlined(helpers).visit(last.value)
    return formula


@cache
def formula_of(function: Callable[..., Any]) -> str:
    """The same in its own words."""
    return ast.unparse(expression_of(function))


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
        inlined: ast.expr = Replaced(given).visit(expression_of(helper))
        return inlined


class Replaced(ast.NodeTransformer):
    """Puts expressions in place of names."""

    def __init__(self, given: Mapping[str, ast.expr]):
        self.given = given

    def visit_Name(self, node: ast.Name) -> ast.expr:
        return self.given.get(node.id, node)


def place_of(function: Callable[..., Any]) -> tuple[str, int]:
    """The name of the file that a function stands in, and its first line."""
    return PurePath(inspect.getsourcefile(function) or "").name, function.__code__.co_firstlineno


def refuse(function: Callable[..., Any], problem: str, mend: str, line: int | None = None) -> NoReturn:
    """Raise FormulaFault for a function, with its file, the line, its name and the mend."""
    file, first_line = place_of(function)
    raise FormulaFault(f"{file}:{line or first_line}: {function.__name__} {problem}; {mend}")


def words_of(function: FunctionType) -> set[str]:
    """The words that a function uses, its helpers' included; looks at names only and refuses nothing."""
    used = set(function.__code__.co_names)
    for name in helpers_of(function):
        used |= words_of(function.__globals__[name])
    return used & set(WORDS)


def check_body(function: FunctionType, told_as: FunctionType | None = None) -> None:
    """Refuse what no reader understands in a function or its helpers; `told_as` is the quantity that it serves."""
    _Body(told_as or function, function).check()


class _Body:
    """The body of one function, told as the quantity that it serves."""

    def __init__(self, quantity: FunctionType, function: FunctionType):
        self.quantity, self.function = quantity, function

    def refuse(self, problem: str, mend: str, line: int) -> NoReturn:
        refuse(self.quantity, problem, mend, line)

    def check(self) -> None:
        """Refuse whatever cannot be read."""
        start = self.function.__code__.co_firstlineno - 1
        helpers = {name: self.function.__globals__[name] for name in helpers_of(self.function)}
        parameters = set(inspect.signature(self.function).parameters)
        formula = self.only_return(start)
        for node, line in _with_lines(formula):
            self.check_node(node, start + line)
            if isinstance(node, ast.Call):
                self.check_call({**WORDS, **helpers}, node, start + line)
            elif isinstance(node, ast.Name) and node.id not in parameters | set(CONSTANTS):
                near = did_you_mean(node.id, parameters | set(CONSTANTS))
                self.refuse(f"uses {node.id}, which is not among its parameters", near, start + line)
        if unused := sorted(parameters - names_in(formula)):
            mend = "leave out of the parameters what the formula lacks"
            refuse(self.quantity, f"does not use {' and '.join(unused)}", mend)
        for helper in helpers.values():
            check_body(helper, self.quantity)

    def only_return(self, start: int) -> ast.expr:
        """What the function returns, if to return is all that it does."""
        for parameter in inspect.signature(self.function).parameters.values():
            if parameter.default is not parameter.empty:
                mend = "a formula has no defaults: make it an input"
                refuse(self.quantity, f"has a default for {parameter.name}", mend)
        tree = _definition(self.function)
        body = [node for node in tree.body if not (isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant))]
        if len(body) == 1 and isinstance(body[0], ast.Return) and body[0].value is not None:
            return body[0].value
        other = next((node for node in body if not isinstance(node, ast.Return)), body[-1] if body else tree)
        if isinstance(other, ast.If):
            self.refuse("holds an if", "use where(condition, then, otherwise)", start + other.lineno)
        self.refuse("is not one return alone", "move the rest into quantities of their own", start + other.lineno)

    def check_node(self, node: ast.AST, line: int) -> None:
        """Refuse a kind of expression that some reader lacks."""
        if not isinstance(node, READABLE):
            choice = "use where(condition, then, otherwise)"
            hint = choice if isinstance(node, ast.IfExp) else "use + - * / comparisons and words"
            self.refuse(f"uses {type(node).__name__}, which no reader understands", hint, line)
        if isinstance(node, ast.Constant) and (isinstance(node.value, bool) or node.value not in (0, 1)):
            self.refuse(f"holds the bare number {node.value!r}", "name it in words.py with its unit", line)
        if isinstance(node, ast.Compare) and len(node.ops) > 1:
            self.refuse("chains comparisons", "use both(first, second)", line)

    def check_call(self, callable_here: Mapping[str, Callable[..., Any]], call: ast.Call, line: int) -> None:
        """Refuse a call of anything but a word or a helper, or with other than its plain operands."""
        name = ast.unparse(call.func)
        if name not in callable_here:
            self.refuse(f"calls {name}", did_you_mean(name, WORDS), line)
        takes = len(inspect.signature(callable_here[name]).parameters)
        if call.keywords or len(call.args) != takes:
            self.refuse(f"calls {name} with other than {takes} plain operands", "give them in order, unnamed", line)


def check_axes(function: FunctionType, along: Set[str], own: Set[str], extra: str | None) -> None:
    """Refuse an axis that is not taken away everywhere, one that is not there, and a run along no column.

    `along` are the parameters that have the axis `extra` more than the result, `own` those of its own table.
    """
    formula = expression_of(function)
    if left := sorted(names_in(formula, except_in=REDUCING) & along):
        refuse(
            function,
            f"has one row for each {extra} in {' and '.join(left)}, its result has not",
            f"take it away with {', '.join(sorted(REDUCING))}",
        )
    for call in ast.walk(formula):
        if not isinstance(call, ast.Call) or not isinstance(call.func, ast.Name):
            continue
        if call.func.id in REDUCING and not names_in(call) & along:
            refuse(
                function,
                f"takes an axis away in {ast.unparse(call)}, where no parameter has one more than the result",
                f"leave {call.func.id} out",
            )
        if call.func.id in RUNNING and not (isinstance(call.args[0], ast.Name) and call.args[0].id in own):
            looked = ast.unparse(call.args[0])
            refuse(function, f"looks along {looked}, which is no column of its own table", "make it a quantity first")


def names_in(tree: ast.AST, except_in: Set[str] = frozenset()) -> set[str]:
    """The names in a formula, save for what stands within calls of the words `except_in`."""
    if isinstance(tree, ast.Name):
        return {tree.id}
    if isinstance(tree, ast.Call) and isinstance(tree.func, ast.Name) and tree.func.id in except_in:
        return set()
    return set().union(*(names_in(inner, except_in) for inner in ast.iter_child_nodes(tree)))


def _with_lines(tree: ast.AST, line: int = 1) -> Iterator[tuple[ast.AST, int]]:
    """Everything in a formula with its line, from left to right, save for the names of what is called.

    An operator has no line of its own and gets that of what it stands in.
    """
    line = getattr(tree, "lineno", line)
    yield tree, line
    for inner in ast.iter_child_nodes(tree):
        if not (isinstance(tree, ast.Call) and inner is tree.func):
            yield from _with_lines(inner, line)
