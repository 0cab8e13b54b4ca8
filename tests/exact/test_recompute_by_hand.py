"""The exact re-computation itself, on one small workshop whose every figure is reckoned in the test."""

from copy import deepcopy
from decimal import Decimal
from fractions import Fraction

import pytest

from .recompute import recompute
from .workshop_writer import Workshop, write
from .workshops import AS_OF, csv_line

# One knob of 2 cm3 at 10 g/cm3 is 20 g, at 0.50 a gram 10.00 of metal; 6 minutes of 30.00 an hour are 3.00,
# with 600 / 100 an hour of overhead 0.60: unit_cost is 13.60. Sold without tax, postage or work on an order.
UNIT_COST = Fraction("13.6")
FILES = {
    "workshop.toml": {
        "name": "Fernhollow Castings",
        "currency": "GBP",
        "labour": {"bench": {"rate": 30}},
        "overhead": {"per_month": 600, "productive_hours": 100},
        "energy": {"price_per_kwh": Decimal("0.3")},
        "materials": {"wax": {"pack_price": 50, "pack_size": 1000, "unit": "g"}},
        "flasks": {
            "medium": {
                "diameter_mm": 100,
                "height_mm": 150,
                "material": "wax",
                "water_per_100": 40,
                "slurry_density": Decimal("1.8"),
                "powder_g": 1000,
                "button_cm3": 1,
            }
        },
    },
    "alloys.toml": {
        "alloys": {"silver": {"name": "Silver", "density": 10, "composition": {"Ag": 1}, "priced_by": "content"}}
    },
    "processes.toml": {
        "processes": {
            "cast": [{"name": "pour", "per": "piece", "takes_metal": "pour", "labour": "bench", "minutes": 6}]
        }
    },
    "channels.toml": {
        "channels": {"shop": {"audience": "retail", "policy": {"margin": Decimal("0.2")}}},
    },
    "metal_prices.csv": [csv_line(0, "Ag", Decimal("0.5"), "g", "GBP")],
    "products/knob.toml": {
        "sku": "knob",
        "name": "Knob",
        "alloys": ["silver"],
        "process": "cast",
        "flask": "medium",
        "pieces_per_flask": 3,
        "sprue_ratio": 0,
        "expected_sales": 50,
        "castings": [{"name": "knob", "count": 1, "volume_cm3": 2}],
    },
}


@pytest.fixture
def files():
    return deepcopy(FILES)


@pytest.fixture
def the_variant(tmp_path):
    def compute(files, run=None, charge_design=False):
        return recompute(write(Workshop(files, AS_OF), tmp_path), AS_OF, run, charge_design)[0]

    return compute


def test_cost_and_margin(files, the_variant):
    variant = the_variant(files)
    assert (variant["metal_cost"], variant["labour_cost"], variant["overhead_cost"]) == (10, 3, Fraction("0.6"))
    assert variant["unit_cost"] == UNIT_COST
    price = variant["prices"]["shop"]
    assert price["required_price"] == price["price"] == 17  # 13.60 / (1 - 0.2)
    assert (price["profit"], price["margin"]) == (Fraction("3.4"), Fraction("0.2"))
    assert price["earned_per_hour"] == 64  # (3.40 + 3.00) / 0.1 h
    assert price["times_melt_value"] == Fraction("1.7")  # 17 / (20 g x 0.50)


