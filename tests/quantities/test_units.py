"""The unit check: every quantity, computed on pint quantities, has the unit that its docstring states.

Dimensions alone would let `minutes / 60` pass, or minutes in place of hours, sixty times wrong. So the check looks
at magnitudes too: each quantity is computed once on plain numbers in the stated units, as the engine does it, and
again on the same amounts put into other units of the same kind (minutes as hours, grams as kilograms, fractions as
percent), with pint doing all conversion. Both must come to the same.
"""

import math
import re
from random import Random

import numpy as np
import pint
import pytest

from pricing.formulas.graph import Graph, Quantity, build, cost_model
from pricing.formulas.numpy_words import NUMPY_WORDS
from pricing.studies.stall.bargaining import bargaining_model
from pricing.words import RUNNING, bind
from tests.quantities import wrong_units
from tests.quantities.measured import MEASURED_WORDS, OTHER_UNIT, Flag, Measured, amount

DRAWS = 8
NUMBERS = ("1", "1/set", "reason")  # units of what has no dimension


def unit_problem(graph: Graph, quantity: Quantity) -> str | None:
    """What is wrong with the units of a quantity, None where all is well."""
    plain, measured = bind(quantity.function, NUMPY_WORDS), bind(quantity.function, MEASURED_WORDS)
    for draw in range(DRAWS):
        random = Random(f"{quantity.name} {draw}")
        columns = drawn(graph, quantity, random)
        with np.errstate(all="ignore"):
            expected = plain(*[column for column, _ in columns])
            try:
                found = measured(*[put(column, unit, random) for column, unit in columns])
                found = truth_or_magnitude(found, quantity.unit)
            except (pint.PintError, TypeError, ValueError) as fault:
                return f"{quantity.name}: {fault}"
        if not np.allclose(found, expected, rtol=1e-9, atol=1e-12, equal_nan=True):
            factor = float(np.ravel(expected)[0]) / float(np.ravel(found)[0])
            return f"{quantity.name}: in {quantity.unit} its numbers make {factor:.6g} times what its units make"
    return None


def drawn(graph: Graph, quantity: Quantity, random: Random) -> list[tuple[np.ndarray, str]]:
    """A column in its stated unit for each parameter: three rows along an axis that is taken away, else one."""
    runs = bool(RUNNING & set(quantity.function.__code__.co_names))
    whole = random.random() < 0.5  # whole numbers meet each other and the counts that formulas compare with
    columns = []
    for need in quantity.needs:
        unit, rows = graph.unit_of(need.column), 3 if need.path.extra or runs else 1
        if unit == "switch":
            column = np.array([random.random() < 0.5 for _ in range(rows)])
        elif whole and unit in NUMBERS:
            column = np.array([float(random.randint(0, 3)) for _ in range(rows)])
        else:
            column = np.array([math.exp(random.uniform(-3, 3)) for _ in range(rows)])
        columns.append((column, unit))
    return columns


def put(column: np.ndarray, unit: str, random: Random) -> Measured | Flag:
    """The same amounts in another unit of the same kind, drawn for each part of the unit."""
    if unit == "switch":
        return Flag(column)
    parts = [OTHER_UNIT.get(part, part) if random.random() < 0.5 else part for part in unit.split("/")]
    return Measured(column, pint_unit(unit)).to(pint_unit("/".join(parts)))


def pint_unit(unit: str) -> str:
    return "" if unit in ("1", "reason") else unit


def truth_or_magnitude(found, unit: str) -> np.ndarray:
    """What was found, in the stated unit. Raises for a flag where an amount is stated, and the other way about."""
    if unit == "switch":
        if not isinstance(found, Flag):
            raise TypeError("is no condition")
        return found.holds
    return amount(found).to(pint_unit(unit)).m


@pytest.mark.parametrize("name", bargaining_model().quantities)
def test_every_quantity_has_the_unit_that_its_docstring_states(name):
    """Of the cost model, and of the stall card, which stands on it."""
    graph = bargaining_model()
    assert unit_problem(graph, graph.quantities[name]) is None


def test_every_unit_has_another_of_its_kind():
    """No input and no quantity escapes the second computation; what is counted in reasons has no other unit."""
    graph = cost_model()
    units = {graph.unit_of(name) for name in (*graph.inputs, *graph.quantities)}
    assert {part for unit in units for part in unit.split("/")} - {"switch", "reason", "set"} <= set(OTHER_UNIT)
    for unit, other in OTHER_UNIT.items():
        factor = Measured(1.0, pint_unit(unit)).to(other).magnitude
        assert factor != 1, f"{unit} and {other} are the same"


NOT_MONEY = r"Cannot convert from .*\[mass\].* to .*\[money\]"
WRONG = {
    wrong_units.packing_cost: "in cur its numbers make 60 times what its units make",  # minutes in an hour
    wrong_units.packing_hours: "in h its numbers make 3600 times what its units make",  # 60 · 60
    wrong_units.powder_volume: "in cm3 its numbers make 1000 times what its units make",  # 10³
    wrong_units.metal_and_money: NOT_MONEY,
    wrong_units.grain_worth: r"Cannot convert from .*\[money\] / \[mass\].* to 'cur' \(\[money\]\)",
    wrong_units.pin_worth: "'cru' is not defined in the unit registry",
    wrong_units.whole_grams: r"Cannot convert from .*\[mass\].* to 'dimensionless'",
    wrong_units.surcharge: "Cannot convert from 'cur' to 'dimensionless'",
    wrong_units.dear_or_heavy: NOT_MONEY,
    wrong_units.dear_or_one: r"Cannot convert from 'dimensionless' .* to .*\[money\]",
    wrong_units.money_or_grams: NOT_MONEY,
    wrong_units.mixed_total: r"Cannot convert from .*\[money\].* to .*\[mass\]",
    wrong_units.is_heavy: NOT_MONEY,
    wrong_units.is_even: r"Cannot convert from .*\[money\].* to .*\[mass\]",
    wrong_units.masked: "unsupported operand type.* 'int' and 'Flag'",
    wrong_units.chosen_by_amount: "an amount stands where a condition belongs",
    wrong_units.is_wide: "is no condition",
    wrong_units.width: "a condition stands where an amount belongs",
    wrong_units.minutes_after: r"Cannot convert from .*\[time\].* to 'dimensionless'",
    wrong_units.cubed_surface: r"Cannot convert from .*\[length\] \*\* 6.* to 'cm3' \(\[length\] \*\* 3\)",
    wrong_units.capped_share: r"Cannot convert from 'dimensionless' .* to .*\[quoted_money\]",
    wrong_units.coded: r"Cannot convert from .*\[quoted_money\].* to 'dimensionless'",
}


@pytest.mark.parametrize("function", WRONG, ids=lambda function: function.__name__)
def test_a_wrong_unit_is_told(function):
    graph = build([function])
    problem = unit_problem(graph, graph.quantities[function.__name__])
    assert problem is not None
    assert re.fullmatch(f"{function.__name__}: {WRONG[function]}.*", problem), problem
