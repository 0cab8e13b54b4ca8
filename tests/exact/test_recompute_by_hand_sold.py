"""The exact re-computation of selling: each case small enough to be reckoned in the test."""

from copy import deepcopy
from decimal import Decimal
from fractions import Fraction

import pytest

from .recompute import recompute
from .recompute_prices import TooHeavy
from .recompute_quote import requote
from .test_recompute_by_hand import FILES, as_decimals
from .workshop_writer import Workshop, write
from .workshops import AS_OF, csv_line

# The knob of 20 g costs 13.60: 10.00 of metal, 3.00 of labour (0.1 h), 0.60 of overhead. Its shop asks a margin of a
# fifth: 17.00. A dollar is 0.80.
DOLLAR = csv_line(0, "USD", Decimal("0.8"), "unit", "GBP")


@pytest.fixture
def files():
    return deepcopy(FILES)


@pytest.fixture
def prices(tmp_path):
    def compute(files, run=None):
        return recompute(write(Workshop(files, AS_OF), tmp_path), AS_OF, run)[0]["prices"]

    return compute


@pytest.fixture
def offers(tmp_path):
    def compute(files, channel, *quantities, charge_design=False):
        folder = write(Workshop(files, AS_OF), tmp_path)
        return requote(folder, AS_OF, "knob", "silver", channel, list(quantities), charge_design)

    return compute


def shop(files, **stated):
    """States something of the shop, and returns it."""
    files["channels.toml"]["channels"]["shop"] |= as_decimals(stated)
    return files["channels.toml"]["channels"]["shop"]


# Orders ----------------------------------------------------------------------------------------

TIERS = [{"up_to_g": 50, "charged": 2, "cost": 1}, {"up_to_g": 100, "charged": 4, "cost": 3}, {"charged": 9, "cost": 8}]


@pytest.mark.parametrize(
    ("units", "packing_g", "cost"),
    [(2, "10", 1), (2, "10.0000000005", 1), (2, "10.1", 3), (4, "20", 3), (5, "0", 3), (5, "0.1", 8)],
)
def test_postage_by_the_mass_of_an_order(files, prices, units, packing_g, cost):
    shop(files, postage=TIERS, units_per_order=units, packing_g=packing_g)
    found = prices(files)["shop"]
    assert found["order_g"] == 20 * units + Fraction(packing_g)
    assert found["order_cost"] == Fraction(cost, units)
    assert found["postage_income"] == Fraction({1: 2, 3: 4, 8: 9}[cost], units)


def test_an_order_heavier_than_all_is_an_error(files, prices):
    shop(files, postage=TIERS[:2], units_per_order=5)
    assert prices(files)["shop"]["order_g"] == 100
    shop(files, packing_g=1)
    with pytest.raises(TooHeavy, match="knob: 101"):
        prices(files)


def test_a_product_has_its_own_order_size(files, prices):
    shop(files, packing=6, units_per_order=2)
    assert prices(files)["shop"]["order_cost"] == 3
    files["products/knob.toml"]["in_channel"] = {"shop": {"units_per_order": 4}}
    assert prices(files)["shop"]["order_cost"] == Fraction("1.5")


def test_packing_of_a_set_and_what_comes_back(files, prices):
    shop(
        files, packing=6, units_per_order=2, packing_per_set="0.4", refund_share="0.1", refund_cost=3, refund_loss="0.5"
    )
    found = prices(files)["shop"]
    # 3.00 of packing, 0.40 more for each, a tenth comes back: 3.00 and half of 13.60.
    assert found["order_cost"] == Fraction("4.38")
    assert found["required_price"] == Fraction("17.98") / Fraction("0.8")


def test_hired_help_on_orders_earns_nothing_for_the_maker(files, prices):
    files["workshop.toml"]["labour"]["helper"] = {"rate": 20, "own": False}
    shop(files, minutes=6, labour="helper", policy={"earn": 64})
    found = prices(files)["shop"]
    # 2.00 for the helper, 0.60 of overhead; 6.40 to be earned in 0.1 h, 3.00 of it the labour in the piece.
    assert (found["order_labour_cost"], found["order_cost"]) == (2, Fraction("2.6"))
    assert found["price"] == Fraction("13.6") + Fraction("2.6") + Fraction("3.4")
    assert found["earned_per_hour"] == 64
    shop(files, labour="bench")
    found = prices(files)["shop"]
    # The maker's own: 3.60 on the order, 12.80 to be earned in 0.2 h, 6.00 of it labour.
    assert found["price"] == Fraction("13.6") + Fraction("3.6") + Fraction("6.8")
    files["workshop.toml"]["labour"]["bench"]["own"] = False
    shop(files, policy={"markup": 0})
    assert prices(files)["shop"]["earned_per_hour"] is None


