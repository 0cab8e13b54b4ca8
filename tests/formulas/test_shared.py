"""Runs of columns that are partly the same arrays share what comes of those, and come to the very same bits."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from itertools import product

import numpy as np
import pytest

from pricing.costing import Asked, cost
from pricing.formulas import engine
from pricing.formulas.engine import run
from pricing.formulas.graph import cost_model
from pricing.formulas.shared import Shared
from tests.folders import alder_wharf, tin_lane

#: An input each of metals, of labour and of variants.
MOVED = ("quote_price", "wage", "sprue_ratio")


@pytest.fixture(scope="module", params=[tin_lane, alder_wharf])
def mixtures(request):
    """The columns of a workshop with each of three inputs as it is or half as much again: eight mixtures."""
    columns = cost(request.param(), Asked(date(2026, 11, 20))).computed.columns
    after = {name: columns.inputs[name] * 1.5 for name in MOVED}
    return [
        replace(columns, inputs={**columns.inputs, **{name: after[name] for name in MOVED if name in chosen}})
        for chosen in (
            {name for name, moved in zip(MOVED, each, strict=True) if moved} for each in product((0, 1), repeat=3)
        )
    ]


@pytest.mark.parametrize("room", [2**28, 100_000, 0])
@pytest.mark.parametrize("block_rows", [40, 16_384])
def test_mixtures_come_to_the_same_bits_as_each_by_itself(mixtures, room, block_rows):
    """Whether there is room for all of what they share, for some or for none."""
    graph, shared = cost_model(), Shared(room)
    for columns in mixtures:
        alone = run(columns, graph, None, block_rows)
        together = run(columns, graph, None, block_rows, shared=shared)
        assert list(alone) == list(together)
        assert [name for name in alone if alone[name].tobytes() != together[name].tobytes()] == []


def test_what_nothing_moves_is_computed_once(mixtures, monkeypatch):
    done: dict[str, int] = {}
    plain = engine._Plan.__call__

    def counted(plan, *given):
        done[plan.name] = done.get(plan.name, 0) + 1
        return plain(plan, *given)

    monkeypatch.setattr(engine._Plan, "__call__", counted)
    shared = Shared()
    for columns in mixtures:
        run(columns, cost_model(), ["unit_cost", "price"], shared=shared)
    assert done["unit_cost"] == 8  # of quotes, wages and sprues: in each of 2³ mixtures another
    assert min(done.values()) == 1
    once = [name for name, times in done.items() if times == 1]
    assert len(once) > 20 and {times for times in done.values()} <= {1, 2, 4, 8}


def test_an_array_of_the_same_figures_is_not_taken_for_another():
    shared = Shared()
    first, second = np.arange(3.0), np.arange(3.0)
    made = [shared.taken("twice", [each], lambda each=each: each * 2) for each in (first, second, first)]
    assert made[0] is made[2] and made[0] is not made[1]
    assert shared.taken("thrice", [first], lambda: first * 3).tolist() == [0, 3, 6]
