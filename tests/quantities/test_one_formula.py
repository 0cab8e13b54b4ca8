"""Whoever needs a figure of the cost model gets it from the cost model's formula: each such reader beside the engine.

A pair runs both on the same workshop. Where they disagree, somebody has written the formula a second time.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import MappingProxyType

import numpy as np
import pytest

from pricing.cli.screens import cost as cost_screens
from pricing.costing import asked_for, cost, price_faults
from pricing.errors import Faults
from pricing.folder.prices.in_force import price_per_gram
from pricing.formulas.by_itself import by_itself
from pricing.formulas.engine import compute
from pricing.formulas.rerun import rerun
from pricing.formulas.work import Worker
from pricing.lists.stall import Hour, bargains
from pricing.page.views.cost_bar import cost_bar
from pricing.records import COST_LINES, cost_shares
from pricing.resources import sample_catalog
from pricing.shown import Shown
from pricing.studies.band.back_test import _Run
from pricing.studies.break_even.reach import break_even
from pricing.studies.metal_history.moves import kept_history
from pricing.studies.prices_out import prices_out
from pricing.studies.repricing.deciding import Grid
from pricing.studies.stall.bargaining import bargained, bargaining_functions, bargaining_model
from pricing.weighing import finishing_leaves, masses, volume_stated
from pricing.what_if import asking, with_metal_at
from tests.published.small_workshop import AS_OF, POUR, QUOTED, WORTHLESS, costed

DAY = date(2026, 11, 20)


@pytest.fixture(scope="module")
def sample():
    return cost(sample_catalog(), asked_for(DAY))


# ---- the price of a gram


def test_the_moves_of_a_kept_history_are_those_of_the_engines_price_of_a_gram(sample):
    history = kept_history(sample.folder.stated.quotes, sample.computed.resolved)
    for place in (0, len(history.days) // 2):
        on = date.fromordinal(int(history.days[place]))
        then = cost(sample_catalog(), asked_for(on)).computed
        assert history.times[place] == pytest.approx(then["spot_per_g"] / sample.computed["spot_per_g"], rel=1e-12)


def test_a_change_is_counted_in_the_engines_price_of_a_gram(sample):
    names = [each.name for each in sample.computed.resolved.currencies]
    rates = dict(zip(names, sample.computed["exchange_rate"], strict=True))
    for metal, spot in zip(sample.computed.resolved.metals, sample.computed["spot_per_g"], strict=True):
        quote = max((q for q in sample.folder.stated.quotes if q.metal == metal.name), key=lambda quote: quote.date)
        assert price_per_gram(quote, rates[quote.currency]) == spot


# ---- what a piece weighs

POLISH = {"name": "polish", "per": "set", "metal_loss": 0.06}
FILE = {"name": "file", "per": "set", "metal_loss": 0.02}


@pytest.mark.parametrize(
    ("casting", "measured"),
    [
        ({"volume_cm3": 1.7}, lambda steps: 1.7),
        ({"model_g": 1.9, "model_density": 0.95}, lambda steps: volume_stated({"model_g": 1.9, "model_density": 0.95})),
        (
            {"metal_g": 17.6, "in_alloy": "metal", "weighed": "as-cast"},
            lambda steps: volume_stated({"metal_g": 17.6}, 8.8),
        ),
        (
            {"metal_g": 17.6, "in_alloy": "metal", "weighed": "finished"},
            lambda steps: volume_stated({"metal_g": 17.6}, 8.8, finishing_leaves(steps, "metal", {"Cu": 1.0})),
        ),
    ],
)
def test_what_is_weighed_is_what_the_engine_makes_of_it(tmp_path, casting, measured):
    """`measure` and `cost` on one casting, in 8.8 g/cm3, from which 2 % and then 6 % are taken off."""
    steps = [POUR, FILE, POLISH]
    product = {"castings": [{"name": "casting", "count": 1, **casting}]}
    costed(tmp_path, alloys={"metal": {**WORTHLESS, "density": 8.8}}, steps=steps, product=product)
    costing = cost(tmp_path, asked_for(AS_OF))
    stated = costing.folder.stated
    process = stated.processes["work"]
    volume = measured(process)
    assert volume == pytest.approx(costing.computed["pattern_cm3"][0], rel=1e-12)
    (mass,) = masses(volume, stated.alloys, process)
    assert mass.as_cast_g == pytest.approx(costing.computed["as_cast_g"][0], rel=1e-12)
    assert mass.finished_g == pytest.approx(costing.computed["finished_g"][0], rel=1e-12)
    assert finishing_leaves(process, "metal", {"Cu": 1.0}) == pytest.approx(0.98 * 0.94, rel=1e-12)


# ---- what a price earns, and where it may stand


def test_the_back_test_counts_a_margin_as_the_engine_does(sample):
    computed = sample.computed
    channels = np.arange(len(computed.resolved.channels))
    run = _Run.__new__(_Run)  # only what it needs to count a margin
    run.profit, run.margin = (by_itself(name, computed.graph) for name in ("profit", "margin"))
    receipts, sales = computed["net_receipts"].T, computed["net_sales"].T
    earned = run._earned(receipts, sales, computed["unit_cost"][None, :])
    assert np.array_equal(earned, computed["margin"].T[channels], equal_nan=True)


@pytest.mark.parametrize("amount", [0.31, 7.0, 12.49, 19.999, 20.0, 63.2, 250.0, 251.3])
def test_repricing_stops_where_the_engine_would_round_to(sample, amount):
    """The least price of a channel is rounded up by the engine; from above, repricing stops at the same price."""
    computed = sample.computed
    grid = Grid.of(computed)
    for column, channel in enumerate(computed.resolved.channels):
        floors = [{"least_price": amount}] * len(computed.resolved.variants)
        up = compute(asking(computed.resolved, channel.name, floors))["price"][0, column]
        limits = np.full(len(computed.resolved.channels), amount)
        assert grid.towards(limits, np.zeros(len(limits), dtype=bool))[column] == up
        down = grid.towards(limits, np.ones(len(limits), dtype=bool))[column]
        assert down <= amount + 1e-9 and (down == up if abs(up - amount) < 1e-9 else down < up)
        assert grid.next_above(limits)[column] > amount


@pytest.mark.parametrize(
    ("channel", "can", "told"),
    [
        ({"policy": {"margin": 0.5}, "fees": [{"name": "fee", "rate": 0.4}]}, True, None),
        ({"policy": {"margin": 0.6}, "fees": [{"name": "fee", "rate": 0.5}]}, False, "can pay"),
        ({"policy": {"earn": 20.0}}, False, "no attended time"),
        ({"policy": {"earn": 20.0}, "minutes": 5, "labour": "bench"}, True, None),
        ({"policy": {"fixed": 9.0}, "fees": [{"name": "fee", "rate": 1.0}]}, True, None),
    ],
)
def test_whether_a_price_can_be_had_is_one_quantity(tmp_path, channel, can, told):
    """What refuses the folder, what the stall card leaves out, what the sheet of checks asks."""
    costed(tmp_path, channels={"shop": {**channel, "policy": {"fixed": 9.0}}})  # a stated price asks for nothing
    costing = cost(tmp_path, asked_for(AS_OF))
    figures = {"margin": "asked_margin", "earn": "asked_earnings", "fixed": "fixed_price"}
    ((kind, figure),) = channel["policy"].items()
    fields = {"asks_solving": kind != "fixed", "asks_earnings": kind == "earn", "is_fixed": kind == "fixed"}
    computed = compute(asking(costing.computed.resolved, "shop", [{**fields, figures[kind]: figure}]))
    assert computed["can_be_had"].tolist() == [[float(can)]]
    problems = [fault.problem for fault in price_faults(costing.folder, computed)]
    assert len(problems) == (not can) and all(told in problem for problem in problems)
    if kind == "earn":
        (found,) = bargains(costing, [0], "shop", [Hour(20.0, "")], 0.05)
        assert (found[0].walk_away is not None) == can
    if can:
        costed(tmp_path, channels={"shop": channel})
        return
    with pytest.raises(Faults, match=told):
        costed(tmp_path, channels={"shop": channel})


def test_a_price_that_follows_one_that_cannot_be_had_cannot_be_had_either(tmp_path):
    """The shop asks an hour of what takes none; the fair asks twice the shop's price, the stall its own."""
    channels = {
        "shop": {"policy": {"fixed": 9.0}},
        "fair": {"policy": {"keystone_of": "shop", "multiple": 2.0}},
        "stall": {"policy": {"multiple": 3.0}},
    }
    costed(tmp_path, channels=channels)
    computed = cost(tmp_path, asked_for(AS_OF)).computed
    assert computed["can_be_had"].tolist() == [[1.0, 1.0, 1.0]]
    asks = {name: computed[name].copy() for name in ("asks_solving", "asks_earnings", "asked_earnings")}
    for column in asks.values():
        column[0, 0] = 1
    found = rerun(computed, asks, ["own_can_be_had", "can_be_had"])
    assert found["own_can_be_had"].tolist() == [[0.0, 1.0, 1.0]]
    assert found["can_be_had"].tolist() == [[0.0, 0.0, 1.0]]


