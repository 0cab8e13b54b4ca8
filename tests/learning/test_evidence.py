"""What single batches say, counted by hand."""

from __future__ import annotations

import pytest

from pricing.batches.model import Flask, Pieces
from pricing.learning.evidence import GOOD, MELT_LOSS, MINUTES, SPRUE_RATIO, Figure, evidence
from tests.learning.harbour import batch, flask

FILED = Figure("file", MINUTES)


@pytest.fixture
def said(harbour):
    """(value, count) of each observation, by figure and product."""

    def of(flasks, minutes=None):
        found = evidence(harbour, [batch(1, 0, flasks, minutes)])
        return {(each.figure, each.sku): (each.value, each.count) for each in found.seen}

    return of


def test_each_step_is_tried_with_what_entered_it(said):
    """20 started; 2 spoiled at the pour, so 18 are filed, of which 1 is lost: 17 castings are 8.5 pairs to check."""
    seen = said([flask("clasp", "brass", 20, {"pour": 2, "file": 1})])
    assert seen[Figure("file", GOOD), "clasp"] == (pytest.approx(17 / 18), 18)
    assert seen[Figure("check", GOOD), "clasp"] == (1, 8.5)
    assert seen[Figure("pour", GOOD), "clasp"] == (pytest.approx(0.9), 1)  # one flask, a tenth of which was lost
    assert (Figure("print", GOOD), "clasp") not in seen  # before the pour, from which on castings are counted


def test_since_and_up_to_say_which_steps_are_counted(said):
    seen = said([flask("clasp", "brass", 20, {"print": 5}, since="print", up_to="pour")])
    assert seen[Figure("print", GOOD), "clasp"] == (0.75, 20)
    assert seen[Figure("pour", GOOD), "clasp"] == (1, 1)
    assert (Figure("file", GOOD), "clasp") not in seen


def test_a_flask_that_fails_whole_is_one_failure(said):
    seen = said([flask("clasp", "brass", 20, {"pour": 20})])
    assert seen[Figure("pour", GOOD), "clasp"] == (0, 1)
    assert (Figure("file", GOOD), "clasp") not in seen


def test_two_products_share_the_trial_of_their_flask(said):
    pieces = (Pieces(sku="hook", started=6, good=6), Pieces(sku="bell", started=4, good=2, rejected={"pour": 2}))
    seen = said([Flask(alloy="brass", fresh_g=170, back_g=60, castings_g=85, rejected_g=20, pieces=pieces)])
    assert seen[Figure("pour", GOOD), "hook"] == (1, 0.6)
    assert seen[Figure("pour", GOOD), "bell"] == (0.5, 0.4)
    # sprues 60 - 8.5 of the button, on 105 g poured; both state 0.4, and have their part of one observation
    assert seen[Figure("", SPRUE_RATIO), "hook"] == (pytest.approx(51.5 / 105), 0.6)
    assert seen[Figure("", MELT_LOSS), "bell"] == (pytest.approx(5 / 170), pytest.approx(0.4 * 170))


def test_sprues_and_melt_of_one_flask(said):
    """165 g in, 100 g of castings and 60 g back: 5 g are lost; the button is 1 cm3 of 8.5 g."""
    seen = said([flask("clasp", "brass", 20)])
    assert seen[Figure("", SPRUE_RATIO), "clasp"] == (pytest.approx(0.515), 1)
    assert seen[Figure("", MELT_LOSS), "clasp"] == (pytest.approx(5 / 165), 165)


def test_spoiled_castings_that_nobody_weighed_are_no_melt_loss(said):
    """Half were spoiled and not weighed: 200 g were poured, and nobody knows what the melt lost."""
    seen = said([flask("clasp", "brass", 20, {"pour": 10})])
    assert (Figure("", MELT_LOSS), "clasp") not in seen
    assert seen[Figure("", SPRUE_RATIO), "clasp"] == (pytest.approx(51.5 / 200), 1)


def test_minutes_of_one_product(said):
    """18 pieces were filed in 126 minutes; pieces are tumbled 30 at a time, so 17 are one load; 8.5 pairs were checked
    in 10.2 minutes, a tenth of them mended in 2 minutes each: (10.2 - 1.7) / 8.5 = 1."""
    seen = said(
        [flask("clasp", "brass", 20, {"pour": 2, "file": 1}, minutes={"file": 126, "tumble": 7})],
        {"pour": 24, "check": 10.2},
    )
    assert seen[FILED, "clasp"] == (pytest.approx(7), 1)
    assert seen[Figure("tumble", MINUTES), "clasp"] == (pytest.approx(7), 1)
    assert seen[Figure("pour", MINUTES), "clasp"] == (pytest.approx(24), 1)
    assert seen[Figure("check", MINUTES), "clasp"] == (pytest.approx(1), 1)


def test_minutes_of_a_card_are_shared_as_they_were_expected(said):
    """10 hooks at 5 and 10 bells at 8 would take 130; they took 195, half as long again."""
    seen = said([flask("hook", "brass", 10), flask("bell", "brass", 10)], {"file": 195, "pour": 50})
    assert seen[FILED, "hook"] == (pytest.approx(7.5), pytest.approx(50 / 130))
    assert seen[FILED, "bell"] == (pytest.approx(12), pytest.approx(80 / 130))
    assert seen[Figure("pour", MINUTES), "hook"] == (pytest.approx(25), 0.5)


def test_what_the_folder_does_not_know_any_more_is_told(harbour):
    flasks = [flask("latch", "brass", 5), flask("clasp", "brass", 20, {"sand": 1})]
    found = evidence(harbour, [batch(7, 0, flasks, {"sand": 5})])
    assert found.notes == (
        "batch 7: latch in brass is not made any more, and says nothing",
        'batch 7: clasp has no step "sand" any more: nothing is learned from its counts',
        'batch 7: minutes of "sand", which none of its castings went through',
    )
    assert {each.figure.key for each in found.seen} == {SPRUE_RATIO}  # 105 g back of one flask are weighed all the same
