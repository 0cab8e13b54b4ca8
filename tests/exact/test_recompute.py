"""The exact re-computation on the Tin Lane folder and on generated workshops, without the engine."""

import json
import tomllib
from datetime import date
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings

from .compare import differences
from .near_ties import near_ties
from .recompute import recompute
from .recompute_folder import merged, read_folder
from .recompute_prices import at_price, rule_for
from .workshop_writer import toml_text, write
from .workshops import workshops

TIN_LANE = Path(__file__).parent / "tin_lane"
LONG = settings(max_examples=300, deadline=None, suppress_health_check=[HealthCheck.too_slow])
SHORT = settings(
    max_examples=60, deadline=None, suppress_health_check=[HealthCheck.filter_too_much, HealthCheck.too_slow]
)


@pytest.mark.parametrize(("run", "expected"), [(None, "expected.json"), (25, "expected_run_25.json")])
def test_tin_lane(run, expected):
    """Both files were computed exactly, apart from this project, from the folder beside them."""
    published = json.loads((TIN_LANE / expected).read_text(encoding="utf-8"))
    assert differences(published, recompute(TIN_LANE, date(2026, 11, 20), run)) == []
    assert len(published) == 7


@LONG
@given(workshops())
def test_generated_workshops(workshop):
    """Metal is conserved, what a policy asks comes back, and a run is never cheaper than the steady state: exactly."""
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        variants = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design)
        steady = recompute(folder, workshop.as_of)
        read = read_folder(folder, workshop.as_of, Fraction)
    products = {product["sku"]: product for product in read.products}
    assert len(variants) == sum(len(product["alloys"]) for product in products.values())
    for variant, lasting in zip(variants, steady, strict=True):
        assert_only_fractions(variant)
        assert_conserved(variant)
        product = products[variant["sku"]]
        figures = merged(product, product.get("for_alloy", {}).get(variant["alloy"], {}))
        for name, price in variant["prices"].items():
            assert_asked_comes_back(read, figures, variant, name, price["required_price"])
        if not workshop.charge_design:
            # A count may be taken as whole that is 1e-9 more.
            assert variant["unit_cost"] >= lasting["unit_cost"] * (1 - Fraction(1, 10**8))


def assert_only_fractions(value):
    """No float has slipped in, at any depth."""
    if isinstance(value, dict):
        for inner in value.values():
            assert_only_fractions(inner)
    elif isinstance(value, list):
        for inner in value:
            assert_only_fractions(inner)
    else:
        assert value is None or isinstance(value, str | Fraction)


def assert_conserved(variant):
    """What is bought is in the piece, on the floor, in the crucible's dross, sold or lost."""
    gone = ("finished_g", "removed_g", "melt_lost_g", "surplus_g", "reject_lost_g")
    assert variant["fresh_g"] == sum(variant[quantity] for quantity in gone)
    assert min(variant[quantity] for quantity in (*gone, "fresh_g", "reused_g", "caught_g")) >= 0


def assert_asked_comes_back(read, figures, variant, name, required):
    """The required price brings the margin, markup or earnings that were asked; at 0 it may bring more."""
    policy = rule_for(read, figures, name, "policy")
    at = at_price(read, read.channels[name], variant, required)
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


@SHORT
@given(near_ties())
def test_near_ties_fall_where_they_were_aimed(workshop):
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        variant = recompute(folder, workshop.as_of, workshop.run)[0]
        read = read_folder(folder, workshop.as_of, Fraction)
    shop, market = variant["prices"]["shop"], variant["prices"]["market"]
    steps = {step["name"]: step for step in variant["steps"]}
    rounding = read.channels["shop"].get("rounding", {})
    if workshop.tie == "rounding up":
        assert shop["price"] == shop["required_price"]
    elif workshop.tie == "nearest":
        assert shop["price"] == shop["required_price"] + rounding["step"] / 2
    elif workshop.tie == "band":
        assert shop["required_price"] == rounding["steps_by_price"][0]["below"]
        assert (shop["price"] - rounding["ending"]) % rounding["step"] == 0
    elif workshop.tie == "least price":
        assert shop["binds"] == "policy"
        assert shop["required_price"] == read.channels["shop"]["least_price"]
    elif workshop.tie == "keystone":
        keystone = read.ladder["keystone"] * variant["prices"]["trade"]["ex_tax_price"]
        assert shop["binds"] == "policy"
        assert 0 <= shop["ex_tax_price"] - keystone < Fraction(1, 1000)
    elif workshop.tie == "one retail price":
        assert (shop["price"], shop["binds"], market["binds"]) == (market["price"], "policy", "least_price")
    elif workshop.tie in ("from_g", "from_g weighed"):
        assert steps["mark"]["times"] == 1
    elif workshop.tie == "price of nothing":
        assert (shop["price"], shop["margin"]) == (0, None)
    elif workshop.tie == "flasks":
        assert (workshop.run * steps["pour"]["units"]).denominator == 1
        assert variant["flasks_per_set"] == steps["pour"]["units"]
    else:
        name = {"loads": "print", "flask loads": "pour"}[workshop.tie]
        assert (workshop.run * steps[name]["times"]).denominator == 1
        together = 4 if name == "print" else read.processes["cast"][1]["together"]
        assert steps[name]["times"] == steps[name]["units"] / together
