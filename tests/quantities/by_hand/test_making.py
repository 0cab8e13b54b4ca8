"""Metal, sizes, counts and sums, formula by formula, also at ties, tolerances and the ends of a range."""

from __future__ import annotations

import math

import pytest

from pricing.formulas.by_itself import by_itself

CALM = 1e-12  # far less than a tolerance of the model, far more than the noise of one operation


# ---- metal


@pytest.mark.parametrize(("payout", "fee", "price"), [(0.9, 1, 8), (0.9, 9, 0), (0.5, 6, 0), (0.5, 4.5, 0.5)])
@pytest.mark.parametrize("of", ["scrap", "lemel"])
def test_a_refiner_who_asks_more_than_it_is_worth_is_given_nothing(of, payout, fee, price):
    """Ten a gram: 0.9 x 10 - 1 = 8."""
    less = by_itself(f"{of}_less_fee_per_g")(scrap_value_per_g=10, **{f"{of}_payout": payout, f"{of}_fee_per_g": fee})
    found = by_itself(f"{of}_price_per_g")(**{f"{of}_less_fee_per_g": less})
    assert found == pytest.approx(price, abs=CALM)


@pytest.mark.parametrize(("returns", "limit", "reused"), [(30, 0.5, 30), (60, 0.5, 50), (30, 0, 0)])
def test_returns_go_back_as_far_as_the_charge_takes_them(returns, limit, reused):
    assert by_itself("reused_g")(returns_g=returns, return_limit=limit, charge_g=100) == reused


@pytest.mark.parametrize(
    ("cut", "bought", "loss", "limit"),
    [(False, False, 0.02, 0.4), (True, False, 0, 0), (False, True, 0, 0), (True, True, 0, 0)],
)
def test_what_is_cut_or_bought_is_not_melted(cut, bought, loss, limit):
    found = by_itself("melt_loss_in_force")(is_cut=cut, is_bought=bought, melt_loss=0.02)
    assert found == loss
    of = {"is_cut": cut, "is_bought": bought, "workshop_max_return_share": 0.4}
    assert by_itself("return_limit")(**of, max_return_share_stated=False, max_return_share=0.9) == limit
    assert by_itself("return_limit")(**of, max_return_share_stated=True, max_return_share=0.9) == (0.9 if limit else 0)


@pytest.mark.parametrize(
    ("step", "sets"),
    [
        ({"is_flask": True, "pieces_per_flask": 18.0}, 6.0),  # three castings to a set: 18 / 3
        ({"is_piece": True, "together": 12.0}, 4.0),  # 12 / 3
        ({"together": 5.0}, 5.0),  # five sets at once
    ],
)
def test_what_is_poured_at_once(step, sets):
    found = by_itself("step_poured_sets")(castings_per_set=3.0, is_metal_step=True, **step)
    assert found == pytest.approx(sets, rel=1e-12)
    assert by_itself("step_poured_sets")(castings_per_set=3.0, is_metal_step=False, **step) == 0


def test_the_charge_of_one_pour_and_of_a_good_set():
    """Six sets of 20 g: 120 g, 60 g of sprues and a button of 2 cm3 at 10 g: 200 g, and 250 g where a fifth is lost.

    A good set takes 1.25 of them poured: 25 g, its share of sprues 12.5 g and of buttons 20 × 1.25 / 6 = 4.1667 g.
    """
    own = {"is_cut": False, "is_bought": False, "step_poured_sets": [0.0, 6.0, 0.0]}
    castings = by_itself("one_pour_g")(as_cast_g=20.0, **own)
    sprued = {"sprue_ratio": 0.5, "button_cm3": 2.0, "density": 10.0}
    sprues = by_itself("one_pour_sprue_g")(one_pour_g=castings, flasks_per_set=1.25 / 6, **sprued)
    charge = by_itself("one_pour_charge_g")(one_pour_g=castings, one_pour_sprue_g=sprues, melt_loss_in_force=0.2)
    assert (castings, sprues, charge) == pytest.approx((120.0, 80.0, 250.0), rel=1e-12)
    assert by_itself("one_pour_sprue_g")(one_pour_g=castings, flasks_per_set=0.0, **sprued) == 60  # no flask, no button
    assert by_itself("one_pour_sprue_g")(one_pour_g=0.0, flasks_per_set=1.0, **sprued) == 0  # nothing hangs on a tree
    assert by_itself("one_pour_sprue_g")(one_pour_g=0.4, flasks_per_set=1.0, **sprued) == pytest.approx(0.2 + 20)
    assert by_itself("one_pour_g")(as_cast_g=20.0, **{**own, "is_cut": True}) == 0
    assert by_itself("one_pour_g")(as_cast_g=20.0, **{**own, "is_bought": True}) == 0
    of_two_kinds = {**own, "step_poured_sets": [2.0, 6.0, 0.0]}
    assert by_itself("one_pour_g")(as_cast_g=20.0, **of_two_kinds) == 160  # (2 + 6) × 20
    per_set = by_itself("sprue_g")(poured_g=25.0, flasks_per_set=1.25 / 6, **sprued)
    melted = by_itself("charge_g")(poured_g=25.0, sprue_g=per_set, melt_loss_in_force=0.2)
    assert melted == pytest.approx((25 + 12.5 + 20 * 1.25 / 6) / 0.8, rel=1e-12) == pytest.approx(charge * 1.25 / 6)


