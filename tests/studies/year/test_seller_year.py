"""A year replayed: by hand where metal doubles once, step by step where a rule holds prices back."""

from __future__ import annotations

import shutil
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from pricing.costing import Costing
from pricing.errors import UsageFault
from pricing.formulas.engine import compute
from pricing.studies.metal_history.moves import History
from pricing.studies.month.there_is import Sales
from pricing.studies.year.seller_year import DAYS_IN_A_MONTH, PriceYear, Year, check_covered, seller_year, year_records
from pricing.what_if import with_metal_at
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import changed_file, costing_of

RULES = "reprice = { keep_within = 0.02, least_margin = 0.15, largest_step = 0.08 }"


@pytest.fixture(scope="module")
def costing(tmp_path_factory) -> Costing:
    """Tin lane with rules for its stall, without the ladder that would hold its prices up."""
    folder = shutil.copytree(tin_lane(), tmp_path_factory.mktemp("year") / "tin-lane")
    changed_file(folder, "channels.toml", "[ladder]\nkeystone = 2.0\n", "")
    changed_file(folder, "channels.toml", "policy = { margin = 0.22 }\n", f"policy = {{ margin = 0.22 }}\n{RULES}\n")
    return costing_of(folder)


def history(costing: Costing, *moves: tuple[str, float]) -> History:
    """All metals at so many times today's price from each of some days on."""
    days = np.array([date.fromisoformat(day).toordinal() for day, _ in moves])
    metals = len(costing.computed.resolved.metals)
    return History(days, np.array([[times] * metals for _, times in moves]), ())


#: Metal doubles on the 16th of January; the last day with a price is the 31st.
DOUBLED = (("2025-12-20", 1.0), ("2026-01-16", 2.0), ("2026-01-31", 2.0))


@pytest.fixture(scope="module")
def doubled(costing) -> Year:
    return seller_year(costing, history(costing, *DOUBLED), months=1)


def of(found: Year, sku: str, alloy: str, channel: str) -> PriceYear:
    (one,) = [each for each in found.prices if (each.sku, each.alloy, each.channel) == (sku, alloy, channel)]
    return one


def test_a_price_that_follows_at_the_next_look_by_hand(costing, doubled):
    """The gallery has no tax, no fee and no rules: each difference is a change, at the next look.

    Looks on the 1st, 8th, 15th, 22nd and 29th. For 15 days the first price meets the first cost, from the 16th to the
    21st the new one, for the 10 days from the 22nd the new price does. An order of ten takes 18 minutes at the bench
    (21.35 and 13.7 % on top, and overhead of 713.50 / 96.5 an hour) and 9.40 of postage.
    """
    dear = compute(with_metal_at(costing.computed.resolved, 2.0))
    row, column = 1, costing.column("gallery")  # the harbour set in silver
    cost, then = float(costing.computed["unit_cost"][row]), float(dear["unit_cost"][row])
    first, last = float(costing.computed["price"][row, column]), float(dear["price"][row, column])
    hours = 18 / 60 / 10
    order = hours * (713.5 / 96.5) + 0.94  # the wage is the maker's own, and not yet taken off
    own = float(costing.computed["own_labour_cost"][row])
    days = np.array([15, 6, 10])

    def paid(prices) -> float:
        return float(days @ (np.array(prices) - np.array([cost, then, then]) + own - order)) / DAYS_IN_A_MONTH

    found = of(doubled, "harbour-set", "silver-925", "gallery")
    assert (found.first, found.last, found.changes) == (first, last, 1)
    assert found.paid == pytest.approx(paid([first, first, last]))
    assert found.if_never == pytest.approx(paid([first, first, first]))
    assert found.if_asked == pytest.approx(paid([first, last, last]))
    assert found.sets == pytest.approx(31 / DAYS_IN_A_MONTH) and doubled.looks == 5
    wage = hours * 21.35 * 1.137
    profit = days @ (np.array([first, first, last]) - np.array([cost, then, then]) - order - wage)
    assert found.margins == (pytest.approx(profit / (days @ np.array([first, first, last]))),)
    assert found.below == () and found.least is None


