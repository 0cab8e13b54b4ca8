"""Generated workshops of every shape, recomputed exactly: what must stay true of any of them."""

from __future__ import annotations

import tomllib
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from random import Random
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, settings

from .chooser import RandomChooser
from .kinds import kinds
from .near_ties import RUNS, near_ties
from .recompute import recompute
from .recompute_folder import figures_of, read_folder
from .recompute_prices import at_price, rule_for
from .recompute_quote import requote
from .workshop_writer import toml_text, write
from .workshops import drawn_workshop, workshops

LONG = settings(max_examples=80, deadline=None, suppress_health_check=list(HealthCheck))
SHORT = settings(max_examples=40, deadline=None, suppress_health_check=list(HealthCheck))


@LONG
@given(workshops())
def test_generated_workshops(workshop):
    """Metal is conserved, what a policy asks comes back, and a run is never cheaper than the steady state: exactly."""
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        variants = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design)
        steady = recompute(folder, workshop.as_of)
        read = read_folder(folder, workshop.as_of, Fraction)
    assert [variant["sku"] for variant in variants] == [variant["sku"] for variant in steady]
    assert len({(variant["sku"], variant["alloy"]) for variant in variants}) == len(variants)
    for variant, lasting in zip(variants, steady, strict=True):
        assert_only_fractions(variant)
        assert_conserved(variant)
        product = next(
            product
            for product in read.products
            if variant["sku"] == "-".join(filter(None, (product["sku"], variant.get("size"))))
        )
        figures = figures_of(product, variant["alloy"])
        for name, price in variant["prices"].items():
            assert_asked_comes_back(read, figures, variant, name, price["required_price"])
        if not workshop.charge_design:
            # A count may be taken as whole that is 1e-9 more, in every part of a part.
            assert variant["unit_cost"] >= lasting["unit_cost"] - abs(lasting["unit_cost"]) / 10**7


@SHORT
@given(workshops())
def test_generated_quotations(workshop):
    """No offer is above what bounds it, nor above what is asked, and the order of the quantities changes nothing."""
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        for asked in workshop.quotations:
            named = (asked.sku, asked.alloy, asked.channel)
            quoted = requote(folder, workshop.as_of, *named, list(asked.quantities), asked.charge_design)
            again = requote(folder, workshop.as_of, *named, sorted(asked.quantities), asked.charge_design)
            assert quoted == again
            assert [offer["quantity"] for offer in quoted["offers"]] == sorted(asked.quantities)
            before = None
            for offer in quoted["offers"]:
                assert_only_fractions(offer)
                bounds = [offer["asked"]]
                if not asked.charge_design:
                    bounds.append(quoted["price_in_force"])
                if before is not None:
                    bounds.append(before)
                before = offer["price"]
                assert before == min(bounds)
                assert (offer["binds"] in ("price_in_force", "smaller_quantity")) == (before < offer["asked"])


def assert_only_fractions(value):
    """No float has slipped in, at any depth."""
    if isinstance(value, dict):
        for inner in value.values():
            assert_only_fractions(inner)
    elif isinstance(value, list):
        for inner in value:
            assert_only_fractions(inner)
    else:
        assert value is None or isinstance(value, str | Fraction | bool)


def assert_conserved(variant):
    """What is bought is in the piece, on the floor, in the crucible's dross, sold or lost."""
    gone = ("finished_g", "removed_g", "melt_lost_g", "surplus_g", "reject_lost_g")
    assert variant["fresh_g"] == sum(variant[quantity] for quantity in gone)
    assert min(variant[quantity] for quantity in (*gone, "fresh_g", "reused_g", "caught_g")) >= 0


def assert_asked_comes_back(read, figures, variant, name, required):
    """The required price brings the margin, markup or earnings that were asked; at 0 it may bring more."""
    policy = rule_for(read, figures, name, "policy")
    at = at_price(read, figures, variant, name, required, lambda *_: None)
    if "margin" in policy:
        asked, brought = policy["margin"] * at["net_sales"], at["profit"]
    elif "markup" in policy:
        asked, brought = policy["markup"] * variant["unit_cost"], at["profit"]
    elif "earn" in policy:
        asked, brought = policy["earn"], at["earned_per_hour"]
    else:
        return
    assert brought == asked or (required == 0 and brought > asked)


@SHORT
@given(workshops())
def test_what_is_written_is_what_was_drawn(workshop):
    for name, tables in workshop.files.items():
        if name.endswith(".toml"):
            assert tomllib.loads(toml_text(tables), parse_float=Decimal) == tables


