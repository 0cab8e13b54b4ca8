"""One retail price in several channels: who decides, how far it goes, and who follows; three channels a row."""

from __future__ import annotations

import numpy as np
import pytest

from pricing.studies.repricing.deciding import REASONS, Decision, as_one_price

YES, NO = True, False


def one_price(to, reasons, could, held, asked, bound=(YES, YES, NO), stated=(YES, YES, YES)):
    """Prices, reasons, and the place of the channel that decides, of one row."""
    rows = [np.array([row], dtype=float) for row in (to, could, held, asked)]
    found = Decision(rows[0], np.array([[REASONS.index(reason) for reason in reasons]]), rows[1])
    decided, leader = as_one_price(found, rows[2], rows[3], np.array([bound]), np.array([stated]))
    assert np.array_equal(decided.could, rows[1])
    return decided.to[0].tolist(), [REASONS[place] for place in decided.reason[0]], leader[0].tolist()


def test_the_one_that_moves_takes_the_other_along_as_far_as_both_may_go():
    """The first would go to 112, the second no further than its largest step, 108; the third is not bound."""
    assert one_price(
        (112, 100, 55), ("beyond", "within", "policy"), (112, 108, 55), (100, 100, 50), (112, 112, 55)
    ) == ([108, 108, 55], ["beyond", "one_price", "policy"], [-1, 0, -1])


def test_downwards_the_nearer_is_the_higher():
    assert one_price((90, 100, 55), ("beyond", "within", "policy"), (90, 94, 55), (100, 100, 50), (90, 90, 55)) == (
        [94, 94, 55],
        ["beyond", "one_price", "policy"],
        [-1, 0, -1],
    )


def test_the_weightier_reason_decides_and_each_keeps_its_own():
    """The second is below its least margin: it decides, though the first moves too, and further up the row."""
    assert one_price(
        (110, 120, 55), ("beyond", "below_least", "same"), (118, 120, 55), (100, 100, 55), (118, 120, 55)
    ) == ([118, 118, 55], ["beyond", "below_least", "same"], [-1, -1, -1])


@pytest.mark.parametrize("reasons", [("within", "waits", "same"), ("same", "too_coarse", "same")])
def test_where_none_has_a_reason_to_move_all_stay(reasons):
    assert one_price((100, 100, 55), reasons, (106, 110, 55), (100, 100, 55), (106, 110, 55)) == (
        [100, 100, 55],
        list(reasons),
        [-1, -1, -1],
    )


def test_a_channel_without_rules_follows_the_one_that_has_some():
    """By itself the first would go to 120; the second has rules and waits."""
    assert one_price(
        (120, 100, 55),
        ("policy", "waits", "same"),
        (120, 110, 55),
        (100, 100, 55),
        (120, 120, 55),
        stated=(NO, YES, NO),
    ) == ([100, 100, 55], ["one_price", "waits", "same"], [1, -1, -1])


def test_a_channel_without_rules_sets_no_limit():
    """It could go to 101 only; the second, which has rules, goes to 110."""
    assert one_price(
        (101, 110, 55),
        ("policy", "beyond", "same"),
        (101, 110, 55),
        (100, 100, 55),
        (120, 110, 55),
        stated=(NO, YES, NO),
    ) == ([110, 110, 55], ["one_price", "beyond", "same"], [1, -1, -1])
    assert one_price(
        (99, 90, 55), ("policy", "beyond", "same"), (99, 90, 55), (100, 100, 55), (99, 90, 55), stated=(NO, YES, NO)
    )[0] == [90, 90, 55]


def test_where_none_has_rules_each_follows_its_policy():
    assert one_price(
        (120, 120, 55),
        ("policy", "policy", "same"),
        (120, 120, 55),
        (100, 100, 55),
        (120, 120, 55),
        stated=(NO, NO, NO),
    ) == ([120, 120, 55], ["policy", "policy", "same"], [-1, -1, -1])


@pytest.mark.parametrize(
    ("could", "to"),
    [
        (100, 110),  # the other cannot move at all: the one that must goes by itself
        (100 + 5e-10, 110),  # nor more than noise
        (100.5, 100.5),
    ],
)
def test_one_that_cannot_move_holds_nobody_back(could, to):
    found, reasons, _ = one_price(
        (110, 100, 55), ("below_least", "too_coarse", "same"), (110, could, 55), (100, 100, 55), (110, 110, 55)
    )
    assert found == [to, to, 55]
    assert reasons == ["below_least", "one_price", "same"]


@pytest.mark.parametrize(("could", "to"), [(100, 90), (100 - 5e-10, 90), (99.5, 99.5)])
def test_nor_downwards(could, to):
    found, _, _ = one_price(
        (90, 100, 55), ("beyond", "too_coarse", "same"), (90, could, 55), (100, 100, 55), (90, 90, 55)
    )
    assert found == [to, to, 55]


def test_a_channel_that_is_not_bound_is_never_moved_by_the_others():
    """The third has the weightiest reason, and it is nobody's business."""
    assert one_price((100, 110, 60), ("within", "beyond", "fixed"), (106, 110, 60), (100, 100, 50), (106, 110, 60)) == (
        [106, 106, 60],
        ["one_price", "beyond", "fixed"],
        [1, -1, -1],
    )


def test_of_several_that_move_the_weightiest_leads_who_follows():
    """All three are bound: the second is below its least margin, and the third follows it, not the first."""
    every = (YES, YES, YES)
    found = one_price(
        (110, 120, 100), ("beyond", "below_least", "within"), (118, 120, 119), (100,) * 3, (120,) * 3, bound=every
    )
    assert found == ([118, 118, 118], ["beyond", "below_least", "one_price"], [-1, -1, 1])


def test_rows_are_decided_apart():
    """The third channel is bound in neither row."""
    reasons = (("beyond", "within", "policy"), ("same", "beyond", "same"))
    found = Decision(
        np.array([[110.0, 100.0, 55.0], [100.0, 80.0, 50.0]]),
        np.array([[REASONS.index(name) for name in names] for names in reasons]),
        np.array([[110.0, 110.0, 55.0], [80.0, 80.0, 50.0]]),
    )
    held = np.array([[100.0, 100.0, 50.0], [100.0, 100.0, 50.0]])
    asked = np.array([[110.0, 110.0, 55.0], [80.0, 80.0, 50.0]])
    bound = np.array([[True, True, False], [True, True, False]])
    decided, leader = as_one_price(found, held, asked, bound, np.ones((2, 3), dtype=bool))
    assert decided.to.tolist() == [[110, 110, 55], [80, 80, 50]]
    assert leader.tolist() == [[-1, 0, -1], [1, -1, -1]]
