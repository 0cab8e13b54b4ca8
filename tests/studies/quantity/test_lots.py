"""The staircase is the engine's own, lot by lot; flasks by hand; what is best and the ladder by brute force."""

from __future__ import annotations

import json
import math

import pytest

from pricing.costing import asked_for, cost_folder
from pricing.errors import UsageFault
from pricing.formulas.engine import compute
from pricing.studies.prices_out import prices_out
from pricing.studies.quantity.lots import Lot, Lots, Rung, best_places, lots
from pricing.studies.quantity.plot import staircase
from pricing.studies.quantity.quoting import offered
from pricing.what_if import in_a_run, in_one_order, only
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import DAY, costing_of

STUDS = ("lantern-studs", "silver-925", "stall")
N = 30


@pytest.fixture(scope="module")
def costing():
    return costing_of(tin_lane())


@pytest.fixture(scope="module")
def found(costing) -> Lots:
    return lots(prices_out(costing), *STUDS, N)


def row_of(computed) -> int:
    return [(each.sku, each.alloy) for each in computed.resolved.variants].index(STUDS[:2])


@pytest.mark.parametrize("quantity", [1, 11, 12, 30])
def test_a_lot_costs_what_a_run_of_it_costs(costing, found, quantity):
    computed = cost_folder(costing.folder, asked_for(DAY, run=quantity)).computed
    assert found.lots[quantity - 1].unit_cost == pytest.approx(computed["unit_cost"][row_of(computed)], rel=1e-12)


def test_with_the_design_charged_the_whole_of_it_is_in_the_lot(costing, found):
    charged = lots(prices_out(costing), *STUDS, 4, charge_design=True)
    computed = cost_folder(costing.folder, asked_for(DAY, run=4, charge_design=True)).computed
    assert charged.lots[3].unit_cost == pytest.approx(computed["unit_cost"][row_of(computed)], rel=1e-12)
    assert charged.lots[3].unit_cost > found.lots[3].unit_cost


def test_the_price_is_what_a_quotation_asks(costing, found):
    quantities = (1, 11, 12, 30)
    (quoted,) = offered(costing, [row_of(costing.computed)], "stall", quantities)
    assert [found.lots[each - 1].price for each in quantities] == [offer.asked for offer in quoted.offers]


def test_at_the_price_that_keeps_it_the_lot_earns_the_margin(costing, found):
    """By a whole new run of the engine at that price, fixed."""
    computed, quantity = costing.computed, 17
    row, column = row_of(computed), costing.column("stall")
    assert found.margin == computed["margin"][row, column] and found.price_in_force == 72.90
    lot = found.lots[quantity - 1]
    alone = in_one_order(in_a_run(only(computed.resolved, [row]), quantity, False), quantity)
    (variant,) = alone.variants
    fixed = variant.prices[column].model_copy(
        update={"is_fixed": True, "fixed_price": lot.keeping, "asks_solving": False}
    )
    prices = (*variant.prices[:column], fixed, *variant.prices[column + 1 :])
    again = compute(alone.model_copy(update={"variants": (variant.model_copy(update={"prices": prices}),)}))
    assert again["margin"][0, column] == pytest.approx(found.margin, rel=1e-9)
    assert lot.discount == pytest.approx(1 - lot.keeping / 72.90)


def test_flasks_and_loads_by_hand(found):
    """Two castings a pair, 26 on a tree; of what is poured, sawn, darkened and checked so many come out good,
    and .99 of the prints that are washed, 14 at once.

    The burnout is filled up with other work, so it is no load of this lot.
    """
    good = 0.91 * 0.985 * 0.97 * 0.995
    for lot in found.lots:
        on_trees = 2 * lot.quantity / good
        assert lot.flasks == math.ceil(on_trees / 26)
        assert lot.loads["wash and cure"] == math.ceil(on_trees / 0.99 / 14)
        assert "burn out" not in lot.loads


def made(costs: list[float], discounts: list[float] | None = None) -> Lots:
    best = best_places([*costs, math.inf])
    offs = discounts or [0.0] * len(costs)
    each = [Lot(i + 1, c, 1.0, 1.0, d, 1, {}, i in best) for i, (c, d) in enumerate(zip(costs, offs, strict=True))]
    return Lots("a", "b", "c", 1.0, 0.1, tuple(each))


def test_the_best_lots_by_brute_force(found):
    assert [lot.quantity for lot in made([9, 7, 8, 7, 6, 6.5, 5, 5, 8]).best] == [2, 5, 8]
    costs = [lot.unit_cost for lot in found.lots]
    brute = [
        place + 1
        for place in range(N - 1)
        if all(costs[place] <= before + 1e-9 for before in costs[:place]) and costs[place + 1] > costs[place]
    ]
    assert [lot.quantity for lot in found.best] == brute == [11, 22]  # one and two full flasks


def test_every_lot_from_a_rung_on_allows_what_it_says(found):
    ladder = made([1.0] * 7, [-0.5, 0.06, 0.02, 0.07, 0.12, 0.11, 0.16]).ladder
    # 0.06 in a lot of 2 does not count for 5 %: 3 allow 2 % only
    assert ladder == (Rung(2, 0.0), Rung(4, 0.05), Rung(5, 0.10), Rung(7, 0.15))
    assert made([1.0] * 2, [-0.5, -0.1]).ladder == ()
    for rung in found.ladder:
        after = [lot.discount for lot in found.lots if lot.quantity >= rung.quantity]
        assert min(after) >= rung.discount - 1e-9 and found.lots[rung.quantity - 2].discount < rung.discount


def test_what_cannot_be_asked_is_told(costing):
    out = prices_out(costing)
    with pytest.raises(UsageFault, match="--up-to 0: write a number from 1 to"):
        lots(out, *STUDS, 0)
    with pytest.raises(UsageFault, match="harbour-set in brass has no price in online"):
        lots(out, "harbour-set", "brass", "online", 5)


def test_the_picture_is_there_for_who_cannot_see_it(found):
    drawn = staircase(found, "EUR", lambda sku, alloy: (f"“{sku}”", "Silver")).files()
    svg = drawn["svg"].decode()
    assert 'role="img" aria-labelledby="title desc"' in svg and drawn["png"].startswith(b"\x89PNG")
    alone, best = found.lots[0].unit_cost, found.lots[10].unit_cost
    assert f"One alone costs {alone:.2f} EUR" in svg and "“lantern-studs” in Silver, lots of 1 to" in svg
    assert f"best sizes and what one costs in them: 11 ({best:.2f})" in svg


def test_the_command():
    from click.testing import CliRunner
    from typer.main import get_command

    from pricing.cli.commands.study import app

    words = [str(tin_lane()), "quantity", "--as-of", "2026-11-20", "--sku", "lantern-studs", "--alloy", "silver-925"]
    ran = CliRunner().invoke(get_command(app), [*words, "--channel", "stall", "--up-to", "12", "--json"])
    assert ran.exit_code == 0
    said = json.loads(ran.stdout)
    assert (said["best"], [row["flasks"] for row in said["rows"]]) == ([11], [1] * 11 + [2])
