"""The comparison names what differs, and nothing else."""

from copy import deepcopy
from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, settings

from .compare import differences
from .left_of import left_of
from .near_ties import AIMS_WITH_TOLERANCE, near_ties
from .recompute import CloseCall, recompute
from .workshop_writer import write
from .workshops import workshops

EXACT = [
    {
        "sku": "knob",
        "alloy": "brass",
        "unit_cost": Fraction(40, 3),
        "surplus_g": Fraction(0),
        "steps": [{"name": "pour", "times": Fraction(1, 3)}],
        "prices": {"shop": {"price": Fraction(20), "margin": None, "binds": "policy"}},
    }
]


def as_floats(value):
    """The same value as the JSON would give it."""
    if isinstance(value, dict):
        return {key: as_floats(inner) for key, inner in value.items()}
    if isinstance(value, list):
        return [as_floats(inner) for inner in value]
    return float(value) if isinstance(value, Fraction) else value


@pytest.fixture
def got():
    return as_floats(deepcopy(EXACT))


def test_floats_of_the_fractions_agree(got):
    assert differences(got, EXACT) == []
    got[0]["unit_cost"] *= 1 + 0.9e-9
    got[0]["surplus_g"] = -0.9e-9
    assert differences(got, EXACT) == []


@pytest.mark.parametrize(
    ("key", "rows", "change", "told"),
    [
        (
            "parts",
            [{"sku": "hare", "alloy": "silver", "total_g": 4}],
            {"total_g": 5},
            "parts: hare in silver: total_g: 5",
        ),
        ("sizes", [{"size": "L½", "margin": {"shop": 0.5}}], {"margin": {"shop": 0.4}}, "sizes: L½: margin: shop: 0.4"),
        ("offers", [{"quantity": 5, "price": 3}], {"price": 2}, "offers: 5 sets: price: 2"),
        ("parts", [{"sku": "hare", "alloy": "silver"}], {"alloy": "gold"}, "parts: ['hare in gold']"),
    ],
)
def test_parts_sizes_and_offers_are_told_by_name(key, rows, change, told):
    exact = [EXACT[0] | {key: rows}]
    changed = [EXACT[0] | {key: [rows[0] | change]}]
    assert differences(exact, exact) == []
    (found,) = differences(changed, exact)
    assert found.startswith(f"knob in brass: {told}")


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (lambda v: v.update(unit_cost=14.5), "knob in brass: unit_cost: 14.5 instead of 13.333333333333334"),
        (lambda v: v.update(unit_cost=None), "knob in brass: unit_cost: None instead of Fraction(40, 3)"),
        (lambda v: v.update(unit_cost=float("nan")), "knob in brass: unit_cost: nan instead of 13.333333333333334"),
        (lambda v: v.update(surplus_g=1.1e-9), "knob in brass: surplus_g: 1.1e-09 instead of 0.0"),
        (lambda v: v.update(surplus_g=False), "knob in brass: surplus_g: False instead of Fraction(0, 1)"),
        (lambda v: v.pop("unit_cost"), "knob in brass: unit_cost is missing"),
        (lambda v: v.update(unit_price=1), "knob in brass: unit_price is not expected"),
        (lambda v: v["steps"][0].update(name="cut"), "knob in brass: steps: ['cut'] instead of ['pour']"),
        (lambda v: v["steps"][0].update(times=1), "knob in brass: steps: pour: times: 1 instead of 0.3333333333333333"),
        (lambda v: v["prices"].update(trade={}), "knob in brass: prices: trade is not expected"),
        (lambda v: v["prices"]["shop"].update(margin=0.0), "knob in brass: prices: shop: margin: 0.0 instead of None"),
        (
            lambda v: v["prices"]["shop"].update(binds="fixed"),
            "knob in brass: prices: shop: binds: 'fixed' instead of 'policy'",
        ),
    ],
)
def test_each_difference_is_named(got, change, told):
    change(got[0])
    assert differences(got, EXACT) == [told]


#: A profit of 0.5, by 8 hours of work, that is left of takings and costs of a million each.
SUMS = Fraction(2_000_000)
LEFT = [
    EXACT[0]
    | {
        "prices": {
            "shop": {
                "profit": left_of(Fraction(1, 2), SUMS),
                "earned_per_hour": left_of(Fraction(1, 16), SUMS / 8),
                "price": Fraction(1, 2),
            }
        }
    }
]


@pytest.mark.parametrize(
    ("key", "off", "told"),
    [
        ("profit", 2e-9, 0),  # a float64 of 1,000,000 is known to 1.2e-10, a few of them to some 1e-9
        ("profit", 1.9e-3, 0),  # within 1e-9 of 2,000,000
        ("profit", 2.1e-3, 1),
        ("earned_per_hour", 2.4e-4, 0),  # within 1e-9 of 2,000,000 / 8
        ("earned_per_hour", 2.6e-4, 1),
        ("price", 2e-9, 1),  # what is left of nothing is weighed by itself
    ],
)
def test_what_is_left_of_large_sums_is_weighed_by_them(key, off, told):
    changed = as_floats(deepcopy(LEFT))
    changed[0]["prices"]["shop"][key] += off
    assert len(differences(changed, LEFT)) == told


def test_variants_missing_unexpected_and_twice(got):
    assert differences([], EXACT) == ["knob in brass: missing"]
    assert differences(got + got, EXACT) == ["knob in brass: given twice"]
    other = got[0] | {"alloy": "gold"}
    assert differences([*got, other], EXACT) == ["knob in gold: not expected"]


def test_close_calls_leave_out_prices_or_the_variant(got):
    in_shop = CloseCall("knob", "brass", "prices: shop", "edge", "rounding up", Fraction(0))
    in_pour = CloseCall("knob", "brass", "steps: pour", "edge", "whole count", Fraction(0))
    got[0]["prices"]["shop"]["price"] = 21.0
    got[0]["sizes"], exact = [{"size": "M", "margin": {"shop": 0.4}}], [EXACT[0] | {"sizes": [{"size": "M"}]}]
    assert differences(got, exact, close_calls=[in_shop]) == []
    assert differences(got, exact) != []
    del got[0]["sizes"]
    got[0]["unit_cost"] = 14.0
    assert len(differences(got, EXACT, close_calls=[in_shop])) == 1
    assert differences(got, EXACT, close_calls=[in_pour]) == []


@settings(max_examples=30, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(workshops())
def test_the_same_lines_on_float64_agree(workshop):
    """The tolerances are wide enough for float64: what differs at all is a close call."""
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        calls: list[CloseCall] = []
        exact = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design, close_calls=calls)
        floats = recompute(folder, workshop.as_of, workshop.run, workshop.charge_design, number=float)
    assert differences(floats, exact, close_calls=calls) == []


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.filter_too_much])
@given(near_ties())
def test_noise_decides_no_tie_that_has_a_tolerance(workshop):
    """Bare float64 comparisons agree wherever the contract states a tolerance; elsewhere the close calls say so."""
    with TemporaryDirectory() as root:
        folder = write(workshop, Path(root))
        calls: list[CloseCall] = []
        exact = recompute(folder, workshop.as_of, workshop.run, close_calls=calls)
        floats = recompute(folder, workshop.as_of, workshop.run, number=float)
    if workshop.tie in AIMS_WITH_TOLERANCE:
        assert differences(floats, exact) == []
    else:
        assert differences(floats, exact, close_calls=calls) == []