REACHED = {
    *(f"parts {deep} deep" for deep in range(4)),
    *(f"process {process}" for process in ("cast", "sawn", "bought-in", "boxed", "bare")),
    *(f"sizes {standard}" for standard in ("iso", "us", "uk", "lengths", "band_share", "sales", "list")),
    *(
        "part in another alloy",
        "part for some alloys",
        "part that may be spoilt",
        "part of one size",
        "part of all sizes",
    ),
    *("each size priced", "one price for all sizes", "only ever a part", "casting effort", "hired help"),
    *("use microns", "use covers", "use waste", "step holding", "step as_part", "step alloys"),
    *("step from_g per set", "step from_g per piece", "finding premium", "finding other_g", "finding metal_g"),
    *("currency JPY", "currency EUR", "currency KWD", "ladder over three currencies"),
    *(
        "tiers with an end",
        "tiers without an end",
        "channel packing_g",
        "channel packing_per_set",
        "channel refund_loss",
    ),
    *("own policy", "own least_price", "own units_per_order", "channel minimum_order"),
    *("run", "design charged", "steady state", "quotation, bounded", "quotation, design charged"),
}


def test_the_generator_reaches_everything():
    found = set[str]().union(*(kinds(drawn_workshop(RandomChooser(Random(number)))) for number in range(500)))
    assert REACHED - found == set()


@SHORT
@given(near_ties())
def test_near_ties_fall_where_they_were_aimed(workshop):
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        variants = recompute(folder, workshop.as_of, workshop.run)
        read = read_folder(folder, workshop.as_of, Fraction)
        quoted = [
            requote(folder, workshop.as_of, asked.sku, asked.alloy, asked.channel, list(asked.quantities))
            for asked in workshop.quotations
        ]
    variant = variants[0]
    shop, market = variant["prices"]["shop"], variant["prices"]["market"]
    steps = {step["name"]: step for step in variant["steps"]}
    channel = read.channels["shop"]
    rounding = channel.get("rounding", {})
    if workshop.tie == "rounding up":
        assert shop["price"] == shop["required_price"]
    elif workshop.tie == "nearest":
        assert shop["price"] == shop["required_price"] + rounding["step"] / 2
    elif workshop.tie == "band":
        assert shop["required_price"] == rounding["steps_by_price"][0]["below"]
        assert (shop["price"] - rounding["ending"]) % rounding["step"] == 0
    elif workshop.tie == "least price":
        assert shop["binds"] == "policy"
        assert shop["required_price"] == channel["least_price"]
    elif workshop.tie in ("keystone", "keystone abroad"):
        keystone = read.ladder["keystone"] * variant["prices"]["trade"]["ex_tax_price"] / shop["channel_rate"]
        assert shop["binds"] == "policy"
        assert 0 <= shop["ex_tax_price"] - keystone < Fraction(1, 1000)
    elif workshop.tie == "one retail price":
        assert (shop["price"], shop["binds"], market["binds"]) == (market["price"], "policy", "least_price")
    elif workshop.tie in ("from_g", "from_g weighed", "from_g per piece"):
        assert steps["mark"]["times"] == steps["mark"]["units"] > 0
    elif workshop.tie == "tier":
        assert shop["order_g"] == channel["postage"][0]["up_to_g"]
        tax = channel["tax"]["rate"]
        assert shop["postage_income"] == 1 / (1 + tax) / channel["units_per_order"]
    elif workshop.tie == "price of nothing":
        assert (shop["price"], shop["margin"]) == (0, None)
    elif workshop.tie == "minimum order":
        (offer,) = quoted[0]["offers"]
        assert (offer["sum"], offer["below_minimum_order"]) == (channel["minimum_order"], False)
    elif workshop.tie == "price in force":
        for offer in quoted[0]["offers"]:
            assert offer["asked"] == offer["price"] == quoted[0]["price_in_force"]
            assert offer["binds"] == "policy"
    elif workshop.tie == "flasks":
        assert (workshop.run * steps["pour"]["units"]).denominator == 1
        assert variant["flasks_per_set"] == steps["pour"]["units"]
    elif workshop.tie == "flasks of a part":
        # 2.5 of the part are begun for every set; their flasks come out whole without any rounding.
        assert (workshop.run * Fraction("2.5") * steps["pour"]["units"]).denominator == 1
        assert [part["quantity"] for part in variants[1]["parts"]] == [2]
    else:
        name = RUNS[workshop.tie]
        assert (workshop.run * steps[name]["times"]).denominator == 1
        together = 4 if name == "print" else read.processes["cast"][1]["together"]
        assert steps[name]["times"] == steps[name]["units"] / together
