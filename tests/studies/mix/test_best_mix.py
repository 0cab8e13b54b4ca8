"""What to make of a month: against trying every plan, and by what each limit and each order is worth."""

from __future__ import annotations

import json
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from pricing.errors import UsageFault
from pricing.formulas.engine import compute
from pricing.studies.mix.best_mix import mix, rush
from pricing.studies.mix.figures import mix_records
from pricing.studies.month.set_takes import taken
from pricing.studies.month.there_is import Month, Sales, amounts_of, month_of, sales_of
from pricing.studies.prices_out import at_prices, prices_out
from pricing.what_if import in_a_run, in_one_order, only
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import costing_of

#: Loads of tin lane's kiln hold three flasks, whichever they are.
IN_A_LOAD = 3
MONTH = Month(hours=3.1, flasks={"": 3.0}, loads={"kiln": 1.0}, each_most=1.0)


@pytest.fixture(scope="module")
def out():
    return prices_out(costing_of(tin_lane()), "asked")


@pytest.fixture(scope="module")
def in_shares(out):
    return mix(out, MONTH, whole=False)


def test_what_a_set_brings_is_what_is_left_without_own_hours_and_overhead(out):
    """By figures that were worked out apart from the engine: all of tin lane's roles are the maker's own.

    An order in the stall takes 4 minutes for 1.4 sets; an hour of overhead is 713.50 / 96.5.
    """
    known = json.loads((tin_lane() / "expected.json").read_text(encoding="utf-8"))
    takes, column, order_hours = taken(out.computed), out.costing.column("stall"), 4 / 60 / 1.4
    for row, each in enumerate(known):
        there = each["prices"]["stall"]
        by_hand = there["profit"] + each["own_labour_cost"] + there["order_labour_cost"]
        by_hand += each["overhead_cost"] + order_hours * 713.5 / 96.5
        assert takes.brings[row, column] == pytest.approx(by_hand)
        assert takes.own_hours[row, column] == pytest.approx(each["own_labour_hours"] + order_hours)
        assert takes.roles[row, column].sum() == pytest.approx(each["labour_hours"] + order_hours)
        assert takes.grams[row].sum() == pytest.approx(each["fresh_g"])
        assert takes.flasks[row].sum() == pytest.approx(each["flasks_per_set"])


def test_whole_sets_and_flasks_against_trying_every_plan(out):
    """Each of seven variants in one of its channels or not at all: 3 × 3 × 4^5 plans, whole flasks, three to a load."""
    takes = taken(out.computed)
    options = [[None, *each.sold_places] for each in out.computed.resolved.variants]
    best = 0.0
    for places in product(*options):
        spots = [(row, column) for row, column in enumerate(places) if column is not None]
        if sum(takes.own_hours[spot] for spot in spots) > MONTH.hours:
            continue
        flasks = np.ceil(takes.flasks[[row for row, _ in spots]].sum(axis=0) - 1e-9).sum()
        if flasks <= 3 and np.ceil(flasks / IN_A_LOAD - 1e-9) <= 1:
            best = max(best, sum(takes.brings[spot] for spot in spots))
    found = mix(out, MONTH)
    assert found.brings == pytest.approx(best) and found.gap <= 1e-6
    assert sum(each.sets * each.brings for each in found.made) == pytest.approx(best)
    assert all(each.sets == round(each.sets) for each in found.choices)
    held = {(each.kind, each.name): each for each in found.limits}
    assert held["flasks", ""].used <= 3 and held["loads", "kiln"].used <= 1 and held["hours", ""].used <= 3.1 + 1e-9
    assert found.brings <= mix(out, MONTH, whole=False).brings + 1e-9


def test_one_more_hour_and_one_more_flask_bring_what_they_are_worth(out, in_shares):
    held = {(each.kind, each.name): each.worth for each in in_shares.limits}
    little = 1e-4
    more_hours = mix(out, replace(MONTH, hours=MONTH.hours + little), whole=False)
    assert (more_hours.brings - in_shares.brings) / little == pytest.approx(held["hours", ""], rel=1e-6)
    more_flasks = mix(out, replace(MONTH, flasks={"": 3 + little}), whole=False)
    assert (more_flasks.brings - in_shares.brings) / little == pytest.approx(held["flasks", ""], rel=1e-6, abs=1e-6)


def test_all_that_is_brought_is_what_the_limits_are_worth(in_shares):
    """Strong duality: the optimum of a linear programme equals that of its dual."""
    assert sum(each.worth * each.there_is for each in in_shares.limits) == pytest.approx(in_shares.brings)


def test_with_hours_alone_it_is_all_the_best_by_the_hour(out):
    found = mix(out, Month(hours=10.0), whole=False)
    best = max(found.choices, key=lambda each: each.brings_an_hour or 0.0)
    (made,) = found.made
    assert made == best and made.sets == pytest.approx(10 / best.hours)
    (hours,) = found.limits
    assert hours.worth == pytest.approx(best.brings_an_hour)
    assert found.leaves == pytest.approx(found.brings - 713.5) and found.an_hour == pytest.approx(found.leaves / 10)
    # One of anything else would have to bring what its hours are worth.
    for each in found.choices:
        assert each.short == pytest.approx(each.hours * best.brings_an_hour - each.brings, abs=1e-9)


