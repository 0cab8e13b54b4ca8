"""Published answers that are wrong. Ours must be right, and must not be theirs."""

import pytest

from pricing.folder.checks.densities import density_by_contents
from pricing.quantities.rates import overhead_rate
from pricing.quantities.selling import ex_tax_price, list_tax
from pricing.quantities.unit_cost import unit_cost
from pricing.words import total

from .small_workshop import POUR, costed, material, priced


def test_tax_taken_for_the_net_price():
    """chetnathanki.co.uk, VAT (seen): "1/6 x 120 = 100". A sixth of 120 is the tax, 20; 100 is what is left."""
    net = ex_tax_price(120, list_tax(True, 0.20))
    assert net == pytest.approx(100, rel=1e-12)
    assert 120 - net != pytest.approx(100)


@pytest.mark.parametrize(
    ("percent", "densities", "mean_by_mass", "right"),
    [
        # edustrings, studydaddy and dbl.id (seen) average the densities by mass. What that gives for these two
        # alloys is printed, as wrong, by the Indium Corporation and at justaaa.com/chemistry/362701 (seen).
        ({"Sn": 96, "Ag": 4}, {"Sn": 7.31, "Ag": 10.5}, 7.4376, 7.39989),
        ({"Au": 75, "Ag": 25}, {"Au": 19.32, "Ag": 10.49}, 17.11, 15.96),
    ],
)
def test_mean_of_densities_by_mass(percent, densities, mean_by_mass, right):
    density = density_by_contents(percent, densities)
    assert density == pytest.approx(right, rel=5e-4)
    assert density != pytest.approx(mean_by_mass, rel=4e-3)


def test_wrong_sum_of_unit_costs():
    """studyx.ai (seen): 1.80 + 0.90 + 0.30 + 0.95 printed as 4.95. It is 3.95."""
    cost = unit_cost(1.80, 0.90, 0.30, 0, 0.95, 0, 0)
    assert cost == pytest.approx(3.95, rel=1e-12) == total([1.80, 0.90, 0.30, 0.95])


def test_wrong_overhead_rate(tmp_path):
    """studyx.ai 4leu7h9 (seen): 99,150 / 43,800 printed as 2.266 and 2.27. It is 2.2637, to the penny 2.26."""
    rate = overhead_rate(99_150, 43_800)
    assert rate == pytest.approx(2.2637, abs=5e-5)
    rounding = {"rounding": {"step": 0.01, "direction": "nearest"}}
    found = priced(tmp_path, **material(rate), channels={"shop": rounding})["shop"]
    assert found["price"] == pytest.approx(2.26, rel=1e-12)


@pytest.mark.parametrize(
    ("cost_of_five", "printed", "right"),
    [(4_830.0, 961.0, 966.0), (494.0, 90.0, 98.8)],
)
def test_wrong_cost_of_one_of_five(tmp_path, cost_of_five, printed, right):
    """LPU, Cost Accounting, p. 181 (seen): 4,830 / 5 printed as 961, 494 / 5 as 90."""
    (record,) = costed(
        tmp_path,
        steps=[{"name": "batch", "per": "design", "fee": cost_of_five}, POUR],
        product={"expected_sales": 5.0},
    )
    assert record["unit_cost"] == pytest.approx(right, rel=1e-12)
    assert record["unit_cost"] != pytest.approx(printed, rel=1e-3)
