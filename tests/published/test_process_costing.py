"""Process costing, overhead and machine hours: textbook examples, each as a workshop folder or by its quantity.

A textbook's kilogram is a casting of 1,000 g here; its pound or dollar is the workshop's currency.
"""

import pytest

from pricing.quantities.process import step_machine_cost, step_overhead_cost
from pricing.quantities.rates import machine_rate, overhead_rate

from .small_workshop import POUR, QUOTED, costed

ONE_KILOGRAM = {"castings": [{"name": "output", "count": 1, "volume_cm3": 1000.0}]}

# ---- normal loss


def kilogram_of_output(folder, rejects, scrap_payout):
    """The example below per kilogram: labour 1,800 / 1,000 kg is 1.80 for each begun, one minute at 108 an hour;
    overhead 900 / 1,000 kg is 0.90, the same minute at 5,400 / 100 h."""
    (record,) = costed(
        folder,
        workshop={
            "labour": {"bench": {"rate": 108.0}},
            "overhead": {"per_month": 5400.0, "productive_hours": 100.0},
        },
        alloys={"metal": {**QUOTED, "scrap_payout": scrap_payout}},
        steps=[{**POUR, "labour": "bench", "minutes": 1.0, "good": 0.9, "rejects": rejects}],
        product=ONE_KILOGRAM,
        quotes=[("grain", 18.0, "kg", "GBP")],
    )
    return record


def test_normal_loss_without_scrap_value(tmp_path):
    """ACCA F2 study text, p. 146 (seen): 1,000 kg at 18, labour 1,800, overhead 900, loss 10 %: 23 for each of the
    900 kg, 20,700 in all."""
    record = kilogram_of_output(tmp_path, "lost", 0.0)
    assert record["unit_cost"] == pytest.approx(23, rel=1e-12)
    assert 900 * record["unit_cost"] == pytest.approx(20_700, rel=1e-12)
    assert 900 * record["metal_cost"] == pytest.approx(18_000, rel=1e-12)
    assert 900 * record["labour_cost"] == pytest.approx(1_800, rel=1e-12)
    assert 900 * record["overhead_cost"] == pytest.approx(900, rel=1e-12)
    assert 900 * record["fresh_g"] == pytest.approx(1_000_000, rel=1e-12)
    assert 900 * record["reject_lost_g"] == pytest.approx(100_000, rel=1e-12)


def test_normal_loss_with_scrap_value(tmp_path):
    """The rule of the same books, from memory: what normal loss brings as scrap is taken off the cost of the good
    units. No published figures to hand; the example above with scrap at 9 a kg:
    (18,000 + 1,800 + 900 - 100 × 9) / 900 = 22."""
    record = kilogram_of_output(tmp_path, "refiner", 0.5)
    assert record["unit_cost"] == pytest.approx(22, rel=1e-12)
    assert 900 * record["surplus_g"] == pytest.approx(100_000, rel=1e-12)


def test_by_product(tmp_path):
    """acowtancy.com, ACCA MA, by-products (seen): joint cost 800,000; 220,000 units of joint products, 20,000 of a
    by-product at 1.50 each: (800,000 - 30,000) / 220,000 = 3.50 a unit.

    A cut piece and its offcut: 20,000 of offcut to 220,000 of pieces, and no offcut goes back into sheet.
    """
    joint_cost_per_unit = 800_000 / 240_000
    (record,) = costed(
        tmp_path,
        alloys={"metal": {**QUOTED, "scrap_payout": 1.50 / joint_cost_per_unit}},
        steps=[{**POUR, "takes_metal": "cut"}],
        product={"sprue_ratio": 20_000 / 220_000},
        quotes=[("grain", joint_cost_per_unit, "g", "GBP")],
    )
    assert record["unit_cost"] == pytest.approx(3.50, rel=1e-12)
    assert 220_000 * record["fresh_g"] == pytest.approx(240_000, rel=1e-12)


# ---- overhead