def test_a_gram_in_the_drawer_saves_its_price_where_cash_is_short(out):
    """Only pieces of brass: all cash buys brass, so a gram that lies there is worth its price in cash."""
    month = Month(cash=2.0, grams={"brass": 50.0}, most=(Sales(("silver-925",), 0), Sales(("gold-14k",), 0)))
    found = mix(out, month, whole=False)
    held = {(each.kind, each.name): each for each in found.limits}
    price = float(out.computed["grain_price_per_g"][[row.name for row in out.computed.resolved.alloys].index("brass")])
    assert held["cash", ""].used == pytest.approx(2.0) and held["grams", "brass"].used == pytest.approx(50.0)
    assert held["grams", "brass"].worth == pytest.approx(held["cash", ""].worth * price)
    (metal,) = found.metal
    assert metal.worth_per_g == pytest.approx(price * (1 + held["cash", ""].worth))
    assert metal.to_buy_g == pytest.approx(2.0 / price) and metal.needed_g == pytest.approx(50 + 2.0 / price)


def test_what_is_owed_is_made_though_it_brings_less(out):
    owed = (Sales(("reed-pin", "gallery"), 2),)
    found = mix(out, Month(hours=10.0, least=owed), whole=False)
    made = {(each.sku, each.channel): each.sets for each in found.made}
    assert made["reed-pin", "gallery"] == pytest.approx(2)
    held = {each.kind: each for each in found.limits}
    better = mix(out, Month(hours=10.0), whole=False)
    assert better.brings - found.brings == pytest.approx(2 * held["least"].worth)


def test_a_rush_order_at_its_price_brings_what_it_displaces(out):
    """Engine figures at that price, of one order and one run of four, against the month planned without the order."""
    order = Sales(("reed-pin", "silver-925", "online"), 4)
    found = rush(out, MONTH, order)
    row = next(at for at, each in enumerate(out.computed.resolved.variants) if each.sku == "reed-pin")
    alone = compute(in_one_order(in_a_run(only(out.computed.resolved, [row]), 4, False), 4))
    column = out.costing.column("online")
    prices = alone["price"].copy()
    prices[0, column] = found.price
    assert 4 * taken(at_prices(alone, prices)).brings[0, column] == pytest.approx(found.displaces)
    hours = 4 * float(taken(alone).own_hours[0, column])
    left = mix(out, replace(MONTH, hours=MONTH.hours - hours), whole=False)
    assert found.displaces == pytest.approx(mix(out, MONTH, whole=False).brings - left.brings)


def test_with_room_to_spare_a_rush_order_displaces_nothing(out):
    found = rush(out, Month(hours=1000.0, each_most=1), Sales(("reed-pin", "silver-925", "online"), 2))
    assert found.displaces == pytest.approx(0, abs=1e-6) and found.price < found.in_force


def test_the_month_is_what_the_folder_states_where_nothing_is_typed(out):
    folder = out.costing.folder
    assert month_of(folder, Month()).hours == 96.5
    assert month_of(folder, Month(roles={"bench": 30.0})).hours is None
    workshop = folder.stated.workshop
    week = type(workshop).model_fields["week"].annotation.__args__[0](flasks=6, weeks_a_year=46)
    stated = folder.stated.model_copy(update={"workshop": workshop.model_copy(update={"week": week})})
    assert month_of(replace(folder, stated=stated), Month()).flasks == {"": pytest.approx(6 * 46 / 12)}


@pytest.mark.parametrize(
    ("month", "said"),
    [
        (
            Month(hours=9, most=(Sales(("reed-pim",), 3),)),
            '--most reed-pim: no piece, alloy or channel "reed-pim". Did you mean "reed-pin"',
        ),
        (Month(hours=9, most=(Sales(("reed-pin", "brass"), 3),)), "reed-pin:brass: nothing that is sold has all"),
        (Month(hours=9, flasks={"tell": 3}), 'no flask in use "tell". Did you mean "tall"'),
        (Month(hours=9, loads={"kil": 3}), 'no kiln in use "kil". Did you mean "kiln"'),
        (Month(roles={"bensh": 3}), 'no role "bensh". Did you mean "bench"'),
        (Month(hours=0.1, least=(Sales(("reed-pin",), 3),)), "no plan keeps within all of these limits"),
        (Month(flasks={"": 2}), "something takes nothing of what is limited"),
    ],
)
def test_what_cannot_be_planned_is_told(out, month, said):
    with pytest.raises(UsageFault, match=said):
        mix(out, month, whole=False)


def test_an_order_for_which_there_is_no_room_is_told(out):
    with pytest.raises(UsageFault, match="the month has no room for 400, even if nothing else is made"):
        rush(out, MONTH, Sales(("reed-pin", "silver-925", "online"), 400))
    with pytest.raises(UsageFault, match="reed-pin in brass has no price in online"):
        rush(out, MONTH, Sales(("reed-pin", "brass", "online"), 4))


def test_bounds_and_amounts_as_they_are_written():
    assert sales_of(["thimble:sterling:shop=12"], "--most") == (Sales(("thimble", "sterling", "shop"), 12.0),)
    assert amounts_of(["12", "tall=3"], "--flasks") == {"": 12.0, "tall": 3.0}
    for text, said in (("=3", "name what it is of"), ("thimble=-1", "write how many"), ("thimble", "write how many")):
        with pytest.raises(UsageFault, match=f"--most {text}: {said}"):
            sales_of([text], "--most")


def test_records_hold_every_choice(in_shares):
    rows = mix_records(in_shares)
    assert len(rows) == 2 * 2 + 3 * 5 and {"sku", "sets", "brings_an_hour", "short"} <= set(rows[0])
