"""Plans quantities into fused loops: what goes through together, what is kept, what is given from outside.

A formula is cut at the words that take an axis away or run along one, and where it looks up a sibling; each piece is a
node. Nodes of the same loop whose values are at hand go into one nest. The innermost of every loop are the lanes
(variants, or worlds), which no node tells apart.
"""

from __future__ import annotations

import ast
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from pricing.formulas.graph import Graph, Need, Quantity
from pricing.formulas.tables import inner_axes, of_variants
from pricing.words import REDUCING, RUNNING

#: The word of a node that looks up a sibling by its key.
FOLLOWED = "followed"


@dataclass(frozen=True)
class Given:
    """A column that comes from outside, at the places of a row's own axes: as it lies, or through keys of the row.

    Without a column it is the key itself.
    """

    column: str
    keys: tuple[tuple[str, str], ...]
    axes: tuple[str, ...]


@dataclass(frozen=True)
class Read:
    """Where a name in a formula is read: a node or a given column, with the axes that lead to its place."""

    source: str | Given
    axes: tuple[str, ...]


@dataclass(frozen=True)
class Node:
    """A piece of a formula: `axes` of the result, `loop` those gone through, the lanes in neither.

    `word` is the one that takes an axis away or runs along it, `followed` for a sibling looked up by the key in
    `reads`, "" for plain arithmetic.
    """

    name: str
    word: str
    axes: tuple[str, ...]
    loop: tuple[str, ...]
    formula: ast.expr
    reads: Mapping[str, Read]

    @property
    def before(self) -> set[str]:
        """The nodes that it reads."""
        return {read.source for read in self.reads.values() if isinstance(read.source, str)}

    def beside(self, other: Node) -> bool:
        """Whether the other's value of the very same turn of the loop is what this one reads."""
        return (
            not other.word
            and other.loop == self.loop
            and self.word not in (*RUNNING, FOLLOWED)
            and all(read.axes == other.axes for read in self.reads.values() if read.source == other.name)
        )


@dataclass(frozen=True)
class Plan:
    """Nests of nodes in order, what they read from outside, and the nodes whose values are kept in tiles.

    The first `alone` nests look at no other variant; `across` are the quantities that the rest looks up of others.
    """

    nests: tuple[tuple[Node, ...], ...]
    given: tuple[Given, ...]
    tiled: Mapping[str, tuple[str, ...]]
    alone: int
    across: tuple[str, ...]
    wanted: tuple[str, ...]

    @property
    def axes(self) -> tuple[str, ...]:
        """All axes that anything lies along; their sizes are known when it is run."""
        along = [axis for nest in self.nests for axis in nest[0].loop]
        lying = [axis for each in self.given for axis in each.axes]
        return tuple(dict.fromkeys(plain(axis) for axis in (*along, *lying)))


def plain(axis: str) -> str:
    """The axis that `other channel` goes along."""
    return axis.removeprefix("other ")


def plan(graph: Graph, wanted: Iterable[str]) -> Plan:
    """The plan of the wanted quantities of variants, and of those that they need."""
    wanted = tuple(sorted(name for name in wanted if name in graph.quantities and of_variants(graph.table_of(name))))
    needed = _closure(graph, wanted)
    nodes: dict[str, Node] = {}
    for quantity in needed:
        nodes.update(_Cut(graph, quantity).nodes())
    across = {need.column for each in needed for need in each.needs if _leads_to_variants(need)}
    waiting: set[str] = set()
    for node in nodes.values():
        if node.before & waiting or any(_is_across(read, graph) for read in node.reads.values()):
            waiting.add(node.name)
    alone = _nests({name: node for name, node in nodes.items() if name not in waiting}, set())
    nests = [*alone, *_nests({name: nodes[name] for name in nodes if name in waiting}, set(nodes) - waiting)]
    place = {node.name: number for number, nest in enumerate(nests) for node in nest}
    kept = {*wanted, *across, *(node.name for node in nodes.values() if node.word)}
    for node in nodes.values():
        kept |= {name for name in node.before if place[name] != place[node.name] or not node.beside(nodes[name])}
    given = dict.fromkeys(
        read.source for node in nodes.values() for read in node.reads.values() if isinstance(read.source, Given)
    )
    return Plan(
        tuple(tuple(nest) for nest in nests),
        tuple(given),
        {name: node.axes for name, node in nodes.items() if name in kept},
        len(alone),
        tuple(sorted(across & set(nodes))),
        wanted,
    )


def _closure(graph: Graph, wanted: Iterable[str]) -> list[Quantity]:
    lacking, found = list(wanted), set()
    while lacking:
        name = lacking.pop()
        if name in graph.quantities and name not in found and of_variants(graph.table_of(name)):
            found.add(name)
            lacking += [need.column for need in graph.quantities[name].needs]
    return [quantity for name, quantity in graph.quantities.items() if name in found]


