"""What stays true of the cost model for any workshop (cost model, section 6), on generated ones."""

from __future__ import annotations

import tempfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from pricing.costing import asked_for, cost
from pricing.formulas.columns import Columns, columns_of
from pricing.formulas.engine import Computed, run
from pricing.formulas.graph import cost_model
from pricing.formulas.tables import INPUTS, TABLES
from tests.exact.workshop_writer import write
from tests.exact.workshops import workshops
from tests.folders import tin_lane

GENERATED = settings(max_examples=40, suppress_health_check=list(HealthCheck), deadline=None)
NOISE = 1e-9


def computed(workshop, run_sets=None) -> Computed:
    with tempfile.TemporaryDirectory() as directory:
        return cost(write(workshop, Path(directory)), asked_for(workshop.as_of, run_sets)).computed


def changed(columns: Columns, **change) -> Columns:
    """The columns with some inputs put through a function (or, not callable, set)."""
    inputs = dict(columns.inputs)
    for name, how in change.items():
        inputs[name] = how(inputs[name]) if callable(how) else np.full_like(inputs[name], how)
    return replace(columns, inputs=inputs)


def unit_cost(columns: Columns) -> np.ndarray:
    return run(columns, cost_model(), {"unit_cost"})["unit_cost"]


@GENERATED
@given(workshop=workshops())
def test_no_metal_appears_or_vanishes(workshop):
    got = computed(workshop)
    where_it_goes = sum(got[name] for name in ("finished_g", "removed_g", "melt_lost_g", "surplus_g", "reject_lost_g"))
    np.testing.assert_allclose(got["fresh_g"], where_it_goes, rtol=NOISE)


@GENERATED
@given(workshop=workshops())
def test_without_losses_and_charges_metal_costs_what_it_is_worth(workshop):
    columns = columns_of(computed(workshop).resolved)
    columns = changed(
        columns,
        **dict.fromkeys(
            ("premium", "stock_premium", "fabrication_per_g", "stock_fabrication_per_g", "unreclaimed_tax", "melt_loss",
             "metal_loss", "scrap_fee_per_g", "lemel_fee_per_g"), 0.0,
        ),
        good=1.0,
        scrap_payout=1.0,
        lemel_payout=1.0,
        pays_as_scrap=lambda _: columns.inputs["is_priced"],
    )  # fmt: skip
    got = run(columns, cost_model())
    np.testing.assert_allclose(got["metal_cost"], got["melt_value"], rtol=NOISE, atol=NOISE)


RISES = {
    "melt_loss": lambda column: column + 0.5 * (1 - column) * (column < 0.9) * 0.1,
    "wage": lambda column: column * 1.3,
    "on_cost": lambda column: column + 0.1,
    "premium": lambda column: column + 0.07,
    "stock_premium": lambda column: column + 0.07,
    "fabrication_per_g": lambda column: column + 0.2,
    "quote_price": lambda column: column * 1.4,
    "exchange_rate": lambda column: column * 1.4,
    "good": lambda column: column * 0.9,
    "unreclaimed_tax": lambda column: column + 0.1,
    "step_minutes": lambda column: column * 1.5,
    "step_fee": lambda column: column * 1.5,
    "price_per_kwh": lambda column: column * 1.5,
    "pack_price": lambda column: column * 1.5,
}
FALLS = {
    "scrap_payout": lambda column: np.minimum(1, column + 0.1),
    "lemel_payout": lambda column: np.minimum(1, column + 0.1),
    "caught": lambda column: np.minimum(1, column + 0.2),
    "scrap_fee_per_g": lambda column: column * 0.5,
    "expected_sales": lambda column: column * 2,
}


@GENERATED
@given(workshop=workshops())
def test_a_dearer_world_never_makes_a_piece_cheaper(workshop):
    columns = columns_of(computed(workshop).resolved)
    before = unit_cost(columns)
    room = NOISE * np.maximum(1, np.abs(before))
    for name, how in RISES.items():
        assert (unit_cost(changed(columns, **{name: how})) >= before - room).all(), name
    for name, how in FALLS.items():
        assert (unit_cost(changed(columns, **{name: how})) <= before + room).all(), name


def test_metal_taken_off_and_not_caught_is_paid_for():
    """More is cut away from a larger casting, so that the finished mass stays."""
    columns = changed(columns_of(cost(tin_lane(), asked_for(date(2026, 11, 20))).computed.resolved), caught=0.0)
    before = run(columns, cost_model())
    more = changed(columns, metal_loss=lambda column: np.where(column > 0, column + 0.02, 0))
    share = before["finished_share"] / run(more, cost_model())["finished_share"]
    more = changed(more, **dict.fromkeys(("volume_cm3", "model_g"), lambda column: column * share[:, None]))
    after = run(more, cost_model())
    np.testing.assert_allclose(after["finished_g"], before["finished_g"], rtol=NOISE)
    assert (after["unit_cost"] > before["unit_cost"]).all()


@GENERATED
@given(workshop=workshops())
def test_the_solved_price_brings_what_was_asked(workshop):
    got = computed(workshop)
    columns = columns_of(got.resolved)
    stands = changed(
        columns, is_fixed=True, follows=False, has_ladder=False, fixed_price=lambda _: got.values["required_price"]
    )
    brought = run(stands, cost_model())
    for row, variant in enumerate(got.resolved.variants):
        for column, price in enumerate(variant.prices):
            if not price.asks_solving or got["required_price"][row, column] == 0:
                continue
            profit = brought["profit"][row, column]
            if price.policy_kind == "margin":
                assert profit == pytest.approx(
                    price.asked_margin * brought["net_sales"][row, column], rel=NOISE, abs=NOISE
                )
            elif price.policy_kind == "markup":
                assert profit == pytest.approx(price.asked_markup * got["unit_cost"][row], rel=NOISE, abs=NOISE)
            elif (hours := got["labour_hours"][row] + got["order_hours"][column]) > 0:
                earned = brought["earned_per_hour"][row, column]
                assert earned * hours == pytest.approx(price.asked_earnings * hours, rel=NOISE, abs=NOISE)


MONEY = {"cur", "cur/g", "cur/h", "cur/kWh", "quoted"}


@GENERATED
@given(workshop=workshops())
def test_costs_double_when_every_money_figure_doubles(workshop):
    columns = columns_of(computed(workshop).resolved)
    doubled = changed(
        columns, **{known.name: lambda column: column * 2 for known in INPUTS.values() if known.unit in MONEY}
    )
    once, twice = run(columns, cost_model()), run(doubled, cost_model())
    costs = [
        name for name, quantity in cost_model().quantities.items()
        if quantity.unit == "cur" and TABLES[quantity.table].axes[:1] == ("variant",) and quantity.table != "price"
    ]  # fmt: skip
    assert len(costs) > 15
    for name in costs:
        np.testing.assert_allclose(twice[name], 2 * once[name], rtol=NOISE, atol=NOISE, err_msg=name)


@GENERATED
@given(workshop=workshops())
def test_a_run_is_never_below_the_steady_state_and_tends_to_it(workshop):
    columns = columns_of(computed(workshop).resolved)
    columns = changed(columns, design_charged=False, run_sets=0.0)
    steady = unit_cost(columns)
    room = 1e-8 * np.maximum(1, np.abs(steady))
    for sets in (1, 7, 100):
        assert (unit_cost(changed(columns, run_sets=float(sets))) >= steady - room).all()
    np.testing.assert_allclose(unit_cost(changed(columns, run_sets=1e9)), steady, rtol=1e-5, atol=1e-5)
