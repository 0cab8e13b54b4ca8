"""What selling takes, formula by formula, also at ties, tolerances and the ends of a range."""

from __future__ import annotations

import pytest

from pricing.formulas.by_itself import by_itself

# ---- orders


@pytest.mark.parametrize(
    ("order", "passed"),
    [(99, 0), (100, 0), (100 + 5e-10, 0), (100 + 5e-9, 1), (250, 1), (251, 2)],  # up to 100 g, up to 250 g
)
def test_a_tier_is_for_what_weighs_no_more(order, passed):
    assert by_itself("tiers_passed")(order_g=order, up_to_g=[100, 250, 0]) == passed  # the third is none


def test_a_tier_may_be_for_less_than_a_gram():
    assert by_itself("tiers_passed")(order_g=0.7, up_to_g=[0.5, 2, 0]) == 1


@pytest.mark.parametrize(("passed", "charged", "cost"), [(0, 4, 3), (1, 6, 5), (2, 20, 16), (3, 20, 16)])
def test_beyond_the_last_tier_postage_is_the_channels(passed, charged, cost):
    """Two tiers: 4 and 6 charged, 3 and 5 paid; beyond them 20 and 16."""
    tier = {"tiers_passed": passed, "tiers": 2, "tier_position": [0, 1, -1]}
    assert by_itself("order_postage_charged")(**tier, tier_charged=[4, 6, 0], postage_charged=20) == charged
    assert by_itself("order_postage_cost")(**tier, tier_cost=[3, 5, 0], postage_cost=16) == cost


def test_tiers_are_counted():
    assert by_itself("tiers")(up_to_g=[0.5, 250, 0]) == 2


# ---- fees


@pytest.mark.parametrize(
    ("slope", "from_here", "to_here"),
    [
        (0.1, 20, 80),  # (3 - 1) / 0.1 and (9 - 1) / 0.1
        (0.5, 4, 16),
        (0, -1e15, 1e15),  # a fee that does not grow runs nowhere
    ],
)
def test_where_a_fee_begins_and_ceases_to_run(slope, from_here, to_here):
    fee = {"fee_start": 1, "fee_slope": slope}
    assert by_itself("runs_from")(fee_low=3, **fee) == pytest.approx(from_here, rel=1e-12)
    assert by_itself("runs_to")(fee_high=9, **fee) == pytest.approx(to_here, rel=1e-12)


@pytest.mark.parametrize(("start", "stands"), [(1, 3), (5, 5), (12, 9)])
def test_what_stands_of_a_fee_that_does_not_grow_is_held(start, stands):
    limits = {"fee_start": start, "fee_low": 3, "fee_high": 9}
    assert by_itself("fee_standing")(fee_slope=0, **limits) == stands
    assert by_itself("fee_standing")(fee_slope=0.01, **limits) == start


@pytest.mark.parametrize(
    ("bring", "standing", "moving"),
    [(7, 6, 0), (8, 6, 0), (9, 3, 0.3), (10, 3, 0.3), (33, 3, 0.3), (34, 18, 0), (35, 18, 0), (60, 18, 0)],
)
def test_fees_at_their_least_running_and_at_their_most(bring, standing, moving):
    """Two fees alike but for their size. Where they begin to run a sale keeps 0.5 x 20 - 2 = 8; where they cease,
    0.5 x 80 - 6 = 34. At their least they are 2 + 4, running 1 + 2 and 0.1 + 0.2 of the price, at their most 6 + 12."""
    fees = {"runs_from": [20, 20], "fees_at_runs_from": [2, 2], "runs_to": [80, 80], "fees_at_runs_to": [6, 6]}
    of = {"to_bring": bring, "keep_share": 0.5, **fees}
    assert by_itself("standing_fees")(**of, fee_low=[2, 4], fee_high=[6, 12], fee_standing=[1, 2]) == standing
    assert by_itself("moving_fees")(**of, fee_slope=[0.1, 0.2]) == pytest.approx(moving, rel=1e-12)


# ---- fees and orders, one by one


@pytest.mark.parametrize("of", ["from", "to"])
def test_what_all_other_fees_come_to_where_one_begins_or_ceases_to_run(of):
    """At a price of 50: 0.1 x 50 + 1 = 6, within 2 and 9; 0.2 x 50 + 2 = 12, at most 9; 0.02 x 50 = 1, at least 3;
    with flat fees of 0.5: 6 + 9 + 3 + 0.5."""
    found = by_itself(f"fees_at_runs_{of}")(
        **{f"runs_{of}": 50},
        other_fee_slope=[0.1, 0.2, 0.02],
        other_fee_start=[1, 2, 0],
        other_fee_low=[2, 2, 3],
        other_fee_high=[9, 9, 9],
        flat_fees=0.5,
    )
    assert found == pytest.approx(18.5, rel=1e-15)


def test_what_a_sale_leaves_to_the_selling_places():
    """The same fees at a price of 50, in a currency of 0.8: 18.5 x 0.8."""
    fees = {"fee_slope": [0.1, 0.2, 0.02], "fee_start": [1, 2, 0], "fee_low": [2, 2, 3], "fee_high": [9, 9, 9]}
    found = by_itself("selling_fees")(price=50, **fees, flat_fees=0.5, channel_rate=0.8)
    assert found == pytest.approx(14.8, rel=1e-15)
    assert by_itself("running_fees")(fee_slope=[0.1, 0.2, 0.02]) == pytest.approx(0.32, rel=1e-15)
    assert by_itself("flat_fees")(fee_fixed=[1, 2], fee_weight=[0.5, 0.25]) == 1


