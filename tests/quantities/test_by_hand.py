"""Formulas by themselves, at the places where a small mistake would hide: ties, tolerances, the ends of a range."""

from __future__ import annotations

import pytest

from pricing.formulas.by_itself import by_itself
from pricing.words import REASONS

CALM = 1e-12  # far less than a tolerance of the model, far more than the noise of one operation


def rounded(required, step, ending=0.0, least=0.0, up=False):
    """A price by rounding alone; `least` is the channel's least price."""
    return by_itself("rounded_price")(
        is_fixed=False,
        required_price=required,
        rounds_up=up,
        least_price=least,
        target_price=max(required, least),
        target_step=step,
        ending=ending,
    )


@pytest.mark.parametrize(
    ("required", "step", "ending", "price"),
    [
        (12.4, 5, 0, 10),  # 2.48 steps
        (12.5, 5, 0, 15),  # 2.5: a half goes up
        (12.5 - 2.5e-9, 5, 0, 15),  # 2.4999999995: within 1e-9 of a half
        (12.5 - 1e-8, 5, 0, 10),  # 2.499999998: below it by more
        (17.4, 5, -0.05, 14.95),  # (17.4 + 0.05) / 5 = 3.49 steps
        (17.5, 5, -0.05, 19.95),  # 3.51
        (0.4, 1, 0, 0),  # nothing is a price
        (0.5, 5, -0.05, 4.95),  # no step would be -0.05: the first that is not negative
        (0.01, 5, -7, 3),  # nor -7 nor -2: two steps make 3
        (2.0, 5, 1, 1),  # 0.2 steps above the ending
    ],
)
def test_to_the_nearest_price_of_the_form_and_never_below_nothing(required, step, ending, price):
    assert rounded(required, step, ending) == pytest.approx(price, abs=CALM)


@pytest.mark.parametrize(
    ("required", "step", "ending", "price"),
    [
        (12.0, 1, 0, 12),  # stands on a step already
        (12 + 5e-10, 1, 0, 12),  # above it by less than 1e-9 of the currency
        (12 + 5e-9, 1, 0, 13),  # by more
        (12.01, 5, 0, 15),
        (10.0, 5, -0.05, 14.95),  # 9.95 is less than what is asked
        (9.95, 5, -0.05, 9.95),
    ],
)
def test_up_to_the_next_price_of_the_form(required, step, ending, price):
    assert rounded(required, step, ending, up=True) == pytest.approx(price, abs=CALM)


@pytest.mark.parametrize(
    ("required", "least", "price"),
    [
        (11, 12, 15),  # the least price decides and is never rounded down: 12 to 15, where the nearest is 10
        (12, 12, 10),  # it asks no more than the policy: the nearest
        (12, 12 + 5e-10, 10),  # more by noise only
        (12, 12 + 2e-9, 15),  # more by more than that
        (12, 11, 10),
    ],
)
def test_a_least_price_is_rounded_up_where_it_decides(required, least, price):
    assert rounded(required, 5, least=least) == pytest.approx(price, abs=CALM)


def test_the_price_of_nothing_stands_at_nothing_though_the_steps_are_noisy():
    """Seven steps of 0.30 below an ending of -2.10 is 0; in floats 2.1 / 0.3 is a little more than 7."""
    assert 2.1 / 0.3 > 7
    assert rounded(0, 0.3, -2.1) == pytest.approx(0, abs=CALM)


@pytest.mark.parametrize(
    ("amount", "step"),
    [
        (19.99, 0.5),
        (20 - 5e-9, 0.5),  # below the bound by more than 1e-9
        (20 - 5e-10, 1),  # by less: it is reached
        (20, 1),  # the first step is for what is below 20
        (99.99, 1),
        (100, 5),
        (1000, 5),
    ],
)
@pytest.mark.parametrize("of", ["target", "keystone", "own"])
def test_the_step_is_the_first_whose_bound_is_above_the_amount(of, amount, step):
    """Halves below 20, ones below 100, then fives."""
    name = "own_target" if of == "own" else f"{of}_price"
    found = by_itself(f"{of}_step")(
        **{name: amount},
        applies_below_stated=[True, True, False],
        applies_below=[20, 100, 0],
        step_position=[0, 1, 2],
        step_size=[0.5, 1, 5],
    )
    assert found == step


