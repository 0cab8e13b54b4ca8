"""The repricing policy, one price at a time, with the arithmetic in sight."""

from __future__ import annotations

import math
from datetime import date

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.by_itself import by_itself
from pricing.model.channel import Channel
from pricing.resources import sample_catalog
from pricing.studies.repricing.deciding import REASONS, Grid, decide, terms_of


def grid(step: float = 1.0, ending: float = 0.0, below: float | None = None, small: float = 1.0) -> Grid:
    """Prices in steps, from `ending`; below `below` in steps of `small`."""
    sizes = [small, step] if below else [step]
    return Grid(
        ending=np.array([ending]),
        applies_below_stated=np.array([[True, False] if below else [False]]),
        applies_below=np.array([[below, 0.0] if below else [0.0]]),
        step_position=np.array([[0.0, 1.0] if below else [0.0]]),
        step_size=np.array([sizes]),
        step_for=by_itself("target_step"),
        lifted=by_itself("laddered_price"),
    )


def decided(held, asked, earned, would_earn, days=1000.0, fixed=False, on=None, **reprice):
    """Where one price goes and why, by a policy."""
    stated = {"audience": "retail", "policy": {"margin": 0.4}}
    terms = terms_of([Channel.model_validate({**stated, "reprice": reprice} if reprice else stated)])
    arrays = [np.array([float(each)]) for each in (held, asked, earned, would_earn, days)]
    found = decide(*arrays, np.array([fixed]), terms, on or grid())
    return float(found.to[0]), REASONS[int(found.reason[0])]


BAND = {"keep_within": 0.04, "falling": 0.08}


@pytest.mark.parametrize(
    ("held", "asked", "earned", "would_earn", "to", "reason"),
    [
        (100, 100, 0.39, 0.39, 100, "same"),
        (100, 106, 0.37, 0.40, 100, "within"),  # 3 points below what is asked
        (100, 108, 0.36, 0.40, 100, "within"),  # 4: exactly the band
        (100, 109, 0.359, 0.40, 109, "beyond"),  # 4.1
        (100, 92, 0.47, 0.40, 100, "within"),  # 7 above: prices come down more slowly
        (100, 91, 0.48, 0.40, 100, "within"),
        (100, 90, 0.481, 0.40, 90, "beyond"),
    ],
)
def test_a_price_is_held_while_its_margin_is_within_the_band(held, asked, earned, would_earn, to, reason):
    assert decided(held, asked, earned, would_earn, **BAND) == (to, reason)


def test_prices_side_by_side_are_decided_each_by_itself():
    """In steps of 20, by a tenth at most: 110 lies between two steps for 100, 220 on one for 200, 440 for 400.

    Who earns below 0.25 goes one step up all the same; who earns 0.30 waits; who may go all the way goes.
    """
    terms = terms_of([Channel.model_validate({
        "audience": "retail", "policy": {"margin": 0.4},
        "reprice": {"largest_step": 0.1, "least_margin": 0.25, **BAND},
    })])  # fmt: skip
    columns = ([100, 200, 100, 400], [150, 220, 150, 440], [0.2, 0.3, 0.3, 0.2], [0.4] * 4, [1000] * 4)
    held, asked, earned, would_earn, days = (np.array(column, dtype=float)[:, None] for column in columns)
    found = decide(held, asked, earned, would_earn, days, np.zeros((4, 1), dtype=bool), terms, grid(20))
    assert found.to[:, 0].tolist() == found.could[:, 0].tolist() == [120, 220, 100, 440]
    assert [REASONS[each] for each in found.reason[:, 0]] == ["below_least", "beyond", "too_coarse", "below_least"]


def test_without_falling_the_band_is_the_same_both_ways():
    assert decided(100, 92, 0.45, 0.40, keep_within=0.04) == (92, "beyond")
    assert decided(100, 92, 0.44, 0.40, keep_within=0.04) == (100, "within")


def test_without_a_policy_every_difference_is_a_change():
    assert decided(100, 100.01, 0.3999, 0.40) == (100.01, "policy")
    assert decided(100, 99, 0.41, 0.40, days=0) == (99, "policy")


def test_a_fixed_price_is_the_maker_s_own_word():
    assert decided(100, 300, 0.4, 0.8, days=0, fixed=True, largest_step=0.1, days_between=90, **BAND) == (300, "fixed")


@pytest.mark.parametrize(("days", "to", "reason"), [(13, 100, "waits"), (14, 120, "beyond")])
def test_it_does_not_move_again_within_days_between(days, to, reason):
    assert decided(100, 120, 0.30, 0.40, days, days_between=14, **BAND) == (to, reason)