@pytest.mark.parametrize(
    ("channel", "price"),
    [
        # Running: (0.8 - 0.1) P = 13.6, a fee of 1.94; held at 1: 0.8 P = 14.6; held at 3: 0.8 P = 16.6, 10 % is 2.075.
        ({"fees": [{"name": "sale", "rate": "0.1"}]}, UNIT_COST / Fraction("0.7")),
        ({"fees": [{"name": "sale", "rate": "0.1", "max": 1}]}, Fraction("18.25")),
        ({"fees": [{"name": "sale", "rate": "0.1", "min": 3}]}, Fraction("20.75")),
        ({"fees": [{"name": "sale", "rate": 0, "min": 3}]}, Fraction("20.75")),
        # Half the orders: 0.8 P = 13.6 + (1 + 0.2) / 2.
        ({"fees": [{"name": "sale", "rate": "0.1", "max": 1, "fixed": "0.2", "share": "0.5"}]}, Fraction("17.75")),
        # Two sets an order, 5 an order: 0.8 P = 13.6 + 2.5, 10 % of two is 4.03; 5 a set: 0.8 P = 18.6.
        ({"units_per_order": 2, "fees": [{"name": "sale", "rate": "0.1", "min": 5}]}, Fraction("20.125")),
        ({"units_per_order": 2, "fees": [{"name": "sale", "min": 5, "per": "set"}]}, Fraction("23.25")),
        # 20 % tax in the price, postage of 3.60 is 3.00 without it: 0.8 N + 3 - 0.1 (N + 3) = 13.6, P = 1.2 N.
        (
            {
                "tax": {"rate": "0.2", "included": True},
                "postage": {"charged": "3.6"},
                "fees": [{"name": "sale", "rate": "0.1", "of": "order", "taxed": False}],
            },
            Fraction("10.9") / Fraction("0.7") * Fraction("1.2"),
        ),
        # The same with tax on top and the fee on all that is paid: 0.8 P + 3 - 0.1 (1.2 P + 3.6) = 13.6.
        (
            {
                "tax": {"rate": "0.2", "included": False},
                "postage": {"charged": "3.6"},
                "fees": [{"name": "sale", "rate": "0.1", "of": "order"}],
            },
            Fraction("10.96") / Fraction("0.68"),
        ),
        # A tenth off; an order takes 6 minutes (3.00 and 0.60), packing 1, postage 2; refunds are 0.05 x 4.
        (
            {"discount": "0.1", "minutes": 6, "labour": "bench", "packing": 1, "postage": {"charged": 0, "cost": 2}}
            | {"refund_share": "0.05", "refund_cost": 4},
            Fraction("20.4") / Fraction("0.72"),
        ),
        ({"policy": {"markup": "0.25"}}, 17),
        ({"policy": {"earn": 64}}, 17),  # 64 x 0.1 h less 3.00 of labour is a profit of 3.40
        ({"policy": {"metal_multiple": 2, "work_multiple": 3}}, Fraction("30.8")),  # 2 x 10 + 3 x 3.60
        ({"policy": {"multiple": 2}, "tax": {"rate": "0.2", "included": True}}, Fraction("32.64")),
        ({"policy": {"markup": 0}, "postage": {"charged": 20}}, 0),  # the root is below 0
    ],
)
def test_required_price(files, the_variant, channel, price):
    files["channels.toml"]["channels"]["shop"] |= as_decimals(channel)
    assert the_variant(files)["prices"]["shop"]["required_price"] == price


@pytest.mark.parametrize(
    ("channel", "price", "binds"),
    [  # 17.00 is asked
        ({"rounding": {"step": 5}}, 20, "policy"),
        ({"rounding": {"step": 5, "direction": "nearest"}}, 15, "policy"),
        ({"rounding": {"step": 4, "ending": 3, "direction": "nearest"}}, 19, "policy"),  # 15 and 19 are equally near
        ({"rounding": {"step": "0.5", "ending": "1.9"}}, Fraction("17.4"), "policy"),
        ({"rounding": {"step": 40, "ending": 39, "direction": "nearest"}}, 39, "policy"),  # none below is positive
        (
            {"rounding": {"step": 10, "steps_by_price": [{"below": 17, "step": 7}, {"below": 18, "step": 3}]}},
            18,
            "policy",
        ),
        ({"least_price": "18.2", "rounding": {"step": 1, "direction": "nearest"}}, 19, "least_price"),
        # By the letter: 17 is the greater, and the nearest 5 of it is below the least price.
        ({"least_price": 16, "rounding": {"step": 5, "direction": "nearest"}}, 15, "policy"),
        ({"policy": {"fixed": "9.99"}, "least_price": 12, "rounding": {"step": 5}}, Fraction("9.99"), "fixed"),
    ],
)
def test_rounding(files, the_variant, channel, price, binds):
    files["channels.toml"]["channels"]["shop"] |= as_decimals(channel)
    found = the_variant(files)["prices"]["shop"]
    assert (found["price"], found["binds"]) == (price, binds)