@pytest.mark.parametrize(("price", "lifted"), [(40, False), (40 - 5e-10, False), (40 - 5e-9, True), (39, True)])
def test_the_ladder_lifts_what_stands_below_it_by_more_than_noise(price, lifted):
    by_keystone = by_itself("is_lifted_by_keystone")
    assert by_keystone(is_on_ladder=True, rounded_price=price, keystone_price=40) == lifted
    assert not by_keystone(is_on_ladder=False, rounded_price=price, keystone_price=40)
    to_one = by_itself("is_lifted_to_one_price")
    assert to_one(is_on_ladder=True, one_retail_price=True, laddered_price=price, highest_retail=40) == lifted
    assert not to_one(is_on_ladder=True, one_retail_price=False, laddered_price=price, highest_retail=40)
    assert not to_one(is_on_ladder=False, one_retail_price=True, laddered_price=price, highest_retail=40)


@pytest.mark.parametrize(
    ("fixed", "to_one", "keystone", "least", "reason"),
    [
        (True, True, True, 99, "fixed"),
        (False, True, True, 99, "one_retail_price"),
        (False, False, True, 99, "keystone"),
        (False, False, False, 99, "least_price"),
        (False, False, False, 50 + 2e-9, "least_price"),
        (False, False, False, 50 + 5e-10, "policy"),  # more than what is required by noise only
        (False, False, False, 0, "policy"),
    ],
)
def test_the_weightiest_reason_is_told(fixed, to_one, keystone, least, reason):
    found = by_itself("binds")(
        is_fixed=fixed,
        is_lifted_to_one_price=to_one,
        is_lifted_by_keystone=keystone,
        least_price=least,
        required_price=50,
    )
    assert REASONS[int(found)] == reason


# ---- whether a price can be had


@pytest.mark.parametrize(
    ("asks_solving", "kept_share", "fees", "room"),
    [
        (True, 0.6, 0.2, True),  # 0.40 of every unit is left
        (True, 0.6, 0.599, True),  # 0.001
        (True, 0.6, 0.6, False),  # nothing
        (True, 0.6, 0.7, False),
        (True, 0.1, 0.05, True),
        (False, 0.6, 0.7, True),  # a stated price asks nothing
    ],
)
def test_fees_leave_room_while_a_higher_price_brings_more(asks_solving, kept_share, fees, room):
    slope = by_itself("kept_slope")(keep_share=kept_share, running_fees=fees)
    assert by_itself("leaves_room")(asks_solving=asks_solving, kept_slope=slope) == room


@pytest.mark.parametrize(
    ("asks_earnings", "piece", "order", "hours"),
    [(True, 0, 0, False), (True, 0.5, 0, True), (True, 0, 0.25, True), (True, 0.25, 0.25, True), (False, 0, 0, True)],
)
def test_what_takes_no_time_can_earn_nothing_an_hour(asks_earnings, piece, order, hours):
    found = by_itself("has_hours")(asks_earnings=asks_earnings, own_labour_hours=piece, own_order_hours=order)
    assert found == hours


@pytest.mark.parametrize(
    ("room", "hours", "own"), [(True, True, True), (True, False, False), (False, True, False), (False, False, False)]
)
def test_a_price_needs_room_and_an_hour(room, hours, own):
    assert by_itself("own_can_be_had")(leaves_room=room, has_hours=hours) == own