# ---- counts


@pytest.mark.parametrize(
    ("units", "whole"),
    [(0.25, 0.3), (0.3, 0.3), (0.3 + 5e-11, 0.3), (0.3 + 5e-10, 0.4)],  # 2.5, 3, 3 + 5e-10, 3 + 5e-9 in a run of ten
)
def test_a_run_fills_whole_flasks(units, whole):
    flask = {"units": units, "sets_in_run": 10}
    assert by_itself("whole_units")(is_made_whole=True, is_flask=True, **flask) == pytest.approx(whole, rel=1e-12)
    assert by_itself("whole_units")(is_made_whole=False, is_flask=True, **flask) == units
    assert by_itself("whole_units")(is_made_whole=True, is_flask=False, **flask) == units


@pytest.mark.parametrize(
    ("switches", "together", "times"),
    [
        ({}, 4, 0.25),  # 1 / 4
        ({"is_made_whole": True}, 4, 0.3),  # 10 / 4 = 2.5 loads: 3 for ten sets
        ({"is_made_whole": True}, 1, 1.0),  # one at a time
        ({"is_made_whole": True}, 0.5, 2.0),
        ({"is_made_whole": True, "is_flask": True}, 1, 1.1),  # 10.4 flasks: 11
        ({"is_flask": True}, 1, 1.0),
        ({"is_made_whole": True, "is_design": True}, 4, 0.25),
        ({"is_design": True, "design_charged": True}, 4, 0.025),  # once for the ten: 1 / 10 / 4
        ({"design_charged": True}, 4, 0.25),
    ],
)
def test_how_often_a_step_is_done(switches, together, times):
    off = dict.fromkeys(("is_design", "design_charged", "is_made_whole", "is_flask"), False)
    units = {"units": 1.0, "whole_units": 1.04 if switches.get("is_flask") else 1.0, "sets_in_run": 10}
    found = by_itself("times_if_done")(**{**off, **switches}, together=together, **units)
    assert found == pytest.approx(times, rel=1e-12)


@pytest.mark.parametrize(("loads", "times"), [(3 - 5e-10, 3), (3 + 5e-10, 3), (3 + 5e-9, 4)])
def test_loads_are_whole_but_for_noise(loads, times):
    found = by_itself("times_if_done")(
        is_design=False,
        design_charged=False,
        is_made_whole=True,
        is_flask=False,
        together=2,
        units=1,
        whole_units=2 * loads,
        sets_in_run=1,
    )
    assert found == times


@pytest.mark.parametrize(
    ("mass", "piece", "done"),
    [
        (20, False, True),
        (20 - 5e-10, False, True),  # within a thousand-millionth of a gram
        (20 - 5e-9, False, False),
        (19, False, False),
        (60, True, True),  # three castings of 20
        (59, True, False),
    ],
)
def test_a_step_from_a_mass_upward(mass, piece, done):
    found = by_itself("times")(times_if_done=2, is_piece=piece, finished_g=mass, castings_per_set=3, from_g=20)
    assert found == (2 if done else 0)


def test_what_a_credit_takes_off_is_not_in_the_cost_before_credits():
    """Lines of 1, 2, 4, 8, 16, 32, 64: each that is below 0 counts as nothing."""
    names = ("metal_cost", "labour_cost", "overhead_cost", "machine_cost", "material_cost", "fee_cost", "findings_cost")
    lines = {name: 2.0**place for place, name in enumerate(names)}
    before = by_itself("cost_before_credits")
    assert before(**lines) == 127
    for name, line in lines.items():
        assert before(**{**lines, name: -line}) == 127 - line


