"""What the log says against the files, and what accepting it writes."""

from __future__ import annotations

import shutil
from dataclasses import replace
from itertools import pairwise

import pytest

from pricing.costing import asked_for, cost, cost_folder
from pricing.errors import Faults, UsageFault
from pricing.folder.read import read_folder
from pricing.learning.effects import with_figures
from pricing.learning.in_words import counted
from pricing.learning.learned import learn, together
from pricing.learning.proposing import accepted, proposal
from pricing.model.doubt import Doubt
from pricing.workbook.back.writing import write
from tests.folders import tin_lane
from tests.learning.any_log import any_log
from tests.learning.harbour import AS_OF, batch, flask, numbered, ten_cards

FILE_GOOD, POUR_GOOD = "processes.cast.file.good", "processes.cast.pour.good"
FILE_MINUTES, SPRUES = "processes.cast.file.minutes", "products.clasp.sprue_ratio"


def of_ten(costing):
    return learn(costing, [numbered(place, card) for place, card in enumerate(ten_cards(), 1)])


@pytest.fixture(scope="module")
def taught(harbour):
    return of_ten(harbour)


def test_a_row_for_each_place_in_which_a_figure_stands(taught):
    assert [row.name for row in taught.rows] == [
        POUR_GOOD,
        FILE_GOOD,
        "processes.cast.pour.minutes",
        FILE_MINUTES,
        "products.hook.sprue_ratio",  # taken from there by the bell too
        SPRUES,
        "alloys.brass.melt_loss",
    ]  # nothing of tumbling and checking, where nobody says that pieces are lost, and none were
    assert [(each.sku, each.alloy) for each in taught.row("products.hook.sprue_ratio").takers] == [
        ("bell", "brass"),
        ("hook", "brass"),
    ]
    assert ("bell", "brass") not in taught.row(FILE_MINUTES).takers  # it has minutes of its own


def test_older_batches_count_less(harbour):
    """A half-life ago counts half, two a quarter: 20 + 10 + 5 filed pieces."""
    found = learn(harbour, [batch(place + 1, 365 * place, [flask("clasp", "brass", 20)]) for place in range(3)])
    assert found.row(FILE_GOOD).count == pytest.approx(35)
    assert learn(harbour, [batch(1, 100, [flask("clasp", "brass", 20)])], half_life=100).row(
        FILE_GOOD
    ).count == pytest.approx(10)
    assert found.row(FILE_GOOD).batches == 3


def test_a_batch_of_tomorrow_says_nothing_yet(harbour):
    found = learn(harbour, [batch(1, -1, [flask("clasp", "brass", 20)])])
    assert found.rows == () and found.notes == ("1 batch is of a later day than 2026-11-20: not counted yet",)


def test_one_alone_is_plainly_conjugate(harbour):
    """Steps of the sterling clasp alone: 4 flasks, one of them lost: Beta(9.5 + 3, 0.5 + 1) where it were alone.

    The figure is shared with brass and hooks, so the trials of one product count as 4 / (1 + 3/41).
    """
    batches = [
        batch(place, 0, [flask("clasp", "sterling", 20, {"pour": 20} if place == 2 else {})]) for place in range(1, 5)
    ]
    row = learn(harbour, batches).row(POUR_GOOD)
    counted = 4 / (1 + 3 / 41)
    assert row.mean == pytest.approx((9.5 + 0.75 * counted) / (10 + counted))


def test_too_little_says_so_and_changes_nothing(harbour):
    found = learn(harbour, [batch(1, 0, [flask("clasp", "brass", 20, {"file": 9}, minutes={"file": 400})])])
    assert found.rows and all(row.is_too_little for row in found.rows)
    assert accepted(found) == () and proposal(found, ()).files == {}
    with pytest.raises(UsageFault, match="1 batch .* say too little of it"):
        accepted(found, [FILE_GOOD])


def test_one_trial_is_no_trials(taught):
    row = next(each for each in taught.rows if each.counted == "trials")
    assert counted(replace(row, count=1.0, batches=1)) == "1 trial (1 batch)"
    assert counted(replace(row, count=1.5, batches=2)) == "1.5 trials (2 batches)"


def test_a_name_that_is_none_is_told_with_the_nearest(taught):
    with pytest.raises(UsageFault, match=f'Did you mean "{FILE_GOOD}"'):
        accepted(taught, ["processes.cast.file.goods"])


def test_what_it_would_change_is_what_the_files_then_come_to(taught):
    rows = accepted(taught)
    after = cost_folder(read_folder(taught.costing.folder.root, proposal(taught, rows).files), taught.costing.asked)
    effect = together(taught, rows)
    assert effect.cost is not None and effect.price is not None and effect.prices == 4
    variants = {(row.sku, row.alloy): place for place, row in enumerate(after.computed.resolved.variants)}
    place = variants[effect.price.sku, effect.price.alloy]
    assert effect.price.after == after.computed["price"][place, 0]
    assert effect.cost.after == pytest.approx(after.computed["unit_cost"][variants[effect.cost.sku, effect.cost.alloy]])


