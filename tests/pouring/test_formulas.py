"""Quantities of the bench: units, formulas that every reader can read, and published powder and water."""

from __future__ import annotations

import math

import pytest

from pricing.formulas.graph import build, cost_model, cost_model_functions, functions_of
from pricing.formulas.tables import INPUTS
from pricing.pouring import formulas
from pricing.pouring.model import OWN_INPUTS, formula, pour_model
from tests.quantities.test_units import unit_problem

OWN = [name for name in pour_model().quantities if name not in cost_model().quantities]


@pytest.mark.parametrize("name", OWN)
def test_every_quantity_has_the_unit_that_it_states(name):
    assert unit_problem(pour_model(), pour_model().quantities[name]) is None


def test_every_formula_passes_every_check():
    functions = [*cost_model_functions(), *functions_of([formulas])]
    assert build(functions, {**INPUTS, **OWN_INPUTS}, checked=True) == pour_model()


def test_powder_and_water_beside_a_tree():
    """Orchid forum 46109, quoting a supplier's chart (seen): a flask of 3.5 x 3 in takes 1.5 lb and, at 40 to 100,
    274 ml of water. A tree that takes a tenth of the room takes a tenth of both away."""
    room = math.pi / 4 * 8.89**2 * 7.62  # 3.5 and 3 in, in cm
    assert float(formula("flask_cm3")(flask_diameter_mm=88.9, flask_height_mm=76.2)) == pytest.approx(room, rel=1e-12)
    powder = 1.5 * 453.59237
    empty, tenth = (
        float(formula("powder_beside_tree_g")(flask_powder_g=powder, flask_cm3=room, tree_cm3=share * room))
        for share in (0.0, 0.1)
    )
    water = float(formula("water_for_powder_g")(powder_beside_tree_g=empty, water_per_100=40.0))
    assert empty == powder and water == pytest.approx(274, rel=0.01)  # 272.2: the chart is rounded up
    assert tenth == pytest.approx(0.9 * powder, rel=1e-12)


def test_energy_of_a_burnout():
    """2.4 kW drawn 45 % of 11 hours: 11.88 kWh."""
    assert float(formula("run_kwh")(power_kw=2.4, duty=0.45, run_minutes=660.0)) == pytest.approx(11.88, rel=1e-12)
