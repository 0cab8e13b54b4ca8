"""A workshop held against its week, by hand on a small folder."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest
import tomlkit

from pricing.costing import asked_for, cost
from pricing.errors import UsageFault
from pricing.shown import Shown
from pricing.studies.prices_out import PricesOut, prices_out
from pricing.studies.week.told import in_one_line, line_of, told_of
from pricing.studies.week.whole_week import WholeWeek, whole_week
from tests.published.small_workshop import AS_OF, POUR, written

#: 100 hours a month, spread over 40 worked weeks: 30 hours each. 3.00 of overhead an hour, 3,600.00 a year.
WORKSHOP = {
    "labour": {"bench": {"rate": 20.0}},
    "overhead": {"per_month": 300.0, "productive_hours": 100.0},
    "week": {"weeks_a_year": 40.0, "flasks": 2.0, "pieces": 10.0, "pieces_good": 0.8},
}
STEPS = [{**POUR, "good": 0.9}, {"name": "file", "per": "set", "labour": "bench", "minutes": 30, "good": 0.8}]
CHANNELS = {
    "shop": {"policy": {"fixed": 30.0}, "minutes": 6, "labour": "bench"},
    "trade": {"policy": {"fixed": 20.0}, "audience": "wholesale"},
}
GBP = Shown("GBP")


def priced(root: Path, workshop=WORKSHOP, channels=("shop",), **tables) -> PricesOut:
    product = {"expected_sales": 640.0, **tables.pop("product", {})}
    chosen = {name: CHANNELS[name] for name in channels}
    written(root, workshop=workshop, steps=STEPS, channels=chosen, product=product, **tables)
    return prices_out(cost(root, asked_for(AS_OF)))


@pytest.fixture
def found(tmp_path) -> WholeWeek:
    return whole_week(priced(tmp_path))


def test_a_week_by_hand(found):
    """10 begun × 0.8 × 40 weeks = 320 sets. One takes 0.5 h / 0.8 = 0.625 h at the bench and 0.1 h for its order."""
    assert found.sets == pytest.approx(320)
    assert found.needs_hours == pytest.approx(320 * 0.725 / 40)  # 5.8
    assert found.has_hours == pytest.approx(100 * 12 / 40)
    assert found.good == pytest.approx(0.9 * 0.8)
    assert found.pieces == pytest.approx(320 / 0.72 / 40)  # of which 72 % come through, so that more are begun
    assert (found.told_pieces, found.told_good, found.has_flasks, found.needs_flasks) == (10, 0.8, 2, 0)
    assert found.lasts == pytest.approx(640 / 320)


def test_a_year_by_hand(found):
    """Unit cost 0.625 h × (20 + 3) = 14.375, an order 0.1 h × 23 = 2.30: profit 30 - 14.375 - 2.30 = 13.325.

    An own hour is paid by 20 in it, and overhead is taken off as it is: 320 × (13.325 + 12.50 + 2.00) + 696 - 3,600.
    """
    assert found.recovered == pytest.approx(320 * 0.725 * 3)  # 696
    assert found.overhead == pytest.approx(3600)
    assert found.sales == pytest.approx(320 * 30)
    assert found.pays == pytest.approx(320 * 27.825 + 696 - 3600)
    assert found.own_hours == pytest.approx(320 * 0.725)
    assert found.an_hour == pytest.approx(6000 / 232)
    (row,) = found.rows
    assert (row.sku, row.channel, row.sets) == ("piece", "shop", pytest.approx(320))
    assert row.brings == pytest.approx(9600)  # 6,000 and the overhead


def test_it_is_told_in_sentences(found):
    said = {each.about: each for each in told_of(found, GBP)}
    assert said["hours"].sentence == (
        "Your figures need 5.8 bench hours a week, you have 30.0. 24.2 hours go where no figure says: steps without "
        "minutes, orders, cleaning up, or hours that were not worked."
    )
    assert said["flasks"].sentence == "They need 0.0 flasks a week, you pour 2.0. Look at the pieces per flask."
    assert said["good"].sentence == (
        "Of 100 pieces begun your figures bring 72 through, you said 80. Look at the fractions good of the steps."
    )
    assert said["overhead"].sentence == "Overhead recovered: 19 %, 696 of 3,600 a year."
    assert said["year"].sentence == "At these prices and sales the year pays you 6,000, 25.86 an hour."
    assert {about: each.fine for about, each in said.items()} == {
        "hours": False, "flasks": False, "good": False, "overhead": False, "year": True,
    }  # fmt: skip
    line = in_one_line(found, GBP)
    assert not line.fine and line.sentence == (
        "By your figures a normal week needs 6 hours of 30 and recovers 19 % of the overhead; at these prices and "
        "sales the year pays you 6,000, 25.86 an hour."
    )


def test_the_page_has_its_line_where_a_week_is_told(tmp_path, found):
    assert line_of(priced(tmp_path), GBP) == in_one_line(found, GBP)
    assert line_of(priced(tmp_path, {**WORKSHOP, "week": {"flasks": 2.0}}), GBP) is None


def test_what_does_not_fit_into_the_hours(tmp_path):
    """Ten hours a month are 3 a week: of 5.8 hours 3 / 5.8 fit. Then an hour bears 30 of overhead."""
    workshop = {**WORKSHOP, "overhead": {"per_month": 300.0, "productive_hours": 10.0}}
    found = whole_week(priced(tmp_path, workshop))
    assert found.fits == pytest.approx(3 / 5.8)
    assert found.pays == pytest.approx(6000)  # what is paid for overhead is the same
    assert found.pays_if_fitted == pytest.approx(9600 * 3 / 5.8 - 3600)
    said = {each.about: each.sentence for each in told_of(found, GBP)}
    assert said["hours"].endswith("Either minutes are stated too long, or you make fewer pieces than you said.")
    assert said["year"].endswith("Only 52 % of it fits into your hours; that pays 1,366.")


@pytest.mark.parametrize(
    ("sales", "said"),
    [
        (80.0, "At that pace all that you expect to sell of your designs is sold in 3 months. Expect more of them, or"),
        (9600.0, "At that pace it takes 30 years to sell what you expect of your designs. Expect less."),
    ],
)
def test_sales_that_end_too_soon_or_never(tmp_path, sales, said):
    """320 sets a year: 80 are a quarter of it, 9,600 are 30 years."""
    found = whole_week(priced(tmp_path, product={"expected_sales": sales}))
    (told,) = [each for each in told_of(found, GBP) if each.about == "sales"]
    assert told.sentence.startswith(said) and not told.fine


def test_channels_take_their_parts(tmp_path):
    out = priced(tmp_path, channels=("shop", "trade"))
    assert [row.sets for row in whole_week(out).rows] == pytest.approx([160, 160])
    found = whole_week(out, sold={"shop": 3, "trade": 1})
    assert [row.sets for row in found.rows] == pytest.approx([240, 80])
    assert found.sales == pytest.approx(240 * 30 + 80 * 20)
    assert found.needs_hours == pytest.approx((320 * 0.625 + 240 * 0.1) / 40)  # trade takes no minutes for an order
    with pytest.raises(UsageFault, match='no channel "fair"'):
        whole_week(out, sold={"fair": 1})


def test_what_goes_into_others_is_not_sold_by_itself(tmp_path):
    """100 pieces in all; 30 pairs take 60 of them, 40 are sold alone. Ten years: 4 pieces and 3 pairs a year."""
    priced(tmp_path, product={"expected_sales": 100.0})
    path = tmp_path / "processes.toml"
    path.write_text(path.read_text(encoding="utf-8") + "\n[processes]\nbare = []\n", encoding="utf-8")
    pair = {
        "sku": "two", "name": "Two", "alloys": ["metal"], "process": "bare", "expected_sales": 30.0,
        "findings": [{"product": "piece", "quantity": 2}],
    }  # fmt: skip
    (tmp_path / "products" / "two.toml").write_text(tomlkit.dumps(pair), encoding="utf-8")
    found = whole_week(prices_out(cost(tmp_path, asked_for(AS_OF))), years=10)
    assert {row.sku: row.sets for row in found.rows} == pytest.approx({"piece": 4, "two": 3})
    assert found.pieces == pytest.approx((4 + 3 * 2) / 0.72 / 40)
    assert found.needs_hours == pytest.approx((4 * 0.725 + 3 * (2 * 0.625 + 0.1)) / 40)


def test_what_is_lacking_is_told(tmp_path):
    out = priced(tmp_path, {**WORKSHOP, "week": {"weeks_a_year": 40.0}})
    with pytest.raises(UsageFault, match=r"nobody said how much is made .* \[week\] with pieces = .* --years"):
        whole_week(out)
    assert line_of(out, GBP) is None
    assert whole_week(out, years=2).sets == pytest.approx(320)
    with pytest.raises(UsageFault, match="--years 0: write a number above 0"):
        whole_week(out, years=0)


def test_hired_hours_are_no_hours_of_the_maker(tmp_path):
    """The bench is a hired one: his 20 an hour are paid before the year pays the maker, who has no hour in it."""
    workshop = {**WORKSHOP, "labour": {"bench": {"rate": 20.0, "own": False}}}
    found = whole_week(priced(tmp_path, workshop))
    assert found.pays == pytest.approx(6000 - 232 * 20)
    assert found.an_hour is None and found.needs_hours == pytest.approx(5.8)
    assert told_of(replace(found, has_flasks=None), GBP)[-1].sentence.endswith("the year pays you 1,360.")