def test_writing_keeps_comments_and_narrows_doubts(taught, tmp_path):
    root = tmp_path / "harbour"
    shutil.copytree(taught.costing.folder.root, root)
    found = of_ten(cost(root, asked_for(AS_OF)))
    write(proposal(found, accepted(found, [FILE_MINUTES, SPRUES])), "learning")
    said = (root / "processes.toml").read_text()
    minutes = found.row(FILE_MINUTES)
    assert f"minutes = {minutes.to:g}                         # by memory" in said or "# by memory" in said
    assert f"minutes = {minutes.to:g} " in said and "# Every yield here is a guess" in said
    assert "good = 0.95                         # flasks that stand" in said  # it was not accepted
    assert "# by eye" in (root / "products" / "clasp.toml").read_text()
    after = cost(root, asked_for(AS_OF)).folder.stated
    assert set(after.doubts) == {FILE_MINUTES, SPRUES}
    assert (after.doubts[FILE_MINUTES].low, after.doubts[FILE_MINUTES].high) == minutes.range
    again = of_ten(cost(root, asked_for(AS_OF)))  # the same ten batches say nothing new of these two
    assert again.known_already == 2 and {FILE_MINUTES, SPRUES}.isdisjoint(row.name for row in again.rows)
    assert after.doubts[SPRUES].batch == 10


def test_a_folder_that_was_changed_meanwhile_is_not_written_to(taught, tmp_path):
    root = tmp_path / "harbour"
    shutil.copytree(taught.costing.folder.root, root)
    found = of_ten(cost(root, asked_for(AS_OF)))
    waiting = proposal(found, accepted(found))
    with (root / "alloys.toml").open("a") as file:
        file.write("# somebody else\n")
    with pytest.raises(Faults, match="changed since it was read"):
        write(waiting)
    with pytest.raises(Faults, match="changed since it was read"):
        proposal(found, accepted(found))
    assert not (root / "doubts.toml").exists()


def test_a_product_that_lies_clearly_apart_gets_its_own_figure(harbour):
    """Of 200 clasps half are lost in filing, of 200 hooks none."""
    batches = [batch(place, 0, [flask("clasp", "brass", 20, {"file": 10}), flask("hook", "brass", 20)])
               for place in range(1, 11)]  # fmt: skip
    found = learn(harbour, batches)
    shared, own = found.row(FILE_GOOD), found.row("products.clasp.for_alloy.brass.steps.file.good")
    assert own.shared_by == FILE_GOOD and own.to == pytest.approx(0.5, abs=0.06)
    assert shared.mean > 0.95
    after = cost_folder(read_folder(harbour.folder.root, proposal(found, [shared, own]).files), harbour.asked)
    goods = {
        (row.sku, row.alloy): next(step.good for step in row.steps if step.name == "file")
        for row in after.computed.resolved.variants
    }
    assert goods == {
        ("clasp", "brass"): own.to,
        ("clasp", "sterling"): shared.to,
        ("hook", "brass"): shared.to,
        ("bell", "brass"): shared.to,
    }


def test_a_curve_is_told_where_one_product_is_filed_quicker_and_quicker(harbour):
    """Twenty more each time on an 80 % curve from 12 minutes: 20^0.678 × 12 = 91.5 for the first batch."""
    share = 1 + -0.32193
    total = [12 * (20 * place) ** share for place in range(9)]
    took = [later - earlier for earlier, later in pairwise(total)]
    batches = [
        batch(place, 80 - 10 * place, [flask("bell", "brass", 20, minutes={"file": each})])
        for place, each in enumerate(took, 1)
    ]
    curve = learn(harbour, batches).row("products.bell.steps.file.minutes").curve
    assert curve is not None and curve.is_told
    assert curve.rate == pytest.approx(0.8, abs=0.002) and curve.first == pytest.approx(12, rel=0.01)


def test_later_batches_are_learned_from_on_top_of_what_was_learned(harbour):
    """Ten of an unchanged figure are in the doubt; only the two batches after it are new trials: 40 pieces."""
    batches = [batch(place, 0, [flask("clasp", "brass", 20)]) for place in range(1, 13)]
    doubts = {FILE_GOOD: Doubt(low=0.95, high=0.99, batch=10)}
    stated = harbour.folder.stated.model_copy(update={"doubts": doubts})
    row = learn(replace(harbour, folder=replace(harbour.folder, stated=stated)), batches).row(FILE_GOOD)
    assert (row.batches, row.count) == (2, 40)
    unlearned = learn(harbour, batches[10:]).row(FILE_GOOD)
    assert row.high - row.low < unlearned.high - unlearned.low


@pytest.fixture(scope="module")
def tin(tmp_path_factory):
    return cost(tin_lane(), asked_for(AS_OF))


@pytest.mark.parametrize("seed", [1, 2])
def test_whatever_is_logged_the_files_then_come_to_what_was_told(tin, seed):
    """The engine run on with the figures put in, and the folder with the files written, come to the same."""
    found = learn(tin, any_log(tin, seed))
    rows = accepted(found)
    told = with_figures(tin.computed, rows, ("unit_cost", "price"))
    written = cost_folder(read_folder(tin.folder.root, proposal(found, rows).files), tin.asked)
    assert rows and told["unit_cost"] == pytest.approx(written.computed["unit_cost"], rel=1e-12)
    assert told["price"] == pytest.approx(written.computed["price"], rel=1e-12)
    assert all(row.low <= row.mean <= row.high for row in found.rows)
    again = {row.name: (row.to, row.range) for row in learn(tin, any_log(tin, seed)[::-1]).rows}
    assert again == {row.name: (row.to, row.range) for row in found.rows}  # in whatever order they are read


def test_metal_that_grew_and_minutes_that_nobody_is_paid_for_say_nothing(harbour):
    grown = flask("clasp", "brass", 20, lost_g=-5.0)
    found = learn(harbour, [batch(1, 0, [grown])])
    assert found.notes == ("batch 1: more came out than went in, so it says nothing of melt losses",)
    assert all(row.figure.key != "melt_loss" for row in found.rows)
