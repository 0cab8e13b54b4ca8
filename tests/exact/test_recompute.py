"""The exact re-computation on two folders whose exact results are published, without the engine."""

import json
from datetime import date
from fractions import Fraction
from pathlib import Path

import pytest

from .compare import differences
from .recompute import recompute
from .recompute_quote import requote

TIN_LANE = Path(__file__).parent / "tin_lane"
ALDER_WHARF = Path(__file__).parent / "alder_wharf"
DAY = date(2026, 11, 20)
PRINTED = 1e-12  # what is published is the exact number, printed to the digits of a float64


def read(path):
    return json.loads(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize(
    ("folder", "run", "expected", "variants"),
    [
        (TIN_LANE, None, TIN_LANE / "expected.json", 7),
        (TIN_LANE, 25, TIN_LANE / "expected_run_25.json", 7),
        (ALDER_WHARF, None, ALDER_WHARF / "expected.json", 15),
        (ALDER_WHARF, 25, ALDER_WHARF / "expected_run_25.json", 15),
    ],
)
def test_published_variants(folder, run, expected, variants):
    """All four files were computed exactly, apart from this project, from the folders."""
    published = read(expected)
    exact = recompute(folder, DAY, run)
    assert differences(published, exact, relative=PRINTED, absolute=1e-15) == []
    assert [row["sku"] for row in published] == [row["sku"] for row in exact]
    assert len(published) == variants


@pytest.mark.parametrize("place", range(7))
def test_published_quotations(place):
    published = read(ALDER_WHARF / "expected_quote.json")[place]
    quantities = [int(offer["quantity"]) for offer in published["offers"]]
    asked = [published[key] for key in ("sku", "alloy", "channel")]
    for named in (quantities, quantities[::-1]):
        exact = requote(ALDER_WHARF, DAY, *asked, named)
        # A quotation compares as a variant does: it has a sku and an alloy.
        assert differences([published], [exact], relative=PRINTED, absolute=1e-15) == []


def test_on_floats_the_same_lines_give_nearly_the_same():
    exact, floating = recompute(ALDER_WHARF, DAY, 25), recompute(ALDER_WHARF, DAY, 25, number=float)
    assert differences(floating, exact, relative=1e-11) == []
    assert_fractions(exact)


def test_each_figure_that_is_left_says_of_which_sums():
    """Net sales, postage, fees and the order's cost; the unit cost too; wages too, which an hour's earnings hold."""
    for row in recompute(TIN_LANE, DAY, 25):
        for at in row["prices"].values():
            order = at["net_sales"] + at["postage_income"] + at["selling_fees"] + at["order_cost"]
            whole = order + row["unit_cost"]
            assert (at["net_receipts"].of, at["profit"].of) == (order, whole)
            assert at["margin"].of == whole / at["net_sales"]
            if at["earned_per_hour"] is not None:  # own wages stand in both, so that they go out of the difference
                hours = (whole - at["profit"]) / (at["earned_per_hour"].of - at["earned_per_hour"])
                assert at["earned_per_hour"].of * hours >= whole
                assert hours >= row["own_labour_hours"]


def assert_fractions(value):
    """No float has slipped in, at any depth."""
    for inner in value.values() if isinstance(value, dict) else value if isinstance(value, list) else ():
        assert_fractions(inner)
    assert isinstance(value, dict | list | str | Fraction | None | bool)
