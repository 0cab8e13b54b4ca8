"""Many worlds at once, each with figures of its own, are what running on from each world's columns gives."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.engine import Computed
from pricing.formulas.rerun import rerun_all
from pricing.formulas.worlds import Landing, Worlds
from pricing.studies.prices_out import at_prices
from tests.folders import tin_lane

DAY = date(2026, 11, 20)
WORLDS = 5


@pytest.fixture(scope="module")
def computed() -> Computed:
    """Held at other prices than those asked."""
    asked = cost(tin_lane(), asked_for(DAY)).computed
    return at_prices(asked, asked["price"] * 1.1)


@pytest.fixture(scope="module")
def doubted(computed) -> tuple[list[Landing], np.ndarray]:
    """A figure of the workshop itself, one of a step, one of a fee, a metal: by table another kind of place."""
    steps = np.nonzero(computed.values["good"] < 1)
    fees = np.nonzero(computed.values["fee_rate"] > 0)
    landings = [
        Landing("productive_hours", (), np.array(0)),
        Landing("good", steps, np.where(steps[0] % 2, 1, 2)),
        Landing("fee_rate", tuple(each[:1] for each in fees), np.array([3])),
        Landing("quote_price", (np.array([0]),), np.array([4])),
    ]
    chance = np.random.default_rng(5)
    ranges = ((60, 130), (0.7, 1), (0.8, 1), (0.01, 0.05), (5, 50))
    return landings, np.column_stack([chance.uniform(*each, WORLDS) for each in ranges])


def changed(computed: Computed, landings: list[Landing], figures: np.ndarray) -> dict[str, np.ndarray]:
    found = {}
    for name, places, which in landings:
        column = computed.values[name].copy()
        column[places] = figures[which]
        found[name] = column
    return found


@pytest.mark.parametrize("at_once", [1, 3, 64])
def test_each_world_is_what_a_run_of_its_own_gives(computed, doubted, at_once):
    landings, figures = doubted
    worlds = Worlds(computed, landings)
    worlds.at_once = at_once
    found = worlds.run(figures, ["unit_cost", "price", "required_price"], ["margin", "profit", "earned_per_hour"])
    assert len({float(each) for each in found["unit_cost"][:, 0]}) == WORLDS
    for world in range(WORLDS):
        columns = changed(computed, landings, figures[world])
        asked = rerun_all(computed, columns, ["unit_cost", "price", "required_price"])
        held = rerun_all(
            computed, {**columns, "price": computed.values["price"]}, ["margin", "profit", "earned_per_hour"]
        )
        for name, column in {**asked, **held}.items():
            np.testing.assert_array_equal(found[name][world], computed.shown(name, column), err_msg=name)


@pytest.mark.parametrize("at_once", [2, 64])
def test_what_no_figure_moves_is_told_once(computed, doubted, at_once):
    """Whether all worlds go through at once or in blocks."""
    landings, figures = doubted
    worlds = Worlds(computed, landings[2:3])
    worlds.at_once = at_once
    found = worlds.run(figures, ["unit_cost", "selling_fees"], ["net_sales", "profit"])
    assert [len(found[name]) for name in ("unit_cost", "net_sales", "profit")] == [1, 1, WORLDS]
    np.testing.assert_array_equal(found["unit_cost"][0], computed["unit_cost"])
    np.testing.assert_array_equal(found["net_sales"][0], computed["net_sales"])


def test_no_figure_at_all_is_the_workshop_as_it_stands(computed):
    found = Worlds(computed, []).run(np.zeros((3, 0)), ["unit_cost"], ["margin"])
    np.testing.assert_array_equal(found["margin"], computed["margin"][None])


@pytest.mark.parametrize("at_once", [1, 3, 64])
def test_of_a_limit_only_the_worlds_under_it_are_counted(computed, doubted, at_once):
    """Of what figures move and of what stands still, whose one world stands for all."""
    landings, figures = doubted
    worlds = Worlds(computed, landings)
    worlds.at_once = at_once
    wanted = (["unit_cost", "price"], ["profit", "list_tax"])
    whole = worlds.run(figures, *wanted)
    limits = {"profit": float(np.median(whole["profit"])), "unit_cost": whole["unit_cost"][2], "list_tax": 2.0}
    found = worlds.run(figures, *wanted, limits)
    np.testing.assert_array_equal(found["price"], whole["price"])
    for name, limit in limits.items():
        every = np.broadcast_to(whole[name], (WORLDS, *whole[name].shape[1:]))
        np.testing.assert_array_equal(found[name], (every < limit).sum(axis=0))
    assert 0 < found["profit"].sum() < whole["profit"].size and (found["list_tax"] == WORLDS).all()
