"""The quantities as compiled loops: the same functions planned, printed as C, compiled once and run.

One library serves every workshop. Without a compiler, and where there is little to do, numpy does it all.
"""

from __future__ import annotations

from collections.abc import Iterable
from functools import lru_cache
from typing import TYPE_CHECKING

from pricing.formulas.graph import Graph

if TYPE_CHECKING:
    from pricing.formulas.kernel.run import Kernel

#: Rows (variants, or variants × worlds) from which it is compiled: on numpy they take about as long as a compiler does
#: once. Fewer are never compiled, so that a folder's figures do not depend on what was run before.
COMPILED_FROM = 100_000


def kernel_for(graph: Graph, wanted: Iterable[str], rows: int) -> Kernel | None:
    """The compiled formulas of what is wanted of variants; None where numpy does it: few rows, or no compiler."""
    return None if rows < COMPILED_FROM else _kernel(_Asked(graph, frozenset(wanted)))


def has_compiled() -> bool:
    """Whether compiled formulas were asked for in this process."""
    return _kernel.cache_info().currsize > 0


class _Asked:
    """A part of a graph and what is wanted of it, told apart by what it computes."""

    def __init__(self, graph: Graph, wanted: frozenset[str]):
        self.graph, self.wanted = graph, wanted
        functions = frozenset((name, each.function) for name, each in graph.quantities.items())
        self.same = (functions, frozenset((name, each.table) for name, each in graph.inputs.items()), wanted)

    def __hash__(self) -> int:
        return hash(self.same)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, _Asked) and self.same == other.same


@lru_cache(maxsize=32)
def _kernel(asked: _Asked) -> Kernel | None:
    """None where it cannot be compiled or loaded: nobody waits for a compiler in vain twice."""
    from pricing.formulas.kernel.library import NotCompiled
    from pricing.formulas.kernel.run import Kernel

    try:
        return Kernel(asked.graph, asked.wanted)
    except NotCompiled:
        return None
