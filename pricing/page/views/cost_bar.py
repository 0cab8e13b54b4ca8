"""Figures as the page draws them: what a set is made of, as a bar of three tints: metal, hands, all else."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pricing.formulas.engine import Computed
from pricing.records import COST_LINES, cost_shares
from pricing.shown import Shown, percent

#: What a cost line is drawn as: the metal, the hands and what they carry, all else.
TINTS: Mapping[str, str] = MappingProxyType({"metal_cost": "metal", "labour_cost": "hands", "overhead_cost": "hands"})
#: Width of a bar in its own units.
BAR_WIDTH = 100.0
#: Left free between two pieces of a bar.
BAR_GAP = 0.6


@dataclass(frozen=True)
class Piece:
    """One piece of a bar: `kind` is the cost line's name, `start` and `width` are in units of BAR_WIDTH."""

    kind: str
    word: str
    start: float
    width: float

    @property
    def of(self) -> str:
        """Its tint: "metal", "hands" or "rest"."""
        return TINTS.get(self.kind, "rest")


@dataclass(frozen=True)
class Bar:
    """What a set's cost is made of; `told` says the same in words."""

    pieces: tuple[Piece, ...]
    told: str


def cost_bar(computed: Computed, row: int, shown: Shown) -> Bar:
    """The bar of one variant's unit cost. What brings money back (metal that is sold) has no piece."""
    pieces, start, words = [], 0.0, []
    for name, share in cost_shares(computed, row).items():
        word, width = COST_LINES[name], share * BAR_WIDTH
        pieces.append(Piece(name, word, round(start, 2), round(max(width - BAR_GAP, 0.2), 2)))
        words.append(f"{word} {shown.money(float(computed[name][row]))} ({percent(share)})")
        start += width
    return Bar(tuple(pieces), ", ".join(words))


@dataclass(frozen=True)
class Legend:
    """A tint of the bars and its word."""

    of: str
    word: str


LEGEND = (Legend("metal", "metal"), Legend("hands", "hands and overhead"), Legend("rest", "all else"))