def test_a_rule_lets_a_price_rise_no_further_than_its_step_at_each_look(costing, doubled):
    """The stall: prices end in .90, a step goes no further than 8 %, and below the least margin at least one step."""
    found = of(doubled, "harbour-set", "silver-925", "stall")
    dear = compute(with_metal_at(costing.computed.resolved, 2.0))
    asked = float(dear["price"][1, costing.column("stall")])
    price = found.first
    for _ in ("22nd", "29th"):
        price = min(asked, np.floor(price * 1.08 - 0.9 + 1e-9) + 0.9)
    assert found.last == pytest.approx(price) and found.changes == 2 and price < asked
    assert found.least == 0.15 and found.below == ((0,) if found.margins[0] < 0.15 else ())
    assert found.paid < found.if_asked and found.paid > found.if_never


def test_a_move_within_the_band_changes_nothing(costing):
    """A thousandth more moves a margin by less than a tenth of a point, and one step of rounding by less than one; the
    band is two points. The gallery, which has no rules, may change."""
    found = seller_year(costing, history(costing, ("2025-12-20", 1.0), ("2026-01-16", 1.001), ("2026-01-31", 1.0)), 1)
    silver = of(found, "harbour-set", "silver-925", "stall")
    assert silver.changes == 0 and silver.first == silver.last


def test_months_under_the_least_margin_are_told_by_product(costing):
    """Metal at nine times its price from the second month on: silver in the stall earns less than 15 % then."""
    moves = (("2025-12-20", 1.0), ("2026-01-31", 9.0), ("2026-02-28", 9.0))
    found = seller_year(costing, history(costing, *moves), 2, look_every=28)
    assert found.months == ("2026-01", "2026-02") and found.days == (31, 28)
    silver = of(found, "harbour-set", "silver-925", "stall")
    assert 1 in silver.below and silver.margins[1] < 0.15
    record = next(each for each in year_records(found) if each["months_below"] and each["sku"] == "harbour-set")
    assert "2026-02" in record["months_below"] and record["margin_2026-02"] < 0.15


def test_the_months_add_up_to_the_prices(doubled):
    assert doubled.paid == pytest.approx(
        [sum(getattr(each, way) for each in doubled.prices) for way in ("paid", "if_asked", "if_never")]
    )


def test_more_sold_pays_more(costing, doubled):
    sales = (Sales(("gallery",), 3.0), Sales(("harbour-set", "gallery"), 0.0))
    found = seller_year(costing, history(costing, *DOUBLED), 1, sales=sales)
    assert of(found, "harbour-set", "brass", "gallery").paid == 0
    studs = ("lantern-studs", "brass", "gallery")
    assert of(found, *studs).paid == pytest.approx(3 * of(doubled, *studs).paid)
    stall = ("lantern-studs", "brass", "stall")
    assert of(found, *stall) == of(doubled, *stall)
    with pytest.raises(UsageFault, match="reed-pin:brass: nothing that is sold has all of these names"):
        seller_year(costing, history(costing, *DOUBLED), 1, sales=(Sales(("reed-pin", "brass"), 1),))


def test_too_little_history_is_refused_with_what_is_lacking(costing):
    short = history(costing, ("2025-11-20", 1.0), ("2026-01-16", 1.0), ("2026-04-30", 1.0))
    assert check_covered(short, 1)[0] == ("2026-04",)
    with pytest.raises(UsageFault, match=r"6 months to 2026-04-30 .* has none in 2025-12, 2026-02, 2026-03\."):
        seller_year(costing, replace(short, days=short.days - [19, 0, 0]), 6)
    with pytest.raises(UsageFault, match=r"begins on 2025-11-20, has none on or before 2025-11-01 and none in 2025-12"):
        seller_year(costing, short, 6)


@pytest.mark.parametrize(("months", "every", "said"), [(0, 7, "--months 0"), (1, 0, "--look-every 0")])
def test_what_is_no_number_of_months_or_days_is_told(costing, months, every, said):
    with pytest.raises(UsageFault, match=said):
        seller_year(costing, history(costing, *DOUBLED), months, every)