def _leads_to_variants(need: Need) -> bool:
    return bool(need.path.keys) and of_variants(need.path.source)


def _is_across(read: Read, graph: Graph) -> bool:
    given = read.source
    return isinstance(given, Given) and bool(given.keys and given.column) and of_variants(graph.table_of(given.column))


class _Cut(ast.NodeTransformer):
    """Cuts one formula into nodes, from the inside out."""

    def __init__(self, graph: Graph, quantity: Quantity):
        self.graph, self.quantity = graph, quantity
        self.axes = inner_axes(quantity.table)
        self.found: dict[str, Node] = {}
        self.reads = {need.parameter: self.read(need) for need in quantity.needs}

    def nodes(self) -> dict[str, Node]:
        name, rest = self.quantity.name, self.visit(self.quantity.expression())
        last = self.found.get(rest.id) if isinstance(rest, ast.Name) else None
        if last is not None and last.word != FOLLOWED:  # the whole formula is one word
            del self.found[last.name]
            whole = Node(name, last.word, last.axes, last.loop, last.formula, last.reads)
        else:
            whole = Node(name, "", self.axes, self.axes, rest, self.read_in(rest))
        return {**self.found, name: whole}

    def visit_Call(self, call: ast.Call) -> ast.expr:
        self.generic_visit(call)
        word = call.func.id if isinstance(call.func, ast.Name) else ""
        if word not in REDUCING | RUNNING:
            return call
        extra = (self.quantity.extra,) if word in REDUCING and self.quantity.extra else ()
        return self.cut(word, (*self.axes, *extra), call.args[0])

    def cut(self, word: str, loop: tuple[str, ...], formula: ast.expr) -> ast.Name:
        """A node for a word, the same one where the formula says the same twice."""
        for node in self.found.values():
            if node.word == word and ast.dump(node.formula) == ast.dump(formula):
                return ast.Name(node.name, ast.Load())
        name = f"{self.quantity.name}__{len(self.found)}"
        self.found[name] = Node(name, word, self.axes, loop, formula, self.read_in(formula))
        self.reads[name] = Read(name, self.axes)
        return ast.Name(name, ast.Load())

    def read_in(self, formula: ast.expr) -> dict[str, Read]:
        names = dict.fromkeys(node.id for node in ast.walk(formula) if isinstance(node, ast.Name))
        return {name: self.reads[name] for name in names if name in self.reads}

    def read(self, need: Need) -> Read:
        """Where a parameter is read."""
        path, table = need.path, self.graph.table_of(need.column)
        if path.prefix == "other":
            axes = inner_axes(path.source)
            return Read(self.column(need.column), (*axes[:-1], f"other {axes[-1]}"))
        if path.prefix:
            name = f"{self.quantity.name}__{len(self.found)}"
            key = Given("", ((self.quantity.table, path.prefix),), self.axes)
            reads = {"siblings": Read(self.column(need.column), self.axes), "key": Read(key, self.axes)}
            self.found[name] = Node(name, FOLLOWED, self.axes, self.axes, ast.Name("siblings", ast.Load()), reads)
            return Read(name, self.axes)
        if path.keys:
            axes = inner_axes(path.keys[0][0])
            return Read(Given(need.column, path.keys, axes), axes)
        return Read(self.column(need.column), inner_axes(table))

    def column(self, name: str) -> str | Given:
        """A quantity that is a node itself, or what is given of it."""
        table = self.graph.table_of(name)
        return name if name in self.graph.quantities and of_variants(table) else Given(name, (), inner_axes(table))


def _nests(nodes: dict[str, Node], done: set[str]) -> list[list[Node]]:
    """Nodes in nests, each as large as can be: a node goes in once all that it reads is done or stands beside it."""
    nests, left, ready = [], dict(nodes), set(done)
    while left:
        choices = [_together(left, ready, loop) for loop in dict.fromkeys(node.loop for node in left.values())]
        running = [[node] for node in left.values() if node.word in (*RUNNING, FOLLOWED) and node.before <= ready]
        nest = running[0] if running else max(choices, key=lambda nest: (len(nest[0].loop), len(nest)) if nest else ())
        nests.append(nest)
        for node in nest:
            ready.add(node.name)
            del left[node.name]
    return nests


def _together(left: Mapping[str, Node], ready: set[str], loop: tuple[str, ...]) -> list[Node]:
    """The nodes of one loop that can go through together."""
    taken: dict[str, Node] = {}
    for node in left.values():  # in order: what a node reads stands before it
        if node.loop == loop and node.word not in (*RUNNING, FOLLOWED):
            beside = {name for name in node.before if name in taken and node.beside(taken[name])}
            if node.before - beside <= ready:
                taken[node.name] = node
    return list(taken.values())