@pytest.mark.parametrize(
    ("solving", "bring", "price"),
    [
        (True, 10, 32.5),  # (10 + 2 + 1) / (0.5 - 0.1)
        (True, -2.9, 0.25),  # 0.1 / 0.4
        (True, -5, 0),  # even nothing is more than enough
        (False, 10, 0),
    ],
)
def test_the_solved_price_leaves_what_is_asked_and_is_never_below_nothing(solving, bring, price):
    found = by_itself("solved_price")(
        asks_solving=solving, to_bring=bring, standing_fees=2, flat_fees=1, keep_share=0.5, moving_fees=0.1
    )
    assert found == pytest.approx(price, rel=1e-12)


# ---- sums

OF_STEPS = {
    "poured_g": "step_poured_g", "flasks_per_set": "step_flasks", "removed_g": "step_removed_g",
    "caught_g": "step_caught_g", "rejected_g": "step_rejected_g", "reject_refined_g": "step_reject_refined_g",
    "reject_lost_g": "step_reject_lost_g", "hours_itself": "step_labour_hours", "labour_itself": "step_labour_cost",
    "own_hours_itself": "step_own_hours", "own_labour_itself": "step_own_cost",
    "overhead_itself": "step_overhead_cost", "machines_itself": "step_machine_cost",
    "materials_itself": "step_material_cost", "fees_itself": "step_fee_cost", "making_cost": "step_cost",
    "findings_metal_itself": "finding_metal_cost", "castings_per_set": "casting_count",
}  # fmt: skip


@pytest.mark.parametrize("name", OF_STEPS)
def test_every_line_is_counted(name):
    assert by_itself(name)(**{OF_STEPS[name]: [1, 2, 4]}) == 7


WITH_PARTS = {
    "metal_cost": ("metal_itself", "part_metal"), "labour_hours": ("hours_itself", "part_hours"),
    "labour_cost": ("labour_itself", "part_labour"), "own_labour_hours": ("own_hours_itself", "part_own_hours"),
    "own_labour_cost": ("own_labour_itself", "part_own_labour"),
    "overhead_cost": ("overhead_itself", "part_overhead"), "machine_cost": ("machines_itself", "part_machines"),
    "material_cost": ("materials_itself", "part_materials"), "fee_cost": ("fees_itself", "part_fees"),
    "findings_metal_cost": ("findings_metal_itself", "part_findings_metal"),
    "findings_cost": ("findings_itself", "part_findings"), "melt_value": ("melt_value_itself", "part_melt_value"),
    "total_g": ("grams_itself", "part_grams"),
}  # fmt: skip


@pytest.mark.parametrize("name", WITH_PARTS)
def test_a_whole_is_itself_and_every_part(name):
    itself, parts = WITH_PARTS[name]
    assert by_itself(name)(**{itself: 1, parts: [2, 4, 8]}) == 15


@pytest.mark.parametrize("pair", WITH_PARTS.values(), ids=lambda pair: pair[1])
def test_a_part_is_so_many_of_the_piece(pair):
    """Three of 5; of masses and of what melts, the three that stay, of costs, those that are begun."""
    itself, part = pair
    counted = "part_count" if part in ("part_melt_value", "part_grams") else "part_sets"
    assert by_itself(part)(**{counted: 3, f"piece_{itself}": 5}) == 15


@pytest.mark.parametrize(("joined", "sets"), [(True, 2.5), (False, 0)])
def test_what_of_a_part_goes_into_a_whole(joined, sets):
    """Ten are made for the first whole and four of these are made: 10 / 4."""
    assert by_itself("part_sets")(is_joined=joined, piece_run_share=10, run_share=4) == sets
    assert by_itself("part_count")(is_joined=joined, piece_set_count=10, set_count=4) == sets


