"""What one set is made of, as every face tells it: each metal with its grams, the pieces that are joined, the sizes."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pricing.formulas.engine import Computed
from pricing.model.rows import VariantRow

#: So little metal is float noise and none.
NO_METAL = 1e-9


@dataclass(frozen=True)
class Metal:
    """Grams of one alloy in one finished set."""

    alloy: str
    grams: float


@dataclass(frozen=True)
class Contents:
    """All that one finished set weighs: its metals, its own first, then as they are met; `other_g` is no metal."""

    metals: tuple[Metal, ...]
    other_g: float

    @property
    def all_metals_g(self) -> float:
        return sum(metal.grams for metal in self.metals)


def contents_of(computed: Computed, row: int) -> Contents:
    """What is in one finished set of the variant in `row`: its own metal, its findings' and its parts', at any depth.

    A plated layer is in no mass. The metals and `other_g` add up to `total_g`.
    """
    resolved = computed.resolved
    variant = resolved.variants[row]
    grams: dict[str, float] = {}
    other = 0.0
    for count, piece, place in _pieces(computed, row, variant):
        own = float(computed.values["finished_g"][place])
        for alloy, amount in ((piece.alloy, own), *_of_findings(piece)):
            grams[alloy] = grams.get(alloy, 0.0) + count * amount
        other += count * sum(each.finding_quantity * each.finding_other_g for each in piece.findings)
    return Contents(tuple(Metal(alloy, found) for alloy, found in grams.items() if found > NO_METAL), other)


def own_grams(computed: Computed, row: int) -> float:
    """Its own metal; of what has none, all metal of the pieces that it is joined of."""
    own = float(computed["finished_g"][row])
    return own if computed.resolved.variants[row].castings else contents_of(computed, row).all_metals_g


def _pieces(computed: Computed, row: int, variant: VariantRow) -> Iterator[tuple[float, VariantRow, int]]:
    """The whole and each piece in it: how many are in one set, its row, its place among all rows."""
    yield 1.0, variant, row
    if variant.parts:
        places, resolved = computed.hidden_places, computed.resolved
        for index, part in enumerate(variant.parts):
            place = places[part.piece]
            yield float(computed["part_count"][row, index]), resolved.hidden[place - len(resolved.variants)], place


def plated_on(computed: Computed, row: int) -> tuple[Metal, ...]:
    """Grams of the layers plated on one finished set, its parts' too, by alloy; they are in no mass of the piece."""
    grams: dict[str, float] = {}
    for count, piece, place in _pieces(computed, row, computed.resolved.variants[row]):
        for position, step in enumerate(piece.steps):
            for index, use in enumerate(step.uses):
                if use.plating_alloy is not None:
                    layer = float(computed.values["layer_g"][place, position, index])
                    grams[use.plating_alloy] = grams.get(use.plating_alloy, 0.0) + count * layer
    return tuple(Metal(alloy, found) for alloy, found in grams.items() if found > 0)


def _of_findings(piece: VariantRow) -> Iterator[tuple[str, float]]:
    for finding in piece.findings:
        if finding.finding_alloy is not None:
            yield finding.finding_alloy, finding.finding_quantity * finding.finding_metal_g
