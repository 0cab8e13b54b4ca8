"""Prints a plan as C: the fixed part (`lanes.c`) and one function that takes a block of lanes through all nests.

Sizes of axes and the places of tiles are numbers of the run, so that one library serves every workshop.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType

from pricing.formulas.kernel.plan import FOLLOWED, Given, Node, Plan, plain
from pricing.words import CONSTANTS, NO_WHOLE, REDUCING, RUNNING, check_vocabulary

#: Lanes of a block: so many that a whole plan's tiles still lie in a core's second cache.
LANES = 64
BLOCK = (
    "static void block(const int64_t *n, const int64_t *at, const int64_t *goes, double *s, int64_t now, int64_t parts)"
)
CONDITIONS: Mapping[str, str] = MappingProxyType({"both": "&", "either": "|"})
COMPARED = MappingProxyType({ast.Lt: "<", ast.LtE: "<=", ast.Gt: ">", ast.GtE: ">=", ast.Eq: "=="})
RECKONED = MappingProxyType({ast.Add: "+", ast.Sub: "-", ast.Mult: "*", ast.Div: "/"})
#: What words are called in C.
PLAIN: Mapping[str, str] = MappingProxyType(
    {name: f"{name}_" for name in ("minimum", "maximum", "held", "square", "cube", "ratio")}
    | {"ceil": "ceil", "floor": "floor"}
)
check_vocabulary({*PLAIN, *CONDITIONS, "where", "opposite", *REDUCING, *RUNNING, *CONSTANTS})
#: Where the words that take an axis away begin.
BEGINS: Mapping[str, str] = MappingProxyType({"total": "0.0", "product": "1.0", "largest": "0.0"})


def source_of(plan: Plan) -> str:
    """The C of a plan."""
    head = f"#define W {LANES}\n#define NO_WHOLE {NO_WHOLE!r}\n{_fixed_part()}\n"
    body = "\n".join(_Printer(plan).lines())
    return f"{head}{BLOCK} {{\n{body}\n}}\n"


@cache
def _fixed_part() -> str:
    return (Path(__file__).parent / "lanes.c").read_text(encoding="utf-8")


class _Printer:
    def __init__(self, plan: Plan):
        self.plan = plan
        places: tuple[str | Given, ...] = (*plan.given, *plan.tiled)
        self.tiles = {key: at for at, key in enumerate(places)}
        self.sizes = {axis: at for at, axis in enumerate(plan.axes)}

    def lines(self) -> Iterator[str]:
        for number, nest in enumerate(self.plan.nests):
            if number == self.plan.alone:
                yield "  if (!parts) return;"
            yield f"  if (goes[{number}] >= now) {{"
            yield from self.nest(nest)
            yield "  }"

    def nest(self, nest: tuple[Node, ...]) -> Iterator[str]:
        """All nodes of one loop."""
        loop, word = nest[0].loop, nest[0].word
        for node in nest:
            if node.word in REDUCING:
                count = " * ".join(("W", *(self.size(axis) for axis in node.axes)))
                tile = f"s + at[{self.tiles[node.name]}]"
                yield f"  {{ double *t = {tile}; for (ptrdiff_t i = 0; i < {count}; i++) t[i] = {BEGINS[node.word]}; }}"
        for depth, axis in enumerate(loop):
            i, size = _turn(axis), self.size(axis)
            if word == "downstream" and depth == len(loop) - 1:
                yield f"  for (ptrdiff_t {i} = {size} - 1; {i} >= 0; {i}--)"
            else:
                yield f"  for (ptrdiff_t {i} = 0; {i} < {size}; {i}++)"
        yield "  {"
        if word in RUNNING:
            yield from self.running(nest[0])
        elif word == FOLLOWED:
            yield from self.followed(nest[0])
        else:
            yield from self.arithmetic(nest)
        yield "  }"

    def arithmetic(self, nest: tuple[Node, ...]) -> Iterator[str]:
        """Every value is read before anything is reckoned with, so that no read waits for a condition."""
        pointers: dict[str, str] = {}
        inside: list[str] = []
        for node in nest:
            known = {}
            for name, read in node.reads.items():
                if any(other.name == read.source and node.beside(other) for other in nest):
                    known[name] = f"v_{read.source}"
                else:
                    tile = self.tile(read.source, read.axes)
                    known[name] = pointers.setdefault(tile, f"r{len(pointers)}")
            formula = _Expression(known).number(node.formula)
            to = f"w_{node.name}[w]"
            if node.word == "":
                inside.append(f"const double v_{node.name} = {formula};")
                inside += [f"{to} = v_{node.name};"] if node.name in self.plan.tiled else []
            elif node.word == "total":
                inside.append(f"{to} += {formula};")
            elif node.word == "product":
                inside.append(f"{to} *= {formula};")
            else:
                inside.append(f"{to} = maximum_({to}, {formula});")
        for tile, name in pointers.items():
            yield f"    const double *p_{name} = {tile};"
        for node in nest:
            if node.name in self.plan.tiled:
                yield f"    double *w_{node.name} = {self.tile(node.name, node.axes)};"
        yield "    LANES {"
        yield from (f"      const double {name} = p_{name}[w];" for name in pointers.values())
        yield from (f"      {line}" for line in inside)
        yield "    }"

    def running(self, node: Node) -> Iterator[str]:
        """A product that runs along the last axis: of a place and all after it, or of all before it."""
        (read,) = node.reads.values()
        last, back = _turn(node.axes[-1]), node.word == "downstream"
        first = f"{last} == {self.size(node.axes[-1])} - 1" if back else f"{last} == 0"
        step = "+ W" if back else "- W"
        yield f"    double *to = {self.tile(node.name, node.axes)};"
        yield f"    const double *of = {self.tile(read.source, read.axes)};"
        if back:
            yield f"    if ({first}) {{ LANES to[w] = of[w]; }} else {{ LANES to[w] = to[w {step}] * of[w]; }}"
        else:
            yield f"    if ({first}) {{ LANES to[w] = 1.0; }} else {{ LANES to[w] = to[w {step}] * of[w {step}]; }}"

    def followed(self, node: Node) -> Iterator[str]:
        """A sibling on the last axis, 0 where the key is open."""
        siblings, key = node.reads["siblings"], node.reads["key"]
        yield f"    double *to = {self.tile(node.name, node.axes)};"
        yield f"    const double *key = {self.tile(key.source, key.axes)};"
        yield f"    const double *of = {self.tile(siblings.source, (*siblings.axes[:-1], None))};"
        yield "    for (int w = 0; w < W; w++) to[w] = key[w] < 0 ? 0.0 : of[(ptrdiff_t)key[w] * W + w];"

    def tile(self, source: str | Given, axes: tuple[str | None, ...]) -> str:
        """Where the lanes of a place begin; an axis that is None is at its first place."""
        place = ""
        for axis, own in zip(axes, self.axes_of(source), strict=True):
            turn = "0" if axis is None else _turn(axis)
            place = f"({place} * {self.size(own)} + {turn})" if place else turn
        return f"s + at[{self.tiles[source]}]" + (f" + {place} * W" if place else "")

    def axes_of(self, source: str | Given) -> tuple[str, ...]:
        return source.axes if isinstance(source, Given) else self.plan.tiled[source]

    def size(self, axis: str) -> str:
        return f"n[{self.sizes[plain(axis)]}]"


def _turn(axis: str) -> str:
    """The variable that counts along an axis."""
    return f"i_{axis.replace(' ', '_')}"


class _Expression:
    """A formula in C; `known` says what its names are called there."""

    def __init__(self, known: dict[str, str]):
        self.known = known

    def number(self, node: ast.expr) -> str:
        if isinstance(node, ast.Constant):
            assert isinstance(node.value, int | float)
            return repr(float(node.value))
        if isinstance(node, ast.Name):
            return self.known.get(node.id) or repr(float(CONSTANTS[node.id]))
        if isinstance(node, ast.BinOp):
            return f"({self.number(node.left)} {RECKONED[type(node.op)]} {self.number(node.right)})"
        if self.is_condition(node):
            return f"(double){self.condition(node)}"
        assert isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        if node.func.id == "where":
            holds, then, otherwise = node.args
            return f"where_({self.condition(holds)}, {self.number(then)}, {self.number(otherwise)})"
        return f"{PLAIN[node.func.id]}({', '.join(map(self.number, node.args))})"

    def condition(self, node: ast.expr) -> str:
        if isinstance(node, ast.Compare):
            sign = COMPARED[type(node.ops[0])]
            return f"({self.number(node.left)} {sign} {self.number(node.comparators[0])})"
        if not self.is_condition(node):
            return f"({self.number(node)} != 0.0)"
        assert isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        if node.func.id == "opposite":
            return f"(!{self.condition(node.args[0])})"
        return f"({self.condition(node.args[0])} {CONDITIONS[node.func.id]} {self.condition(node.args[1])})"

    def is_condition(self, node: ast.expr) -> bool:
        called = isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id
        return isinstance(node, ast.Compare) or called in {*CONDITIONS, "opposite"}