@pytest.mark.parametrize(
    ("own", "follows", "followed", "had"),
    [
        (True, False, False, True),  # what is followed by nobody is not asked about
        (True, True, True, True),
        (True, True, False, False),
        (False, False, True, False),
        (False, True, True, False),
    ],
)
def test_who_follows_a_price_needs_one_there(own, follows, followed, had):
    found = by_itself("can_be_had")(own_can_be_had=own, follows=follows, followed_own_can_be_had=followed)
    assert found == had


# ---- orders


@pytest.mark.parametrize(
    ("order", "passed"),
    [(99, 0), (100, 0), (100 + 5e-10, 0), (100 + 5e-9, 1), (250, 1), (251, 2)],  # up to 100 g, up to 250 g
)
def test_a_tier_is_for_what_weighs_no_more(order, passed):
    assert by_itself("tiers_passed")(order_g=order, up_to_g=[100, 250, 0]) == passed  # the third is none


@pytest.mark.parametrize(("passed", "charged", "cost"), [(0, 4, 3), (1, 6, 5), (2, 20, 16), (3, 20, 16)])
def test_beyond_the_last_tier_postage_is_the_channels(passed, charged, cost):
    """Two tiers: 4 and 6 charged, 3 and 5 paid; beyond them 20 and 16."""
    tier = {"tiers_passed": passed, "tiers": 2, "tier_position": [0, 1, -1]}
    assert by_itself("order_postage_charged")(**tier, tier_charged=[4, 6, 0], postage_charged=20) == charged
    assert by_itself("order_postage_cost")(**tier, tier_cost=[3, 5, 0], postage_cost=16) == cost


def test_tiers_are_counted():
    assert by_itself("tiers")(up_to_g=[0.5, 250, 0]) == 2


# ---- fees


@pytest.mark.parametrize(
    ("slope", "from_here", "to_here"),
    [
        (0.1, 20, 80),  # (3 - 1) / 0.1 and (9 - 1) / 0.1
        (0.5, 4, 16),
        (0, -1e15, 1e15),  # a fee that does not grow runs nowhere
    ],
)
def test_where_a_fee_begins_and_ceases_to_run(slope, from_here, to_here):
    fee = {"fee_start": 1, "fee_slope": slope}
    assert by_itself("runs_from")(fee_low=3, **fee) == pytest.approx(from_here, rel=1e-12)
    assert by_itself("runs_to")(fee_high=9, **fee) == pytest.approx(to_here, rel=1e-12)


@pytest.mark.parametrize(("start", "stands"), [(1, 3), (5, 5), (12, 9)])
def test_what_stands_of_a_fee_that_does_not_grow_is_held(start, stands):
    limits = {"fee_start": start, "fee_low": 3, "fee_high": 9}
    assert by_itself("fee_standing")(fee_slope=0, **limits) == stands
    assert by_itself("fee_standing")(fee_slope=0.01, **limits) == start


@pytest.mark.parametrize(
    ("bring", "standing", "moving"),
    [(7, 6, 0), (9, 3, 0.3), (10, 3, 0.3), (33, 3, 0.3), (35, 18, 0), (60, 18, 0)],
)
def test_fees_at_their_least_running_and_at_their_most(bring, standing, moving):
    """Two fees alike but for their size. Where they begin to run a sale keeps 0.5 x 20 - 2 = 8; where they cease,
    0.5 x 80 - 6 = 34. At their least they are 2 + 4, running 1 + 2 and 0.1 + 0.2 of the price, at their most 6 + 12."""
    fees = {"runs_from": [20, 20], "fees_at_runs_from": [2, 2], "runs_to": [80, 80], "fees_at_runs_to": [6, 6]}
    of = {"to_bring": bring, "keep_share": 0.5, **fees}
    assert by_itself("standing_fees")(**of, fee_low=[2, 4], fee_high=[6, 12], fee_standing=[1, 2]) == standing
    assert by_itself("moving_fees")(**of, fee_slope=[0.1, 0.2]) == pytest.approx(moving, rel=1e-12)


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
