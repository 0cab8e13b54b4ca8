"""Figures computed from those of a workshop that shares variants with it are the figures computed anew, to the bit."""

from __future__ import annotations

import dataclasses
import random

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas import engine
from pricing.formulas.engine import Computed, compute
from pricing.formulas.graph import build, cost_model_functions
from pricing.model.rows import Resolved, VariantRow
from pricing.resources import sample_catalog
from tests.formulas.prepared import prepared

#: Rows of a block, so that the sample has several blocks and the others one.
BLOCK_ROWS = 64


@pytest.fixture(scope="module")
def sample() -> Resolved:
    return cost(sample_catalog(), asked_for()).computed.resolved


def same(some: Computed, other: Computed) -> None:
    """All columns, keys and figures are the same: names, shapes, kinds and bits."""
    assert some.columns.sizes == other.columns.sizes
    for held, fresh in (
        (some.columns.inputs, other.columns.inputs),
        (some.columns.keys, other.columns.keys),
        (some.values, other.values),
    ):
        assert held.keys() == fresh.keys()
        for name, column in fresh.items():
            told = (held[name].shape, held[name].dtype, held[name].tobytes())
            assert told == (column.shape, column.dtype, column.tobytes()), name


def renewed(known: Resolved, resolved: Resolved) -> Computed:
    """The figures of a workshop by those of another; checked against those computed anew."""
    before = compute(known, block_rows=BLOCK_ROWS)
    held = {name: column.tobytes() for name, column in before.values.items()}
    after = compute(resolved, block_rows=BLOCK_ROWS, before=before)
    same(after, compute(resolved, block_rows=BLOCK_ROWS))
    assert all(before.values[name].tobytes() == bits for name, bits in held.items()), "what was known stays as it was"
    return after


def with_rows(resolved: Resolved, variants: list[VariantRow], hidden: list[VariantRow] | None = None) -> Resolved:
    rows = {"variants": tuple(variants)} if hidden is None else {"variants": tuple(variants), "hidden": tuple(hidden)}
    return resolved.model_copy(update=rows)


def test_one_variant_changes(sample: Resolved) -> None:
    variants = list(sample.variants)
    variants[7] = variants[7].model_copy(update={"sprue_ratio": variants[7].sprue_ratio + 0.25})
    before, after = compute(sample), renewed(sample, with_rows(sample, variants))
    moved = np.flatnonzero(before["unit_cost"] != after["unit_cost"])
    assert moved.tolist() == [7]


def test_a_piece_that_others_are_joined_of_changes(sample: Resolved) -> None:
    hidden = list(sample.hidden)
    place = next(place for place, row in enumerate(hidden) if row.links)
    hidden[place] = hidden[place].model_copy(update={"sprue_ratio": hidden[place].sprue_ratio + 0.25})
    after = renewed(sample, with_rows(sample, list(sample.variants), hidden))
    whole = next(at for at, row in enumerate(sample.variants) if row.called == hidden[place].of)
    assert after["unit_cost"][whole] != compute(sample)["unit_cost"][whole]


def test_variants_come_go_and_change_places(sample: Resolved) -> None:
    variants = list(sample.variants)
    gone = variants.pop(3)
    renewed(sample, with_rows(sample, variants))
    renewed(with_rows(sample, variants), sample)
    renewed(sample, with_rows(sample, [*variants[::-1], gone.model_copy(update={"sku": "another"})]))


def test_the_widest_comes_and_goes(sample: Resolved) -> None:
    """The variant with most steps takes the column of every other with it when it goes, and back."""
    variants = list(sample.variants)
    widest = max(range(len(variants)), key=lambda place: len(variants[place].steps))
    short = variants[widest].model_copy(update={"steps": variants[widest].steps[:2]})
    narrow = with_rows(sample, [*variants[:widest], short, *variants[widest + 1 :]])
    renewed(sample, narrow)
    renewed(narrow, sample)


def test_more_than_variants_changes(sample: Resolved) -> None:
    metals = tuple(row.model_copy(update={"quote_price": row.quote_price * 1.5}) for row in sample.metals)
    renewed(sample, sample.model_copy(update={"metals": metals}))
    renewed(sample, sample.model_copy(update={"roles": sample.roles[::-1]}))
    renewed(sample, with_rows(sample, [], []))
    renewed(with_rows(sample, [], []), sample)


@pytest.mark.parametrize("number", range(6))
def test_drawn_workshops(number: int) -> None:
    """Some variants of a workshop changed, left out or shuffled."""
    resolved, chance = prepared(number).resolved, random.Random(number)
    variants = [
        row.model_copy(update={"scale": row.scale * 1.01}) if chance.random() < 0.3 else row
        for row in resolved.variants
        if chance.random() < 0.8
    ]
    renewed(resolved, with_rows(resolved, variants))
    chance.shuffle(variants)
    renewed(with_rows(resolved, variants), resolved)


def blocks_run(known: Resolved, resolved: Resolved, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int]:
    """In how many blocks the cost of a unit is computed for a workshop by another's figures, and anew."""
    before, counts, plain = compute(known, block_rows=BLOCK_ROWS), [], engine._Plan.__call__

    def counted(plan, *given):
        counts[-1] += plan.name == "unit_cost"
        return plain(plan, *given)

    monkeypatch.setattr(engine._Plan, "__call__", counted)
    for held in (before, None):
        counts.append(0)
        compute(resolved, block_rows=BLOCK_ROWS, before=held)
    return counts[0], counts[1]


def test_only_the_block_of_what_changed_is_run(sample: Resolved, monkeypatch: pytest.MonkeyPatch) -> None:
    variants = list(sample.variants)
    assert len({row.sprue_ratio for row in variants}) > 2  # they differ before and after
    variants[7] = variants[7].model_copy(update={"sprue_ratio": variants[7].sprue_ratio + 0.25})
    some, every = blocks_run(sample, with_rows(sample, variants), monkeypatch)
    assert (some, every > 2) == (1, True)


def test_figures_by_other_formulas_are_not_taken(sample: Resolved) -> None:
    """Under one name something else is asked: nothing of what was computed before tells what it comes to."""

    def making_cost(unit_cost) -> "variant":  # noqa: F821, UP037
        """Twice what a unit costs.

        Unit: cur
        Why: nobody asks for it but this test.
        """
        return unit_cost + unit_cost

    others = [each for each in cost_model_functions() if each.__name__ != "making_cost"]
    before = compute(sample)
    after = compute(sample, build([*others, making_cost]), before=before)
    assert after["making_cost"].tolist() == [2 * cost for cost in before["unit_cost"].tolist()]


def test_figures_that_were_not_kept_are_computed(sample: Resolved) -> None:
    before = compute(sample)
    some = dataclasses.replace(before, values={"unit_cost": before.values["unit_cost"]})
    same(compute(sample, before=some), before)


def test_a_workshop_without_variants_is_computed(sample: Resolved) -> None:
    computed = compute(with_rows(sample, [], []))
    assert computed["price"].shape == (0, len(sample.channels))