# Currencies ------------------------------------------------------------------------------------


def test_a_channel_abroad(files, prices):
    files["metal_prices.csv"].append(DOLLAR)
    shop(files, currency="USD", tax={"rate": "0.25", "included": True}, discount="0.1")
    shop(files, postage={"charged": 5, "cost": 2}, packing=1, policy={"fixed": 50})
    shop(files, fees=[{"name": "sale", "rate": "0.1", "fixed": 1}])
    found = prices(files)["shop"]
    assert (found["price"], found["ex_tax_price"], found["paid"]) == (50, 40, 45)  # dollars
    assert found["net_sales"] == Fraction("28.8")  # 36 dollars
    assert found["selling_fees"] == Fraction("4.4")  # 4.50 and 1.00 dollars
    assert found["postage_income"] == Fraction("3.2")  # 4 dollars
    assert found["order_cost"] == 3  # pounds
    assert found["net_receipts"] == Fraction("24.6")
    assert found["profit"] == 11
    assert found["margin"] == Fraction(11) / Fraction("28.8")
    assert found["times_melt_value"] == Fraction("3.2")  # 40 dollars are 32 pounds, of 10
    assert (found["channel_rate"], found["binds"]) == (Fraction("0.8"), "fixed")


@pytest.mark.parametrize(
    ("policy", "price"),
    [
        ({"margin": "0.2"}, Fraction("21.25")),  # 17.00
        ({"markup": "0.25"}, Fraction("21.25")),
        ({"earn": 64}, Fraction("21.25")),  # 3.40 over the labour, in pounds
        ({"multiple": 2}, 34),  # 27.20
        ({"metal_multiple": 2, "work_multiple": 3}, Fraction("38.5")),  # 30.80
        ({"keystone_of": "market", "multiple": "1.5"}, Fraction("37.5")),  # of 20.00
    ],
)
def test_policies_abroad(files, prices, policy, price):
    files["metal_prices.csv"].append(DOLLAR)
    files["channels.toml"]["channels"]["market"] = {"audience": "retail", "policy": {"fixed": 20}}
    shop(files, currency="USD", policy=policy)
    assert prices(files)["shop"]["required_price"] == price


def test_a_price_of_another_currency_is_rounded_to_its_own_minor_unit(files, prices):
    files["metal_prices.csv"].append(csv_line(0, "JPY", Decimal("0.005"), "unit", "GBP"))
    files["metal_prices.csv"].append(csv_line(0, "KWD", Decimal("2.6"), "unit", "GBP"))
    shop(files, currency="JPY", policy={"multiple": "1.0001"})
    assert prices(files)["shop"]["price"] == 2721  # 13.60136 is 2720.272 yen
    shop(files, currency="KWD", policy={"multiple": 1})
    assert prices(files)["shop"]["price"] == Fraction("5.231")  # 13.60 / 2.6 = 5.2307…


def test_least_price_fees_and_steps_abroad_are_in_the_channels_currency(files, prices):
    files["metal_prices.csv"].append(DOLLAR)
    steps = {"step": 10, "steps_by_price": [{"below": 22, "step": 3}]}
    shop(files, currency="USD", rounding=steps)
    assert prices(files)["shop"]["price"] == 24  # 21.25 dollars in steps of 3
    shop(files, fees=[{"name": "sale", "rate": "0.5", "max": 1}])
    # 0.8 x 0.8 P less 0.80 is 13.60: 22.50 dollars, in steps of 10.
    assert prices(files)["shop"]["required_price"] == Fraction("22.5")
    assert prices(files)["shop"]["price"] == 30
    shop(files, least_price=41)
    assert (prices(files)["shop"]["price"], prices(files)["shop"]["binds"]) == (50, "least_price")


