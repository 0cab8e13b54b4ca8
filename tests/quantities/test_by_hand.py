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