def test_a_cost_bends_where_the_engine_stops_paying_for_scrap(tmp_path):
    """Scrap pays half its value less 2.00 a gram: nothing below 4.00; the cost at 4.00 and 2.00 lies on two lines.

    1 g is poured, 60 % of the castings spoil and go to the refiner, so that 2.5 g are poured and 1.5 g sold for each
    good one. At 10.00 a gram a set costs 25.00 - 1.5 × 3.00 = 20.50; at 4.00, where scrap brings nothing, it costs
    10.00, and at 2.00 5.00. So a price of 10.00 earns nothing where metal stands at 0.4 times today's, one of 5.00
    where it stands at 0.2 times.
    """
    alloy = {**QUOTED, "scrap_payout": 0.5, "scrap_fee_per_g": 2.0}
    steps = [POUR, {"name": "set", "per": "set", "good": 0.4, "rejects": "refiner"}]
    costed(tmp_path, alloys={"metal": alloy}, steps=steps, quotes=[("grain", 10.0, "g", "GBP")])
    computed = cost(tmp_path, asked_for(AS_OF)).computed
    assert computed["unit_cost"][0] == pytest.approx(2.5 * 10 - 1.5 * (0.5 * 10 - 2))
    for price, times in ((10.0, 0.4), (5.0, 0.2)):
        (found,) = break_even(computed, np.array([[price]]), [None])
        assert found.all_metals.at_nothing.times == pytest.approx(times, rel=1e-12)
        there = compute(with_metal_at(computed.resolved, times))
        assert there["unit_cost"][0] == pytest.approx(price, rel=1e-12)
        assert there["scrap_price_per_g"][0] == 0