def test_a_fee_by_set_and_by_order():
    """An order of 4 sets, of which half bear the fee: a half a set, or an eighth."""
    weight = by_itself("fee_weight")
    assert weight(fee_per_set=True, order_sets=4, fee_share=0.5) == 0.5
    assert weight(fee_per_set=False, order_sets=4, fee_share=0.5) == 0.125
    assert by_itself("fee_low")(fee_min=3, fee_weight=0.125) == 0.375
    high = by_itself("fee_high")
    assert high(fee_max_stated=True, fee_max=8, fee_weight=0.125) == 1
    assert high(fee_max_stated=False, fee_max=8, fee_weight=0.125) == 1e15


def test_a_fee_in_the_hundred():
    """A tenth, with a fifth of tax on it, of half of the orders; of the price before tax and after a quarter off."""
    tax = by_itself("fee_tax")
    assert tax(fee_taxed=True, tax_rate=0.2) == 1.2
    assert tax(fee_taxed=False, tax_rate=0.2) == 1
    found = by_itself("fee_slope")(fee_rate=0.1, fee_share=0.5, net_share=0.625, fee_tax=1.2)
    assert found == pytest.approx(0.0375, rel=1e-15)  # 0.1 x 0.625 x 1.2 x 0.5
    start = by_itself("fee_start")
    of = {"fee_rate": 0.1, "fee_share": 0.5, "postage_received": 4, "fee_tax": 1.2}
    assert start(fee_of_order=True, **of) == pytest.approx(0.24, rel=1e-15)  # 0.1 x 4 x 1.2 x 0.5
    assert start(fee_of_order=False, **of) == 0


def test_tax_and_discount_between_the_list_price_and_what_is_kept():
    """60 with a fifth of tax is 50; a quarter off, 37.5; the shop pays 45 with tax; in a currency of 0.8, 30."""
    tax = by_itself("list_tax")
    assert tax(tax_included=True, tax_rate=0.2) == 1.2
    assert tax(tax_included=False, tax_rate=0.2) == 1
    assert by_itself("net_share")(discount=0.25, list_tax=1.2) == pytest.approx(0.625, rel=1e-15)
    assert by_itself("ex_tax_price")(price=60, list_tax=1.2) == 50
    assert by_itself("discounted_price")(ex_tax_price=50, discount=0.25) == 37.5
    assert by_itself("paid")(discounted_price=37.5, tax_rate=0.2) == 45
    assert by_itself("net_sales")(discounted_price=37.5, channel_rate=0.8) == 30


def test_what_an_order_takes():
    """Twelve minutes for four sets: 0.05 hours each, at 20 an hour 1; of 30 g a set and 80 g of packing 200 g."""
    assert by_itself("order_hours")(order_minutes=12, order_sets=4) == pytest.approx(0.05, rel=1e-15)
    assert by_itself("order_labour_cost")(order_hours=0.05, labour_rate=20) == 1
    assert by_itself("own_order_hours")(is_own=True, order_hours=0.05) == 0.05
    assert by_itself("own_order_hours")(is_own=False, order_hours=0.05) == 0
    assert by_itself("own_order_cost")(own_order_hours=0.05, labour_rate=20) == 1
    assert by_itself("order_g")(order_sets=4, total_g=30, packing_g=80) == 200
    sets = by_itself("order_sets")
    assert sets(own_sets_per_order_stated=True, own_sets_per_order=3, sets_per_order=4) == 3
    assert sets(own_sets_per_order_stated=False, own_sets_per_order=3, sets_per_order=4) == 4
    # 12 charged with a fifth of tax: 10 for four sets; in a currency of 0.8, 2 a set
    assert by_itself("postage_received")(order_postage_charged=12, tax_rate=0.2, order_sets=4) == 2.5
    assert by_itself("postage_income")(postage_received=2.5, channel_rate=0.8) == 2


def test_what_an_order_costs():
    """1 of labour, 0.05 hours at 10 of overhead, 6 + 2 of postage and packing for four sets, 0.25 of packing each; one
    in ten is refunded, at 3 and a half of the 40 that the set cost: 1 + 0.5 + 2 + 0.25 + 0.1 x (3 + 20)."""
    found = by_itself("order_cost")(
        order_labour_cost=1,
        order_hours=0.05,
        overhead_rate=10,
        order_postage_cost=6,
        packing=2,
        order_sets=4,
        packing_per_set=0.25,
        refund_share=0.1,
        refund_cost=3,
        refund_loss=0.5,
        unit_cost=40,
    )
    assert found == pytest.approx(6.05, rel=1e-15)


def test_what_a_price_brings():
    """30 of sales and 2 of postage, less 5 of fees and 6 of order: 21; less 12 of cost, 9, which is 0.3 of the sales.
    With 4 and 1 of own labour in 0.5 and 0.2 hours, 14 for 0.7: 20 an hour."""
    assert by_itself("net_receipts")(net_sales=30, postage_income=2, selling_fees=5, order_cost=6) == 21
    assert by_itself("profit")(net_receipts=21, unit_cost=12) == 9
    assert by_itself("margin")(profit=9, net_sales=30) == pytest.approx(0.3, rel=1e-15)
    earned = by_itself("earned_per_hour")(
        profit=9, own_labour_cost=4, own_order_cost=1, own_labour_hours=0.5, own_order_hours=0.2
    )
    assert earned == pytest.approx(20, rel=1e-15)
    times = by_itself("times_melt_value")(ex_tax_price=50, channel_rate=0.8, melt_value=8)
    assert times == 5