def test_ladder_lifts_over_wholesale_and_then_to_one_price(files, the_variant):
    channels = files["channels.toml"]["channels"]
    channels["trade"] = {"audience": "wholesale", "policy": {"fixed": 20}}
    channels["stall"] = {"audience": "retail", "policy": {"fixed": 30}}
    channels["market"] = {"audience": "retail", "policy": {"multiple": 1}, "rounding": {"step": 25}}
    channels["market"]["tax"] = {"rate": Decimal("0.25"), "included": True}
    files["channels.toml"]["ladder"] = {"keystone": 2}
    decided = {name: (price["price"], price["binds"]) for name, price in the_variant(files)["prices"].items()}
    # Twice 20 is 40, in the market 50 with its tax; the stall's price is fixed.
    assert decided["shop"] == (40, "keystone")
    assert decided["market"] == (50, "keystone")
    assert decided["stall"] == (30, "fixed")
    files["channels.toml"]["ladder"]["one_retail_price"] = True
    decided = {name: (price["price"], price["binds"]) for name, price in the_variant(files)["prices"].items()}
    assert decided["shop"] == (50, "one_retail_price")
    assert decided["market"] == (50, "keystone")


def test_keystone_of_a_channel_it_is_not_sold_in(files, the_variant):
    channels = files["channels.toml"]["channels"]
    channels["trade"] = {"audience": "wholesale", "policy": {"multiple": 1}, "rounding": {"step": 5}}
    channels["shop"] |= {"policy": {"keystone_of": "trade", "multiple": 2}}
    files["products/knob.toml"]["sold_in"] = ["shop"]
    prices = the_variant(files)["prices"]
    assert list(prices) == ["shop"]
    assert prices["shop"]["price"] == 30  # twice 13.60 rounded up to 15


def test_quotes_and_exchange(files, the_variant):
    files["metal_prices.csv"] = [
        csv_line(3, "USD", Decimal("0.7"), "unit", "GBP"),
        csv_line(1, "USD", Decimal("0.8"), "unit", "GBP"),
        csv_line(1, "USD", Decimal("0.5"), "unit", "GBP"),  # the last of the newest day counts
        csv_line(-1, "USD", Decimal("9"), "unit", "GBP"),  # tomorrow's does not
        csv_line(0, "Ag", Decimal("62.2069536"), "ozt", "USD"),  # two dollars a gram
        csv_line(2, "Ag", Decimal("99"), "ozt", "USD"),
    ]
    assert the_variant(files)["melt_value_per_g"] == 1


def test_a_run_makes_whole_what_is_done_together(files, the_variant):
    files["processes.toml"]["processes"]["cast"][:0] = as_decimals(
        [
            {"name": "draw", "per": "design", "labour": "bench", "minutes": 60},
            {"name": "cure", "per": "piece", "together": 3, "fee": 1, "good": "0.5"},
            {"name": "invest", "per": "flask", "uses": [{"material": "wax", "quantity": "flask"}]},
            {"name": "burn out", "per": "flask", "together": 2, "fee": 1},
            {"name": "assay", "per": "set", "together": 3, "shared": True, "fee": 1},
        ]
    )
    files["processes.toml"]["processes"]["cast"][-1] |= {"per": "flask", "good": Decimal("0.8")}
    steady = the_variant(files)
    assert [step["times"] for step in steady["steps"]] == [
        Fraction(1, 50),  # expected_sales
        Fraction(5, 6),  # 1 / 0.8 / 0.5 begun, three together
        Fraction(5, 12),  # 1.25 begun, three to a flask
        Fraction(5, 24),
        Fraction(5, 12),
        Fraction(5, 12),
    ]
    assert steady["sprue_g"] == Fraction(50, 12)  # a button of 10 g for each flask
    run = the_variant(files, run=4)
    assert [step["times"] for step in run["steps"]] == [
        Fraction(1, 50),
        1,  # 10 begun in 4 loads
        Fraction(2, 4),  # 5 begun in 2 flasks
        Fraction(1, 4),  # both in one load
        Fraction(5, 12),  # shared
        Fraction(2, 4),
    ]
    assert run["sprue_g"] == 5
    assert run["material_cost"] == 25  # half a flask of 1000 g at 0.05
    assert the_variant(files, run=4, charge_design=True)["steps"][0]["times"] == Fraction(1, 4)


