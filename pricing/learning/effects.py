"""What costs and prices would change by with learned figures in their places: the engine run on from there."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun
from pricing.learning.evidence import GOOD, MELT_LOSS, MINUTES, SPRUE_RATIO
from pricing.learning.rows import HAIR, Effect, Learned, Moved
from pricing.workbook.back.layered import Variant

#: The inputs of the engine that learned figures are.
_INPUT_OF: Mapping[str, str] = MappingProxyType(
    {GOOD: "good", MINUTES: "step_minutes", SPRUE_RATIO: "sprue_ratio", MELT_LOSS: "melt_loss"}
)


def effect_of(computed: Computed, rows: Sequence[Learned]) -> Effect:
    """What the figures of these rows change, all together."""
    after = with_figures(computed, rows, ("unit_cost", "price"))
    variants, channels = computed.resolved.variants, computed.resolved.channels
    costs, prices = ((computed[name], after[name]) for name in ("unit_cost", "price"))
    cost = _most(costs, np.ones(len(variants), dtype=bool))
    price = _most(prices, computed.sold_places)
    moved = int((_moved(prices) & computed.sold_places).sum())
    return Effect(
        None if cost is None else Moved(variants[cost[0]].sku, variants[cost[0]].alloy, "", *_at(costs, cost)),
        None if price is None else Moved(variants[price[0]].sku, variants[price[0]].alloy, channels[price[1]].name,
                                         *_at(prices, price)),
        moved,
    )  # fmt: skip


def _moved(both: tuple[np.ndarray, np.ndarray]) -> np.ndarray:
    return np.asarray(np.abs(both[1] - both[0]) > HAIR)


def _most(both: tuple[np.ndarray, np.ndarray], counted: np.ndarray) -> tuple[int, ...] | None:
    """The place of what moves most as a share; None where nothing does."""
    before, after = both
    with np.errstate(all="ignore"):
        shares = np.where(counted & _moved(both), np.abs(after / before - 1), -1.0)
    if not shares.size or shares.max() < 0:
        return None
    return tuple(int(each) for each in np.unravel_index(np.argmax(shares), shares.shape))


def _at(both: tuple[np.ndarray, np.ndarray], place: tuple[int, ...]) -> tuple[float, float]:
    return float(both[0][place]), float(both[1][place])


def with_figures(computed: Computed, rows: Sequence[Learned], wanted: Sequence[str]) -> dict[str, np.ndarray]:
    """Quantities by name once the figures of these rows stand; rows of products apart count last."""
    resolved = computed.resolved
    alloys = {row.name: place for place, row in enumerate(resolved.alloys)}
    places: dict[Variant, list[int]] = {}
    for place, variant in enumerate(resolved.all_variants):
        places.setdefault(Variant(variant.product, variant.alloy), []).append(place)
    columns: dict[str, np.ndarray] = {}
    for row in sorted(rows, key=lambda each: bool(each.shared_by)):
        if row.to is None:
            continue
        name = _INPUT_OF[row.figure.key]
        column = columns.setdefault(name, computed.values[name].copy())
        if row.figure.key == MELT_LOSS:
            column[alloys[row.takers[0].alloy]] = row.to
            continue
        for place in (each for taker in row.takers for each in places[taker]):
            if row.figure.step:
                steps = [step.name for step in resolved.all_variants[place].steps]
                if row.figure.step in steps:  # a part may lack a step that the piece by itself has
                    column[place, steps.index(row.figure.step)] = row.to
            else:
                column[place] = row.to
    with np.errstate(all="ignore"):
        return rerun(computed, columns, wanted)