def test_predetermined_overhead_rate(tmp_path):
    """OpenStax, Principles of Accounting 2, section 4.4, Dinosaur Vinyl (seen): overhead 250,000 on 100,000 of direct
    labour is 2.50; a job with material 700 and labour 66 carries 165 and costs 931.

    At a wage of 1 an hour, hours and money of direct labour are the same number.
    """
    (job,) = costed(
        tmp_path,
        workshop={
            "labour": {"bench": {"rate": 1.0}},
            "overhead": {"per_month": 250_000.0, "productive_hours": 100_000.0},
        },
        alloys={"vinyl": QUOTED},
        steps=[{**POUR, "labour": "bench", "minutes": 66 * 60.0}],
        quotes=[("grain", 700.0, "g", "GBP")],
    )
    assert overhead_rate(250_000, 100_000) == 2.50
    assert job["metal_cost"] == pytest.approx(700, rel=1e-12)
    assert job["labour_cost"] == pytest.approx(66, rel=1e-12)
    assert job["overhead_cost"] == pytest.approx(165, rel=1e-12)
    assert job["unit_cost"] == pytest.approx(931, rel=1e-12)


def test_overhead_on_hours():
    """OpenStax, Principles of Accounting 2, section 6.1, Musicality (seen): 2,500,000 over 1,250,000 h is 2.00 an hour;
    140,000 of one model take 350,000 h and carry 5.00 each."""
    rate = overhead_rate(2_500_000, 1_250_000)
    assert rate == 2.00
    assert step_overhead_cost(350_000 / 140_000, rate) == pytest.approx(5.00, rel=1e-12)


# ---- machine hours


def test_units_of_production_depreciation(tmp_path):
    """OpenStax, Principles of Accounting 1, section 11.3, Liam (seen): bought for 10,000, worth 1,000 after 100,000
    presses: 0.09 a press; 1,800 for 20,000 of them and 2,700 for 30,000. A press is a machine hour here."""
    rate = machine_rate(10_000, 1_000, 100_000, 0, 0, 1, 0)
    assert rate == pytest.approx(0.09, rel=1e-12)
    assert step_machine_cost(1, 20_000 * 60, rate) == pytest.approx(1_800, rel=1e-12)
    assert step_machine_cost(30_000, 60, rate) == pytest.approx(2_700, rel=1e-12)
    press = {"purchase": 10_000.0, "residual": 1_000.0, "life_hours": 100_000.0}
    (record,) = costed(
        tmp_path,
        workshop={"machines": {"press": press}, "energy": {"price_per_kwh": 0.3}},
        steps=[POUR, {"name": "press", "per": "set", "machine": "press", "machine_minutes": 20_000 * 60.0}],
    )
    assert record["machine_cost"] == pytest.approx(1_800, rel=1e-12)
    assert record["unit_cost"] == pytest.approx(1_800, rel=1e-12)


# ---- returned metal


@pytest.mark.parametrize(
    ("sprue_ratio", "charge_g", "returned_g", "sold_g"),
    [
        (1.0, 200.0, 100.0, 0.0),  # the tree weighs as much as its pieces: all of it goes back, half of the charge
        (1.5, 250.0, 125.0, 25.0),  # a heavier one: half of the charge is 125 of the 150, the rest is scrap
    ],
)
def test_at_least_half_of_a_charge_is_fresh(tmp_path, sprue_ratio, charge_g, returned_g, sold_g):
    """Stuller, general casting tips for karat golds (seen): button and tree weigh at least as much as the pieces, and
    more than 50 % of scrap in a charge is not recommended. 100 g of pieces; the limit is the one that holds where a
    maker states none."""
    (record,) = costed(
        tmp_path,
        product={"sprue_ratio": sprue_ratio, "castings": [{"name": "pieces", "count": 1, "volume_cm3": 100.0}]},
    )
    assert record["charge_g"] == pytest.approx(charge_g, rel=1e-12)
    assert record["reused_g"] == pytest.approx(returned_g, rel=1e-12)
    assert record["fresh_g"] == pytest.approx(charge_g - returned_g, rel=1e-12)
    assert record["surplus_g"] == pytest.approx(sold_g, rel=1e-12, abs=1e-9)
