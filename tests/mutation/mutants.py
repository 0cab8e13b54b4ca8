"""The small mistakes that a file can hold: each is the file's text with one expression written differently.

Lines stay where they are, so that whoever reads the source of a function finds the mistaken one.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass

#: What a mistake stands in that no function holds.
OWN_LINES = "the file's own lines"

OPERATORS = {
    ast.Add: ("+", "-"), ast.Sub: ("-", "+"), ast.Mult: ("*", "/"), ast.Div: ("/", "*"),
    ast.BitAnd: ("&", "|"), ast.BitOr: ("|", "&"), ast.FloorDiv: ("//", "/"), ast.Mod: ("%", "//"),
}  # fmt: skip
#: Each comparison with its neighbour and with its opposite.
COMPARISONS = {
    ast.Lt: ("<", ("<=", ">=")), ast.LtE: ("<=", ("<", ">")), ast.Gt: (">", (">=", "<=")), ast.GtE: (">=", (">", "<")),
    ast.Eq: ("==", ("!=",)), ast.NotEq: ("!=", ("==",)), ast.Is: ("is", ("is not",)), ast.IsNot: ("is not", ("is",)),
    ast.In: ("in", ("not in",)), ast.NotIn: ("not in", ("in",)),
}  # fmt: skip
#: Words that are taken for one another.
TWINS = {
    one: other
    for pair in (
        ("minimum", "maximum"), ("min", "max"), ("both", "either"), ("ceil", "floor"), ("square", "cube"),
        ("total", "largest"), ("downstream", "upstream"), ("any", "all"), ("argmax", "argmin"), ("sum", "prod"),
        ("cumprod", "cumsum"), ("logical_and", "logical_or"),
    )
    for one, other in (pair, pair[::-1])
}  # fmt: skip
#: Their arguments may change places.
EVEN_HANDED = {"minimum", "maximum", "min", "max", "both", "either", "zip", "isinstance", "logical_and", "logical_or"}


@dataclass(frozen=True)
class Mutant:
    """One mistake: `within` is the function that holds it, `before` and `after` are the expression, `text` the file."""

    within: str
    line: int
    before: str
    after: str
    text: str

    @property
    def name(self) -> str:
        """The mistake in one line, without its place, so that a list of them outlives other changes of the file."""
        return f"{self.within}: {self.before} -> {self.after}"


def mutants_of(text: str) -> list[Mutant]:
    """All mistakes of a file's text, in the order of its lines; none that says the same twice in one place."""
    found: dict[tuple[int, int, str], Mutant] = {}
    as_written = ast.dump(ast.parse(text))
    for within, node, before, after in _Mistakes(text).all():
        start, end = _span(text, node)
        lines = text[start:end].count("\n") - after.count("\n")
        for padding in ("\n", " \\\n"):
            changed = text[:start] + after + padding * lines + text[end:]
            try:
                same = ast.dump(ast.parse(changed)) == as_written
            except SyntaxError:
                continue
            if not same:
                short = [" ".join(part.split()) for part in (before, after)]
                found.setdefault((start, end, after), Mutant(within, node.lineno, *short, changed))
            break
    return sorted(found.values(), key=lambda mutant: mutant.line)


def _span(text: str, node: ast.expr) -> tuple[int, int]:
    """Where an expression stands in the text."""
    lines = text.splitlines(keepends=True)

    def place(line: int, byte: int) -> int:
        return sum(map(len, lines[: line - 1])) + len(lines[line - 1].encode()[:byte].decode())

    return place(node.lineno, node.col_offset), place(node.end_lineno, node.end_col_offset)


