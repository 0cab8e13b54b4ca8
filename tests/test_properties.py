"""What stays true of the cost model for any workshop, on generated ones that have everything in them."""

from __future__ import annotations

import shutil
import tempfile
from dataclasses import replace
from datetime import date
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from pricing.costing import asked_for, cost
from pricing.formulas.columns import Columns, columns_of
from pricing.formulas.engine import Computed, run
from pricing.formulas.graph import Graph, cost_model
from pricing.formulas.rerun import part_of
from pricing.formulas.tables import INPUTS, TABLES
from pricing.records import COST_LINES, PART_QUANTITIES, variant_records
from tests.exact.workshop_writer import write
from tests.exact.workshops import workshops
from tests.folders import alder_wharf, tin_lane

GENERATED = settings(max_examples=25, suppress_health_check=list(HealthCheck), deadline=None)
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


@cache
def of_unit_cost() -> Graph:
    """The part of the cost model that a unit's cost follows from; prices are none of it."""
    return part_of(cost_model(), ("unit_cost",), cost_model().quantities.keys())


def unit_cost(columns: Columns) -> np.ndarray:
    return run(columns, of_unit_cost(), {"unit_cost"})["unit_cost"]


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
            ("premium", "stock_premium", "bought_premium", "fabrication_per_g", "stock_fabrication_per_g",
             "bought_fabrication_per_g", "unreclaimed_tax", "melt_loss", "metal_loss", "scrap_fee_per_g",
             "lemel_fee_per_g"), 0.0,
        ),
        good=1.0,
        scrap_payout=1.0,
        lemel_payout=1.0,
        pays_as_scrap=lambda _: columns.inputs["is_priced"],
    )  # fmt: skip
    got = run(columns, cost_model())
    worth = got["melt_value_itself"] - got["finding_melt_value"].sum(axis=-1)  # of its own metal, findings left out
    np.testing.assert_allclose(got["metal_itself"], worth, rtol=NOISE, atol=NOISE)


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
    whole = computed(workshop)
    columns = columns_of(whole.resolved)
    before = unit_cost(columns)
    np.testing.assert_array_equal(before, whole.values["unit_cost"])
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
    real = slice(0, -1)  # the last row is the idle one
    assert (after["unit_cost"][real] > before["unit_cost"][real]).all()


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
            elif (hours := got["own_labour_hours"][row] + got["own_order_hours"][row, column]) > 0:
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


# ---- pieces of pieces, sizes, another currency


def alder_wharf_with(root: Path, **files: str) -> dict[tuple[str, str], dict]:
    """Records of the workshop that has everything in it, with other files and further ones."""
    shutil.copytree(alder_wharf(), root)
    for name, text in files.items():
        (root / name).write_text(text, encoding="utf-8")
    made = variant_records(cost(root, asked_for(date(2026, 11, 20))).computed)
    return {(record["sku"], record["alloy"]): record for record in made}


def test_a_product_that_is_nothing_but_a_part_costs_what_the_part_costs_line_by_line(tmp_path):
    """Of the pendant, which has a part itself, and of two thirds of the studs in a set of nothing else."""
    processes = (alder_wharf() / "processes.toml").read_text(encoding="utf-8")
    alone = """
        sku = "alone"\nname = "Alone"\nalloys = ["sterling"]\nprocess = "bare"
        findings = [{ product = "fern-pendant", quantity = 1 }]
    """
    three = """
        sku = "three"\nname = "Three"\nalloys = ["sterling"]\nprocess = "bare"
        findings = [{ product = "fern-pendant", quantity = 2 }, { product = "drop-studs", quantity = 1 }]
    """
    found = alder_wharf_with(
        tmp_path / "folder",
        **{
            "processes.toml": "processes.bare = []\n" + processes,
            "products/alone.toml": alone,
            "products/three.toml": three,
        },
    )
    whole, (part,) = found["alone", "sterling"], found["alone", "sterling"]["parts"]
    for name in (*COST_LINES, "findings_metal_cost", "labour_hours", "melt_value", "total_g", "unit_cost"):
        assert whole[name] == pytest.approx(part[name], rel=NOISE), name
    assert part["unit_cost"] < found["fern-pendant", "sterling"]["unit_cost"]  # a part is not packed
    three, pendant, studs = found["three", "sterling"], *found["three", "sterling"]["parts"]
    for name in set(PART_QUANTITIES) - {"finished_g"}:
        assert three[name] == pytest.approx(2 * pendant[name] + studs[name], rel=NOISE), name


def test_pieces_that_are_parts_of_each_other_are_told_as_a_circle(tmp_path):
    from pricing.errors import Faults

    bail = (alder_wharf() / "products" / "fern-bail.toml").read_text(encoding="utf-8")
    into_each_other = bail.replace("sold_in = []", 'findings = [{ product = "fern-pendant", quantity = 1 }]')
    with pytest.raises(Faults, match="it is a part of itself: fern-bail -> fern-pendant -> fern-bail"):
        alder_wharf_with(tmp_path / "folder", **{"products/fern-bail.toml": into_each_other})


def test_the_mean_of_the_sizes_costs_is_the_cost_at_the_mean(tmp_path):
    """Sold 1, 3, 3, 2 and 0.5; of sterling, where no size reaches the 7.78 g from which the step by mass is done."""
    ring = alder_wharf_with(tmp_path / "folder")["reed-ring", "sterling"]
    sales = (1, 3, 3, 2, 0.5)
    mean = sum(weight * size["unit_cost"] for weight, size in zip(sales, ring["sizes"], strict=True)) / sum(sales)
    assert mean == pytest.approx(ring["unit_cost"], rel=NOISE)


def test_a_channel_in_another_currency_asks_what_it_would_ask_at_home(tmp_path):
    """All that the channel states in dollars, restated in pounds at 0.765, asks 0.765 of it before rounding."""
    text = (alder_wharf() / "channels.toml").read_text(encoding="utf-8")
    rate = 0.765
    at_home = text.replace('currency = "USD"\n', "")
    for stated, times in (("charged = 12.00", 12), ("charged = 24.00", 24), ("fixed = 0.30", 0.3),
                          ("least_price = 28.00", 28)):  # fmt: skip
        assert text.count(stated) == 1
        at_home = at_home.replace(stated, f"{stated.split(' ')[0]} = {times * rate}")
    abroad = alder_wharf_with(tmp_path / "abroad")
    restated = alder_wharf_with(tmp_path / "restated", **{"channels.toml": at_home})
    for key, record in abroad.items():
        if "abroad" in record["prices"]:
            there, here = (each[key]["prices"]["abroad"]["required_price"] for each in (abroad, restated))
            assert there * rate == pytest.approx(here, rel=NOISE), key