def test_cut_stock_and_what_is_weighed_finished(files, the_variant):
    files["alloys.toml"]["alloys"]["silver"] |= as_decimals(
        {"premium": "0.5", "stock_premium": "0.1", "stock_fabrication_per_g": "0.05", "melt_loss": "0.1"}
        | {"scrap_payout": "0.8", "scrap_fee_per_g": "0.1", "lemel_payout": "0.5"}
    )
    files["processes.toml"]["processes"]["cast"][0] |= as_decimals(
        {"takes_metal": "cut", "metal_loss": "0.2", "caught": "0.5", "good": "0.8", "rejects": "lost"}
    )
    knob = files["products/knob.toml"]
    knob |= {"sprue_ratio": Decimal("0.4"), "shrinkage": Decimal("0.1")}
    knob["castings"] = [{"name": "knob", "count": 1, "metal_g": 16, "in_alloy": "silver", "weighed": "finished"}]
    variant = the_variant(files)
    assert variant["as_cast_g"] == 20  # 16 / 0.8; no shrinkage on a weighed piece
    assert variant["charge_g"] == variant["fresh_g"] == 35  # 20 / 0.8, two fifths of it offcut; nothing is melted
    assert (variant["removed_g"], variant["caught_g"]) == (5, Fraction("2.5"))  # a fifth of 25 g
    assert variant["rejected_g"] == variant["reject_lost_g"] == 4  # a fifth of 25 g less a fifth
    assert variant["surplus_g"] == 10
    # 35 g at 0.5 x 1.1 + 0.05, less 10 g at 0.5 x 0.8 - 0.1, less 2.5 g at 0.5 x 0.5
    assert variant["metal_cost"] == 35 * Fraction("0.6") - 10 * Fraction("0.3") - Fraction("2.5") * Fraction("0.25")


def test_a_step_from_a_mass_upward_is_done_at_exactly_that_mass(files, the_variant):
    files["processes.toml"]["processes"]["cast"].append({"name": "mark", "per": "set", "fee": 3, "from_g": 20})
    assert the_variant(files)["fee_cost"] == 3
    files["products/knob.toml"]["castings"][0]["volume_cm3"] = Decimal("1.999")
    assert the_variant(files)["fee_cost"] == 0


def test_a_cousin_states_only_what_differs(files, the_variant):
    files["products/knob.toml"] |= {"scale": 2, "steps": {"pour": {"minutes": 12}}}
    files["products/a-cousin.toml"] = {"sku": "a-cousin", "name": "Cousin", "like": "knob", "shrinkage": Decimal("0.5")}
    files["products/a-cousin.toml"]["for_alloy"] = {"silver": {"steps": {"pour": {"good": Decimal("0.5")}}}}
    cousin = the_variant(files)
    assert cousin["sku"] == "a-cousin"
    assert cousin["as_cast_g"] == Fraction("2.5")  # scale is its own, 1; half the length is an eighth of 20 g
    assert cousin["poured_g"] == 5
    assert cousin["labour_cost"] == 12  # 12 minutes for each of two begun


def as_decimals(value):
    """The same value with texts of numbers as decimals."""
    if isinstance(value, dict):
        return {key: as_decimals(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [as_decimals(inner) for inner in value]
    if isinstance(value, str) and value[:1].isdigit():
        return Decimal(value)
    return value