def test_what_is_bought_ready_is_weighed_valued_and_paid():
    """Two kinds: 3 and 4 of value, 5 and 6 of price; 2 of 1.5 g metal and 0.5 g else, 3 of 1 g and 2 g."""
    assert by_itself("melt_value_itself")(finished_g=10, melt_value_per_g=2, finding_melt_value=[3, 4]) == 27
    assert by_itself("findings_itself")(finding_piece_cost=[5, 6], findings_metal_itself=7) == 18
    grams = by_itself("grams_itself")
    counted = {"finding_quantity": [2, 3], "finding_metal_g": [1.5, 1], "finding_other_g": [0.5, 2]}
    assert grams(finished_g=10, **counted) == 10 + 2 * 2 + 3 * 3
    of = {"finding_quantity": 2, "unreclaimed_tax": 0.25, "spoil": 0.1}
    # 2 x 3 with a quarter and a tenth more: 6 x 1.25 x 1.1
    assert by_itself("finding_piece_cost")(finding_price=3, **of) == pytest.approx(8.25, rel=1e-12)
    # 6 of metal with half as much again, a quarter and a tenth more
    metal = by_itself("finding_metal_cost")
    found = metal(finding_melt_value=6, finding_premium=0.5, unreclaimed_tax=0.25, spoil=0.1)
    assert found == pytest.approx(12.375, rel=1e-12)
    assert by_itself("finding_melt_value")(finding_quantity=2, finding_metal_g=1.5, melt_value_per_g=4) == 12


# ---- sizes


def test_a_size_is_as_long_as_its_middle():
    """52 mm inside and a band of 2 mm: 52 + 2 pi. The mean by what is sold: (1 x 50 + 3 x 54) / 4 = 53."""
    assert by_itself("size_length_mm")(inner_mm=52, band_mm=2) == pytest.approx(52 + 2 * math.pi, rel=1e-15)
    mean = by_itself("mean_length_mm")
    assert mean(size_sales=[1, 3], size_length_mm=[50, 54]) == 53
    assert mean(size_sales=[0.125, 0.375], size_length_mm=[50, 54]) == 53
    assert mean(size_sales=[0, 0], size_length_mm=[50, 54]) == 0


@pytest.mark.parametrize(
    ("inner", "share", "growth"),
    [
        (50, 1, 1.1),  # 55 where the pattern is 50
        (50, 0.5, 1.05),  # only half of it is band
        (0.5, 1, 110),  # a pattern in another scale
        (0, 1, 1),  # not drawn at a size
    ],
)
def test_a_piece_grows_with_its_band(inner, share, growth):
    found = by_itself("size_growth")(master_inner_mm=inner, band_mm=0, band_share=share, mean_length_mm=55)
    assert found == pytest.approx(growth, rel=1e-12)


def test_each_kind_of_use_goes_with_what_it_is_used_for():
    """Two doings x (1 + 10) + three flasks x (100 + 1000) + five sets begun x (4 + 8 + 16 + 32) = 22 + 3300 + 300."""
    uses = {"counted_use_cost": [1, 10], "powder_use_cost": [100, 1000],
            "sized_use_cost": [4, 8], "plated_use_cost": [16, 32]}  # fmt: skip
    cost = by_itself("step_material_cost")
    assert cost(times=2, whole_units=3, starts=5, is_design=False, **uses) == 3622
    assert cost(times=2, whole_units=3, starts=5, is_design=True, **uses) == 22 + 3300 + 2 * 60


# ---- runs and steps


@pytest.mark.parametrize(("run", "sets"), [(0, 1), (0.5, 1.5), (1, 3), (10, 30)])
def test_a_run_of_the_whole_is_so_many_sets_of_a_part(run, sets):
    """Three of the part for each whole; without a run, a set by itself."""
    assert by_itself("sets_in_run")(run_sets=run, run_share=3) == sets


@pytest.mark.parametrize(
    ("run", "shared", "whole"), [(10, False, True), (0.5, False, True), (10, True, False), (0, False, False)]
)
def test_what_is_made_whole(run, shared, whole):
    assert by_itself("is_made_whole")(run_sets=run, shared=shared) == whole


def test_links_multiply():
    """Two of a part of which three are in the whole, a tenth and a quarter spoilt: 2 x 1.1 x 3 x 1.25."""
    links = {"link_quantity": [2, 3]}
    assert by_itself("run_share")(**links, link_spoil=[0.1, 0.25]) == pytest.approx(8.25, rel=1e-15)
    assert by_itself("set_count")(**links) == 6


def test_a_step_costs_the_sum_of_its_lines():
    names = ("step_labour_cost", "step_overhead_cost", "step_machine_cost", "step_material_cost", "step_fee_cost")
    assert by_itself("step_cost")(**{name: 2.0**place for place, name in enumerate(names)}) == 1 + 2 + 4 + 8 + 16