@pytest.mark.parametrize(("earned", "to", "reason"), [(0.15, 100, "waits"), (0.149, 120, "below_least")])
def test_below_least_margin_it_moves_at_once(earned, to, reason):
    assert decided(100, 120, earned, 0.40, days=1, least_margin=0.15, days_between=14, **BAND) == (to, reason)


def test_below_least_margin_it_moves_however_small_the_gap():
    assert decided(100, 101, 0.149, 0.16, least_margin=0.15, **BAND) == (101, "below_least")


def test_below_least_margin_it_never_comes_down():
    """The policy asks less than the least margin, and less than the price in force."""
    assert decided(100, 95, 0.10, 0.06, least_margin=0.15, **BAND) == (100, "asks_less")


@pytest.mark.parametrize(
    ("held", "asked", "to"),
    [(100, 130, 110), (100, 110, 110), (104, 130, 114), (100, 70, 90), (104, 70, 94)],
)
def test_it_moves_by_a_largest_step_at_most_and_to_a_price_of_its_rule(held, asked, to):
    """A tenth of 104 is 10.40: 114.40 at most, and 114 is the last whole price before it; 93.60, and 94."""
    gap = {"earned": 0.30, "would_earn": 0.40} if asked > held else {"earned": 0.50, "would_earn": 0.40}
    assert decided(held, asked, **gap, largest_step=0.1, **BAND) == (to, "beyond")


def test_the_step_is_that_of_the_price_it_stops_at():
    """A tenth more than 19.50 is 21.45: from 20 on prices go by whole pounds, so 21; below 20 by halves."""
    rule = grid(step=1.0, below=20.0, small=0.5)
    assert decided(19.5, 30, 0.3, 0.4, on=rule, largest_step=0.1, **BAND) == (21, "beyond")
    assert decided(17.0, 30, 0.3, 0.4, on=rule, largest_step=0.1, **BAND) == (18.5, "beyond")  # 18.70 at most


def test_an_ending_is_kept():
    """112.50 at most; prices end in 0.90, so 111.90."""
    assert decided(100.9, 130, 0.3, 0.4, on=grid(ending=0.9), largest_step=0.115, **BAND)[0] == pytest.approx(111.9)


def test_where_one_rounding_step_is_more_than_largest_step_it_is_held_and_told():
    """A twentieth of 10 is 0.50, and the next price is 11."""
    assert decided(10, 14, 0.30, 0.40, largest_step=0.05, **BAND) == (10, "too_coarse")


def test_below_least_margin_it_moves_by_one_rounding_step_all_the_same():
    assert decided(10, 14, 0.10, 0.40, largest_step=0.05, least_margin=0.15, **BAND) == (11, "below_least")
    assert decided(10, 10.5, 0.10, 0.12, largest_step=0.01, least_margin=0.15, **BAND) == (10.5, "below_least")


def test_a_price_that_has_no_margin_moves_to_what_is_asked():
    assert decided(0, 10, math.nan, 0.40, **BAND) == (10, "beyond")


def test_downwards_too_a_step_may_be_too_coarse():
    """A twentieth below 10 is 9.50, and the first whole price that is not below that is 10."""
    assert decided(10, 6, 0.50, 0.40, largest_step=0.05, **BAND) == (10, "too_coarse")


def test_what_is_less_than_noise_is_no_difference():
    assert decided(100, 100 + 5e-10, 0.30, 0.40, **BAND) == (100, "same")
    assert decided(100, 100 - 5e-10, 0.50, 0.40, **BAND) == (100, "same")
    assert decided(100, 100 + 5e-10, 0.30, 0.40, fixed=True, **BAND) == (100, "same")
    assert decided(100, 120, 0.15 - 5e-13, 0.16, least_margin=0.15, **BAND) == (100, "within")
    assert decided(100, 120, 0.15 - 5e-12, 0.16, least_margin=0.15, **BAND) == (120, "below_least")
    assert decided(100, 104, 0.40 - 0.04 - 5e-12, 0.40, **BAND) == (104, "beyond")


@pytest.mark.parametrize(
    ("asked", "to"),
    [
        (
            110 + 5e-10,
            110 + 5e-10,
        ),  # a tenth more is 110: what is asked is beyond it by noise only and is taken as it is
        (110 + 5e-9, 110),
        (90 - 5e-10, 90 - 5e-10),
        (90 - 5e-9, 90),
    ],
)
def test_a_largest_step_is_passed_by_more_than_noise_only(asked, to):
    gap = {"earned": 0.30, "would_earn": 0.40} if asked > 100 else {"earned": 0.50, "would_earn": 0.40}
    assert decided(100, asked, **gap, largest_step=0.1, **BAND) == (to, "beyond")