def test_a_ladder_over_two_currencies(files, prices):
    files["metal_prices.csv"].append(DOLLAR)
    channels = files["channels.toml"]["channels"]
    fixed = {"audience": "wholesale", "policy": {"fixed": 20}}
    channels |= {"trade": fixed, "trade abroad": fixed | {"currency": "USD"}}
    channels["abroad"] = {"audience": "retail", "currency": "USD", "policy": {"multiple": 1}, "rounding": {"step": 7}}
    channels["fair abroad"] = channels["abroad"] | {"rounding": {"step": 60}}
    channels["market"] = {"audience": "retail", "policy": {"multiple": 4}}
    files["channels.toml"]["ladder"] = {"keystone": 2}
    found = prices(files)
    # Twice 20 pounds (20 dollars are 16) is 40 pounds or 50 dollars.
    decided = {name: (price["price"], price["binds"]) for name, price in found.items()}
    assert decided["shop"] == (40, "keystone")
    assert decided["abroad"] == (56, "keystone")
    assert decided["fair abroad"] == (60, "policy")  # 17.00 dollars, in one step of 60
    assert decided["market"] == (Fraction("54.4"), "policy")
    files["channels.toml"]["ladder"]["one_retail_price"] = True
    decided = {name: (price["price"], price["binds"]) for name, price in prices(files).items()}
    assert decided["shop"] == decided["market"][:1] + ("one_retail_price",) == (Fraction("54.4"), "one_retail_price")
    assert decided["abroad"] == (60, "one_retail_price")
    files["channels.toml"]["channels"]["trade abroad"]["policy"] = {"fixed": 40}
    # 40 dollars are 32 pounds: twice that is 64 pounds or 80 dollars.
    del files["channels.toml"]["ladder"]["one_retail_price"]
    decided = {name: price["price"] for name, price in prices(files).items()}
    assert (decided["shop"], decided["abroad"], decided["fair abroad"]) == (64, 84, 120)


def test_a_channel_abroad_is_the_same_channel_at_home_in_other_money(files, prices):
    files["metal_prices.csv"].append(DOLLAR)
    files["products/knob.toml"]["in_channel"] = {"shop": {"least_price": 3}}
    stated = {"postage": {"charged": 5, "cost": 3}, "tax": {"rate": "0.2", "included": True}, "packing": 1}
    fee = {"name": "sale", "rate": "0.1", "fixed": "0.5", "min": 1, "max": 40, "of": "order"}
    shop(files, currency="USD", **stated, fees=[fee])
    abroad = prices(files)["shop"]
    del files["channels.toml"]["channels"]["shop"]["currency"]
    # What buyers pay and are charged for, times 0.8.
    home = {"name": "sale", "rate": "0.1", "fixed": "0.4", "min": "0.8", "max": 32, "of": "order"}
    shop(files, postage={"charged": 4, "cost": 3}, fees=[home])
    at_home = prices(files)["shop"]
    assert abroad["required_price"] == at_home["required_price"] / Fraction("0.8")


# Quotations ------------------------------------------------------------------------------------


def test_a_quotation_is_one_order_of_a_run(files, offers):
    pour = files["processes.toml"]["processes"]["cast"][0]
    pour |= {"together": 4}  # 6 minutes, 3.60 with overhead, for up to four
    shop(files, policy={"margin": "0.2"}, discount="0.5", units_per_order=3, packing=8)
    files["products/knob.toml"]["in_channel"] = {"shop": {"units_per_order": 2}}
    quoted = offers(files, "shop", 8, 1, 2)
    # In force: 10.00 and 0.90, packing 8.00 on two, all of it 0.8 of half a price: 37.25.
    assert quoted["price_in_force"] == Fraction("37.25")
    assert [offer["quantity"] for offer in quoted["offers"]] == [1, 2, 8]
    one, two, eight = quoted["offers"]
    assert (one["unit_cost"], two["unit_cost"], eight["unit_cost"]) == (
        Fraction("13.6"),  # a whole load for one
        Fraction("11.8"),  # and for two
        Fraction("10.9"),  # two full loads
    )
    # One order, no discount: (13.60 + 8.00) / 0.8, (11.80 + 4.00) / 0.8, (10.90 + 1.00) / 0.8.
    assert [offer["required_price"] for offer in quoted["offers"]] == [27, Fraction("19.75"), Fraction("14.875")]
    assert [offer["price"] for offer in quoted["offers"]] == [27, Fraction("19.75"), Fraction("14.88")]
    assert {offer["binds"] for offer in quoted["offers"]} == {"policy"}
    assert two["net_sales"] == Fraction("19.75")
    assert (two["sum"], two["order_g"], two["margin"]) == (Fraction("39.5"), 40, Fraction("0.2"))