class _Mistakes:
    """Walks the bodies of a file's functions, and what its own lines compute."""

    def __init__(self, text: str):
        self.text = text

    def all(self) -> Iterator[tuple[str, ast.expr, str, str]]:
        """Function, expression that is replaced, how it is told before and after; the last is what is put in."""
        yield from self.below(ast.parse(self.text), ())

    def below(self, node: ast.AST, within: tuple[str, ...]) -> Iterator[tuple[str, ast.expr, str, str]]:
        if isinstance(node, ast.Raise | ast.Assert | ast.JoinedStr | ast.Import | ast.ImportFrom):
            return  # what is told, not what is computed
        if isinstance(node, ast.expr):
            for after in self.instead_of(node):
                yield ".".join(within) or OWN_LINES, node, self.told(node), after
        if isinstance(node, ast.If | ast.IfExp | ast.While) and not isinstance(node.test, ast.Compare | ast.UnaryOp):
            yield ".".join(within), node.test, self.told(node.test), f"not ({self.told(node.test)})"
        if isinstance(node, ast.FunctionDef | ast.ClassDef):
            within = (*within, node.name)
            children: list[ast.AST] = list(node.body)
        elif isinstance(node, ast.AnnAssign):
            children = [node.value] if node.value else []
        elif isinstance(node, ast.Call) and _word(node.func) in {"refuse", "TypeVar", "dataclass"}:
            children = []
        else:
            children = list(ast.iter_child_nodes(node))
        for child in children:
            if not isinstance(child, ast.arguments):
                yield from self.below(child, within)

    def told(self, node: ast.AST) -> str:
        return ast.get_source_segment(self.text, node) or ast.unparse(node)

    def instead_of(self, node: ast.expr) -> Iterator[str]:
        """The texts that may stand for an expression by mistake."""
        match node:
            case ast.BinOp(left, operator, right) if type(operator) in OPERATORS:
                for other in OPERATORS[type(operator)][1:]:
                    yield f"{self.closed(left)} {other} {self.closed(right)}"
                yield self.closed(left)
                if not isinstance(operator, ast.Sub | ast.Div):
                    yield self.closed(right)
            case ast.Compare(left, [operator], [right]):
                for other in COMPARISONS[type(operator)][1]:
                    yield f"{self.closed(left)} {other} {self.closed(right)}"
            case ast.BoolOp(operator, values):
                other = " or " if isinstance(operator, ast.And) else " and "
                yield other.join(self.closed(value) for value in values)
                for place in range(len(values)):
                    rest = values[:place] + values[place + 1 :]
                    kept = " or " if isinstance(operator, ast.Or) else " and "
                    yield kept.join(self.closed(value) for value in rest)
            case ast.UnaryOp(_, operand):
                yield self.closed(operand)
            case ast.IfExp(test, body, orelse):
                yield f"{self.closed(orelse)} if {self.closed(test)} else {self.closed(body)}"
            case ast.Constant(bool() as value):
                yield str(not value)
            case ast.Constant(int() | float() as value):
                yield {0: "1", 1: "0"}.get(value, f"{value!r} + 1")
            case ast.Call():
                yield from self.instead_of_call(node)
            case ast.ListComp() | ast.SetComp() | ast.DictComp() | ast.GeneratorExp():
                for place, loop in enumerate(node.generators):
                    if loop.ifs:
                        bare = ast.parse(ast.unparse(node), mode="eval").body
                        bare.generators[place].ifs.pop()  # type: ignore[attr-defined]
                        yield ast.unparse(bare)

    def instead_of_call(self, node: ast.Call) -> Iterator[str]:
        word, given = _word(node.func), [self.told(argument) for argument in node.args]
        told, rest = self.told(node.func), [ast.unparse(keyword) for keyword in node.keywords]
        if word in TWINS:
            twin = told[: len(told) - len(word)] + TWINS[word]
            yield f"{twin}({', '.join(given + rest)})"
        if word in {"opposite", "total", "ceil", "floor", "square", "cube", "sum", "abs"} and len(given) == 1:
            yield f"({given[0]})"
        if word in {"minimum", "maximum", "min", "max", "both", "either", "logical_and", "logical_or"}:
            for argument in given if len(given) == 2 else ():
                yield f"({argument})"
        if word == "held" and len(given) == 3:
            yield f"({given[0]})"
        if any(isinstance(argument, ast.Starred) for argument in node.args):
            return
        if word == "where" and len(given) == 3:
            yield f"{told}({given[0]}, {given[2]}, {given[1]})"
        elif len(given) >= 2 and word not in EVEN_HANDED:
            for place in range(len(given) - 1):
                swapped = [*given[:place], given[place + 1], given[place], *given[place + 2 :]]
                yield f"{told}({', '.join(swapped + rest)})"

    def closed(self, node: ast.expr) -> str:
        """An expression's text, in brackets where it is more than a name, a number or a call."""
        told = self.told(node)
        return told if isinstance(node, ast.Name | ast.Constant | ast.Call | ast.Attribute) else f"({told})"


def _word(function: ast.expr) -> str:
    """The last name of what is called."""
    return function.id if isinstance(function, ast.Name) else getattr(function, "attr", "")