def test_without_a_largest_step_it_goes_all_the_way():
    assert decided(100, 900, 0.30, 0.40, **BAND) == (900, "beyond")
    assert decided(100, 1, 0.50, 0.40, **BAND) == (1, "beyond")
    assert decided(100, 0, 0.50, 0.40, largest_step=1.5, **BAND) == (0, "beyond")  # no step ends below nothing


def test_a_price_of_the_grid_that_is_reached_by_noise_is_where_it_stands():
    """Prices end in 0.90. A hundredth more than 100.90 is 101.909: the last price before it is 100.90 or 101.90."""
    assert decided(100.9, 130, 0.3, 0.4, on=grid(ending=0.9), largest_step=0.009, **BAND) == (100.9, "too_coarse")
    assert decided(100.9, 80, 0.5, 0.4, on=grid(ending=0.9), largest_step=0.009, **BAND) == (100.9, "too_coarse")
    assert decided(100.9, 80, 0.5, 0.4, on=grid(ending=0.9), largest_step=0.01, **BAND)[0] == pytest.approx(99.9)


@pytest.mark.parametrize(
    ("asked", "gap", "reprice", "could"),
    [
        (106, (0.37, 0.40), {}, 106),  # within the band: held, but it could go there
        (130, (0.37, 0.40), {"largest_step": 0.1}, 110),
        (130, (0.30, 0.40), {"largest_step": 0.1, "days_between": 2000}, 110),  # waits
        (70, (0.50, 0.40), {"largest_step": 0.1, "days_between": 2000}, 90),
        (130, (0.30, 0.40), {"largest_step": 0.005}, 100),  # nowhere: the next price is 101
    ],
)
def test_where_a_held_price_could_go_is_told_beside_it(asked, gap, reprice, could):
    stated = {"audience": "retail", "policy": {"margin": 0.4}, "reprice": {**BAND, **reprice}}
    terms = terms_of([Channel.model_validate(stated)])
    arrays = [np.array([float(each)]) for each in (100, asked, *gap, 1000)]
    found = decide(*arrays, np.array([False]), terms, grid())
    assert found.to == 100
    assert found.could == could


def test_terms_of_channels():
    """A channel without a policy moves at every difference, however far; what a policy leaves out has no limit."""
    plain = {"audience": "retail", "policy": {"margin": 0.4}}
    own = {"keep_within": 0.04, "falling": 0.08, "least_margin": 0.1, "largest_step": 0.2, "days_between": 7}
    channels = [
        Channel.model_validate(plain | rest) for rest in ({}, {"reprice": own}, {"reprice": {"keep_within": 0.03}})
    ]
    terms = terms_of(channels)
    assert terms.stated.tolist() == [False, True, True]
    assert terms.keep_within.tolist() == [-math.inf, 0.04, 0.03]
    assert terms.falling.tolist() == [-math.inf, 0.08, 0.03]
    assert terms.least_margin.tolist() == [-math.inf, 0.1, -math.inf]
    assert terms.largest_step.tolist() == [math.inf, 0.2, math.inf]
    assert terms.days_between.tolist() == [0, 7, 0]
    assert all(column.shape == (0,) for column in vars(terms_of([])).values())


def test_grids_of_a_workshop_by_channel_and_by_row():
    computed = cost(sample_catalog(), asked_for(date(2026, 11, 20))).computed
    every, some = Grid.of(computed), Grid.of(computed, np.array([2, 0]))
    for name in ("ending", "applies_below_stated", "applies_below", "step_position", "step_size"):
        assert getattr(every, name).tolist() == computed[name].tolist()
        assert getattr(some, name).tolist() == computed[name][[2, 0]].tolist()
        assert getattr(every.take(np.array([2, 0])), name).tolist() == computed[name][[2, 0]].tolist()
    assert every.take(np.array([2])).step(np.array([17.0])) == some.step(np.array([17.0, 17.0]))[0]


@pytest.mark.parametrize(("held", "asked", "earned"), [(100 - 5e-10, 130, 0.30), (100 + 5e-10, 70, 0.50)])
def test_a_move_of_noise_is_none(held, asked, earned):
    """A two-hundredth of 100 is 0.50: the last whole price before it is 100, where it stands but for noise."""
    assert decided(held, asked, earned, 0.40, largest_step=0.005, **BAND) == (held, "too_coarse")
