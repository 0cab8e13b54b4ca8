"""What costs and prices would change by with learned figures in their places: the engine asked again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from types import MappingProxyType

from pricing.formulas.engine import compute
from pricing.learning.evidence import GOOD, MELT_LOSS, MINUTES, SPRUE_RATIO, Figure
from pricing.learning.rows import HAIR, Effect, Learned, Moved
from pricing.model.rows import Resolved, VariantRow
from pricing.workbook.back.family import Family
from pricing.workbook.back.layered import Variant

#: The inputs of the engine that learned figures are.
_INPUT_OF: Mapping[str, str] = MappingProxyType({GOOD: "good", MINUTES: "step_minutes"})


def effect_of(family: Family, rows: Sequence[Learned]) -> Effect:
    """What the figures of these rows change, all together: the engine asked again."""
    costing = family.costing
    before = costing.computed
    after = compute(with_figures(before.resolved, rows), before.graph)
    variants, channels = before.resolved.variants, before.resolved.channels
    costs = [
        Moved(row.sku, row.alloy, "", float(before["unit_cost"][place]), float(after["unit_cost"][place]))
        for place, row in enumerate(variants)
    ]
    prices = [
        Moved(row.sku, row.alloy, channels[column].name, float(before["price"][place, column]),
              float(after["price"][place, column]))
        for place, row in enumerate(variants)
        for column in row.sold_places
    ]  # fmt: skip
    moved = [each for each in prices if abs(each.after - each.before) > HAIR]
    return Effect(_most([each for each in costs if abs(each.by) > HAIR]), _most(moved), len(moved))


def _most(moved: Sequence[Moved]) -> Moved | None:
    return max(moved, key=lambda each: abs(each.by), default=None)


def with_figures(resolved: Resolved, rows: Sequence[Learned]) -> Resolved:
    """A resolved workshop with the figures of these rows in their places; rows of products apart count last."""
    losses: dict[str, float] = {}
    figures: dict[Variant, dict[Figure, float]] = {}
    for row in sorted(rows, key=lambda each: bool(each.shared_by)):
        if row.to is None:
            continue
        for taker in row.takers:
            if row.figure.key == MELT_LOSS:
                losses[taker.alloy] = row.to
            else:
                figures.setdefault(taker, {})[row.figure] = row.to
    alloys = tuple(
        each.model_copy(update={"melt_loss": losses[each.name]}) if each.name in losses else each
        for each in resolved.alloys
    )

    def changed(row: VariantRow) -> VariantRow:
        own = figures.get(Variant(row.product, row.alloy), {})
        if not own:
            return row
        steps = tuple(
            step.model_copy(
                update={
                    name: own[figure] for key, name in _INPUT_OF.items() if (figure := Figure(step.name, key)) in own
                }
            )
            for step in row.steps
        )
        ratio = own.get(Figure("", SPRUE_RATIO), row.sprue_ratio)
        return row.model_copy(update={"steps": steps, "sprue_ratio": ratio})

    return resolved.model_copy(
        update={
            "alloys": alloys,
            "variants": tuple(map(changed, resolved.variants)),
            "hidden": tuple(map(changed, resolved.hidden)),
        }
    )