def test_a_quotation_is_bounded_by_the_price_in_force_and_by_smaller_quantities(files, offers):
    # Three to a load of 6.00: alone 6.00, two 3.00 each, three 2.00, four 3.00, six 2.00.
    files["processes.toml"]["processes"]["cast"].append({"name": "fire", "per": "piece", "together": 3, "fee": 6})
    shop(files, policy={"multiple": 1}, minimum_order=35)
    quoted = offers(files, "shop", 4, 3, 2)
    assert quoted["price_in_force"] == Fraction("15.6")
    found = [(offer["asked"], offer["price"], offer["binds"], offer["sum"]) for offer in quoted["offers"]]
    assert found == [
        (Fraction("16.6"), Fraction("15.6"), "price_in_force", Fraction("31.2")),
        (Fraction("15.6"), Fraction("15.6"), "policy", Fraction("46.8")),
        (Fraction("16.6"), Fraction("15.6"), "price_in_force", Fraction("62.4")),
    ]
    assert [offer["below_minimum_order"] for offer in quoted["offers"]] == [True, False, False]
    assert quoted["offers"][0]["profit"] == -1  # the sheet says what the offer brings
    # With packing of 6.00 to an order of one, 21.60 is in force, and a smaller quantity binds.
    shop(files, policy={"markup": 0}, packing=6)
    quoted = offers(files, "shop", 12, 13)
    assert [(offer["asked"], offer["price"], offer["binds"]) for offer in quoted["offers"]] == [
        (Fraction("16.1"), Fraction("16.1"), "policy"),  # 13.60 + 2.00 + 0.50
        # Five loads for thirteen: 30.00 / 13 and 6.00 / 13 are 2.769…
        (Fraction("16.37"), Fraction("16.1"), "smaller_quantity"),
    ]


def test_with_the_design_charged_to_it_only_smaller_quantities_bound_a_quotation(files, offers):
    files["processes.toml"]["processes"]["cast"].insert(0, {"name": "draw", "per": "design", "fee": 100})
    shop(files, policy={"multiple": 1})
    quoted = offers(files, "shop", 5, 20, charge_design=True)
    assert quoted["price_in_force"] == Fraction("15.6")  # 100 on fifty
    assert [(offer["price"], offer["binds"]) for offer in quoted["offers"]] == [
        (Fraction("33.6"), "policy"),  # 20.00 each
        (Fraction("18.6"), "policy"),  # 5.00 each
    ]


def test_a_quotation_follows_another_channel_at_the_same_quantity_and_no_ladder(files, offers):
    channels = files["channels.toml"]["channels"]
    files["processes.toml"]["processes"]["cast"].append({"name": "fire", "per": "piece", "together": 8, "fee": 8})
    channels["trade"] = {"audience": "wholesale", "policy": {"multiple": 1}, "rounding": {"step": 2}}
    channels["trade"]["minimum_order"] = 1000
    shop(files, policy={"keystone_of": "trade", "multiple": "1.5"})
    files["channels.toml"]["ladder"] = {"keystone": 3}
    quoted = offers(files, "shop", 1, 2, 8)
    # In the steady state 13.60 and 1.00: 16.00 for the trade, 24.00 lifted by the ladder to 48.00.
    assert quoted["price_in_force"] == 48
    # Alone 13.60 and 8.00: 22.00, two 13.60 and 4.00: 18.00, eight 14.60: 16.00.
    assert [(offer["price"], offer["binds"]) for offer in quoted["offers"]] == [
        (33, "policy"),
        (27, "policy"),
        (24, "policy"),
    ]


def test_a_quotation_with_a_least_price_or_a_fixed_one(files, offers):
    shop(files, least_price="19.5", rounding={"step": 1})
    (offer,) = offers(files, "shop", 4)["offers"]
    assert (offer["required_price"], offer["asked"], offer["binds"]) == (17, 20, "least_price")
    shop(files, policy={"fixed": "18.3"})
    (offer,) = offers(files, "shop", 4)["offers"]
    assert (offer["required_price"], offer["price"], offer["binds"]) == (Fraction("18.3"), Fraction("18.3"), "fixed")


def test_a_quotation_abroad_and_by_mass(files, offers):
    files["metal_prices.csv"].append(DOLLAR)
    shop(files, currency="USD", policy={"markup": 0}, minimum_order=60, postage=TIERS)
    quoted = offers(files, "shop", 2, 4)
    assert quoted["currency"] == "USD"
    two, four = quoted["offers"]
    # 40 g: 0.8 (P + 2 / 2) = 13.60 + 1 / 2; 80 g: 0.8 (P + 4 / 4) = 13.60 + 3 / 4.
    assert two["required_price"] == Fraction("16.625")
    assert four["required_price"] == Fraction("16.9375")
    assert (two["price"], four["price"], four["binds"]) == (Fraction("16.25"), Fraction("16.25"), "price_in_force")
    assert [offer["below_minimum_order"] for offer in quoted["offers"]] == [True, False]  # 32.50 and 65.00 dollars
