"""Moves of metal within some weeks, from histories whose moves are known."""

from __future__ import annotations

from datetime import date, timedelta

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.errors import UsageFault
from pricing.model.quote import Quote
from pricing.studies.doubt.sobol import uniform
from pricing.studies.metal_history.weeks import metal_weeks
from tests.folders import tin_lane

DAY = date(2026, 11, 20)


@pytest.fixture(scope="module")
def resolved():
    """Metals quoted in two currencies."""
    return cost(tin_lane(), asked_for(DAY)).computed.resolved


def history(resolved, price_of) -> list[Quote]:
    """A quote of every metal and rate each week for a year, the last on the day; `price_of` a name and a week."""
    made, home = [], resolved.currency
    rows = [(each.name, each.quoted_per, each.currency) for each in resolved.metals]
    rows += [(each.name, "unit", home) for each in resolved.currencies if each.name != home]
    for week in range(53):
        for name, per, currency in rows:
            on = DAY - timedelta(weeks=52 - week)
            made.append(Quote(date=on, metal=name, price=price_of(name, week), per=per, currency=currency, source="",
                              line=len(made) + 2))  # fmt: skip
    return made


def test_a_steady_trend_is_no_doubt(resolved):
    """Each price grows by 1 % a week: around that nothing moves."""
    weeks = metal_weeks(history(resolved, lambda _, week: 10 * 1.01**week), resolved, 6)
    np.testing.assert_allclose(weeks.times(uniform(64, len(weeks.blocks))), 1, rtol=1e-9)


def test_a_stretch_is_one_that_was(resolved):
    """Prices double and halve by turns: in a week each moves by one of the two, in two weeks by nothing."""
    quotes = history(resolved, lambda _, week: 10 * 2 ** (week % 2))
    moved = metal_weeks(quotes, resolved, 1)
    times = moved.times(uniform(256, 1))
    metal = times[:, 0]
    assert {round(float(each), 6) for each in np.log2(metal / metal.min())} == {0.0, 2.0}  # halved and doubled: 1 to 4
    assert np.ptp(metal_weeks(quotes, resolved, 2).times(uniform(256, 1))[:, 0]) == pytest.approx(0, abs=1e-12)


def test_metals_and_rates_move_together(resolved):
    """Two metals that always moved as one, and a rate that moved against them, still do."""
    chance = np.exp(np.cumsum(np.random.default_rng(3).normal(0, 0.03, 53)))
    rates = {each.name: -1.0 for each in resolved.currencies} | {resolved.currency: 0.0}
    assert len(rates) > 1
    quotes = history(resolved, lambda name, week: 5 * (1 / chance[week] if name in rates else chance[week]))
    weeks = metal_weeks(quotes, resolved, 9)
    assert weeks.blocks == (4, 4, 1)
    times = weeks.times(uniform(128, len(weeks.blocks)))
    names = [*(each.name for each in resolved.metals), *(each.name for each in resolved.currencies)]
    for place, name in enumerate(names):
        against = rates.get(name, 1.0)
        np.testing.assert_allclose(np.log(times[:, place]), against * np.log(times[:, 0]), atol=1e-9)
    assert times[:, 0].std() > 0.05


def test_what_has_no_history_stands_still(resolved):
    quotes = history(resolved, lambda _, week: 10 + week % 3)
    name = resolved.metals[0].name
    short = [each for each in quotes if each.metal != name or each.date == DAY]
    weeks = metal_weeks(short, resolved, 4)
    assert weeks.still == (name,)
    times = weeks.times(uniform(32, len(weeks.blocks)))
    assert (times[:, 0] == 1).all() and times[:, 1].std() > 0
    with pytest.raises(UsageFault, match=r"too short to say how metal moves: prices of .* 1\."):
        metal_weeks(short, resolved, 4, strict=True)


def test_no_weeks_and_no_history_move_nothing(resolved):
    quotes = history(resolved, lambda _, week: 10 + week % 3)
    assert not metal_weeks(quotes, resolved, 0).moves
    assert not metal_weeks(quotes[-3:], resolved, 4).moves
    assert metal_weeks(quotes, resolved, 0).blocks == ()