# ---- what a set is made of


def with_credit(costing, row: int, credit: float):
    """The same costing with so much coming back for the metal of one variant."""
    computed = costing.computed
    metal = computed["metal_cost"].copy()
    metal[row] = -credit
    wanted = ("unit_cost", "cost_before_credits")
    found = {"metal_cost": metal, **rerun(computed, {"metal_cost": metal}, wanted)}
    return replace(costing, computed=replace(computed, values=MappingProxyType({**computed.values, **found})))


@pytest.mark.parametrize("credit", [None, 5.0])
def test_terminal_and_page_give_a_line_the_same_share(sample, capsys, credit):
    row = next(row for row, each in enumerate(sample.computed.resolved.variants) if each.sku == "thimble")
    costing = sample if credit is None else with_credit(sample, row, credit)
    cost_screens.cards(cost_screens.View(costing, [row], ["shop"], prices_out(costing)))
    lines = {line.split()[0]: line.split()[1:4] for line in capsys.readouterr().out.splitlines() if line.strip()}
    bar = cost_bar(costing.computed, row, Shown("GBP"))
    told = dict(part.rsplit(" (", 1) for part in bar.told.rstrip(")").split("), "))
    shares = {part.split()[0]: share for part, share in told.items()}
    spent = sum(max(0.0, float(costing.computed[name][row])) for name in COST_LINES)
    for name, word in COST_LINES.items():
        amount = float(costing.computed[name][row])
        if amount > 0:
            share = f"{100 * amount / spent:.0f} %"
            assert shares[word] == share and " ".join(lines[word][1:3]) == share
        elif amount:
            assert word not in shares and lines[word] == ["-5.00"]
    assert sum(cost_shares(costing.computed, row).values()) == pytest.approx(1, rel=1e-12)
    assert bar.pieces[-1].start + bar.pieces[-1].width <= 100


def test_a_step_costs_what_its_five_kinds_of_cost_come_to(sample, capsys):
    computed = sample.computed
    kinds = [computed[f"step_{kind}_cost"] for kind in ("labour", "overhead", "machine", "material", "fee")]
    assert computed["step_cost"] == pytest.approx(sum(kinds), rel=1e-12)
    whole = computed["making_cost"] + computed["metal_cost"] + computed["findings_cost"]
    alone = [not row.parts for row in computed.resolved.variants]  # a part is made in no step of the whole
    assert 0 < sum(alone) < len(alone)
    assert whole[alone] == pytest.approx(computed["unit_cost"][alone], rel=1e-12)
    cost_screens.steps(cost_screens.View(sample, [0], ["shop"], prices_out(sample)))
    lines = capsys.readouterr().out.splitlines()
    for place, step in enumerate(computed.resolved.variants[0].steps):
        line = next(line for line in lines if line.strip().startswith(step.name))
        assert line.split()[-1] == f"{computed['step_cost'][0, place]:,.2f}"
    whole = next(line for line in lines if line.strip().startswith("all steps"))
    assert whole.split()[-1] == f"{computed['making_cost'][0]:,.2f}"


# ---- what is said at a stall


def test_prices_of_a_stall_card_have_unit_reason_and_work(sample):
    graph = bargaining_model()
    rows = [row for row, each in enumerate(sample.computed.resolved.variants) if each.sku == "thimble"]
    computed = bargained(sample.computed, rows, "stall", [38.0] * len(rows), 3, 0.05)
    column = [channel.name for channel in computed.resolved.channels].index("stall")
    found = bargains(sample, rows, "stall", [Hour(38.0, "")] * len(rows), 0.05)
    for name, each in (("walk_away_price", found[0][1].walk_away), ("friendly_price", found[0][1].friendly)):
        quantity = graph.quantities[name]
        assert quantity.unit == "quoted" and quantity.meaning and quantity.because
        work = Worker(computed).work(name, (0, column))
        assert work.result == each and work.symbols == quantity.formula
        behind = {each.quantity for each in Worker(computed).behind([name], 0, column)}
        assert {"required_price", "unit_cost", "earned_per_hour"} - behind == {"earned_per_hour"}
    assert {function.__name__ for function in bargaining_functions()} <= set(graph.quantities)
