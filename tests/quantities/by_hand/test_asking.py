"""What to ask, formula by formula, also at ties, tolerances and the ends of a range."""

from __future__ import annotations

import pytest

from pricing.formulas.by_itself import by_itself
from pricing.words import REASONS

CALM = 1e-12  # far less than a tolerance of the model, far more than the noise of one operation


# ---- rounding and the ladder between prices


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


# ---- from cost to list price


def test_what_a_sale_must_leave_over():
    """Cost 20 and a markup of a half: 30. Earnings of 40 an hour for 0.5 and 0.25 hours, 30, of which 9 and 5 are paid:
    20 + 16. In a currency of which one costs 0.8, with 2 of order and 1.5 of postage: (30 + 2) / 0.8 - 1.5 = 38.5."""
    carry = by_itself("to_carry")
    own = {"own_labour_hours": 0.5, "own_order_hours": 0.25, "own_labour_cost": 9, "own_order_cost": 5}
    assert carry(unit_cost=20, asked_markup=0.5, asks_earnings=False, asked_earnings=40, **own) == 30
    assert carry(unit_cost=20, asked_markup=0, asks_earnings=True, asked_earnings=40, **own) == 36
    bring = by_itself("to_bring")
    assert bring(to_carry=30, order_cost=2, channel_rate=0.8, postage_received=1.5) == pytest.approx(38.5, rel=1e-15)
    assert by_itself("keep_share")(net_share=0.5, asked_margin=0.4) == pytest.approx(0.3, rel=1e-15)


def test_a_price_by_multiples():
    """Twice all of 30; or three times metal and findings, 4 + 1, and four times the work, 25."""
    multiplied = by_itself("multiplied_cost")
    cost = {"unit_cost": 30, "metal_cost": 4, "findings_metal_cost": 1}
    assert multiplied(unit_multiple=2, metal_multiple=0, work_multiple=0, **cost) == 60
    assert multiplied(unit_multiple=0, metal_multiple=3, work_multiple=4, **cost) == 3 * 5 + 4 * 25


@pytest.mark.parametrize(("fixed", "solving", "price"), [(True, False, 7), (False, True, 9), (False, False, 30)])
def test_what_a_policy_asks(fixed, solving, price):
    """Fixed at 7, solved to 9, or 20 of the workshop's: 20 / 0.8 with a fifth of tax, 30."""
    found = by_itself("own_required_price")(
        is_fixed=fixed,
        fixed_price=7,
        asks_solving=solving,
        solved_price=9,
        multiplied_cost=20,
        channel_rate=0.8,
        list_tax=1.2,
    )
    assert found == pytest.approx(price, rel=1e-15)


def test_a_price_that_follows_another_channels():
    """Half as much again as 20 of the workshop's, in a currency of 0.8 and with a fifth of tax: 30 / 0.8 x 1.2."""
    of = {"follow_multiple": 1.5, "followed_own_ex_tax_price": 20, "channel_rate": 0.8, "list_tax": 1.2}
    required = by_itself("required_price")
    assert required(follows=True, own_required_price=7, **of) == pytest.approx(45, rel=1e-15)
    assert required(follows=False, own_required_price=7, **of) == 7
    # 45 with tax there is 20 x 1.5 here
    own = by_itself("own_ex_tax_price")(own_rounded_price=45, list_tax=1.2, channel_rate=0.8)
    assert own == pytest.approx(30, rel=1e-15)


@pytest.mark.parametrize(("required", "least", "target"), [(12, 11, 12), (11, 12, 12), (0, 0, 0)])
def test_what_is_rounded_is_never_below_the_least_price(required, least, target):
    assert by_itself("own_target")(own_required_price=required, least_price=least) == target
    assert by_itself("target_price")(required_price=required, least_price=least) == target


@pytest.mark.parametrize(("fixed", "price"), [(True, 12.34), (False, 13)])
def test_a_fixed_price_is_not_rounded(fixed, price):
    of = {"is_fixed": fixed, "rounds_up": True, "least_price": 0, "ending": 0}
    assert by_itself("rounded_price")(required_price=12.34, target_price=12.34, target_step=1, **of) == price
    assert by_itself("own_rounded_price")(own_required_price=12.34, own_target=12.34, own_step=1, **of) == price


# ---- the ladder


@pytest.mark.parametrize(
    ("wholesale", "sold", "price"), [(True, True, 20), (True, False, 0), (False, True, 0), (False, False, 0)]
)
def test_what_the_ladder_stands_on(wholesale, sold, price):
    """30 with a fifth of tax, in a currency of 0.8: 30 / 1.2 x 0.8."""
    found = by_itself("wholesale_ex_tax_price")(
        is_wholesale=wholesale, sold=sold, rounded_price=30, list_tax=1.2, channel_rate=0.8
    )
    assert found == pytest.approx(price, rel=1e-15)


def test_the_keystone_is_so_many_times_the_highest_wholesale_price():
    """Twice 20, in a currency of 0.8 and with a fifth of tax: 40 / 0.8 x 1.2."""
    assert by_itself("highest_wholesale")(other_wholesale_ex_tax_price=[15, 20, 5]) == 20
    found = by_itself("keystone_price")(keystone=2, highest_wholesale=20, channel_rate=0.8, list_tax=1.2)
    assert found == pytest.approx(60, rel=1e-15)


@pytest.mark.parametrize("off", [None, "has_ladder", "is_wholesale", "sold", "is_fixed"])
def test_what_the_ladder_may_move(off):
    on = {"has_ladder": True, "is_wholesale": False, "sold": True, "is_fixed": False}
    if off:
        on[off] = not on[off]
    assert by_itself("is_on_ladder")(**on) == (off is None)


def test_a_price_lifted_by_the_keystone_is_rounded_up_and_another_stays():
    lifted = by_itself("laddered_price")
    of = {"keystone_price": 40.2, "keystone_step": 5, "ending": -0.05, "rounded_price": 38}
    assert lifted(is_lifted_by_keystone=True, **of) == pytest.approx(44.95, rel=1e-15)
    assert lifted(is_lifted_by_keystone=False, **of) == 38


def test_the_one_retail_price_is_the_highest_of_its_currency():
    assert by_itself("retail_price")(is_on_ladder=True, laddered_price=38) == 38
    assert by_itself("retail_price")(is_on_ladder=False, laddered_price=38) == 0
    highest = by_itself("highest_retail")
    assert highest(currency_mark=1, other_currency_mark=[1, 2, 1], other_retail_price=[30, 90, 35]) == 35
    assert highest(currency_mark=3, other_currency_mark=[1, 2, 1], other_retail_price=[30, 90, 35]) == 0
    price = by_itself("price")
    of = {"highest_retail": 35, "laddered_price": 30}
    assert price(is_on_ladder=True, one_retail_price=True, **of) == 35
    assert price(is_on_ladder=True, one_retail_price=False, **of) == 30
    assert price(is_on_ladder=False, one_retail_price=True, **of) == 30


@pytest.mark.parametrize(("required", "least", "price"), [(12.4, 0, 10), (11, 12, 15)])
def test_a_channels_own_price_is_rounded_as_the_price_is(required, least, price):
    """To the nearest five; a least price that decides, up."""
    found = by_itself("own_rounded_price")(
        is_fixed=False,
        own_required_price=required,
        rounds_up=False,
        least_price=least,
        own_target=max(required, least),
        own_step=5,
        ending=0,
    )
    assert found == price
