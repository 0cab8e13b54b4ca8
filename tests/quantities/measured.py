"""The words of formulas on pint quantities: whatever is not of one kind is refused.

Amounts are pint quantities that hold numpy columns, as the engine's are: the axis that a word takes away is the
last. Conditions are flags. A bare 0 goes with any unit; any other bare number is of no dimension.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np
import pint

from pricing.words import CONSTANTS, check_vocabulary

#: Units of the cost model and, after each, another unit of the same kind. A set is a count, so 1/set is a number.
DEFINITIONS = (
    "g = [mass]", "kg = 1000 g",
    "h = [time]", "min = h / 60",
    "cm = [length]", "mm = cm / 10", "um = cm / 10000",
    "cm2 = cm ** 2", "mm2 = mm ** 2",
    "cm3 = cm ** 3", "mm3 = mm ** 3",
    "kW = [power]", "watt = kW / 1000",
    "kWh = kW * h", "watthour = watt * h",
    "cur = [money]", "cent = cur / 100",
    "quoted = [quoted_money]", "quoted_cent = quoted / 100",
    "pack_unit = [packed]", "pack_dozen = 12 pack_unit",
    "set = []", "percent = 0.01",
)  # fmt: skip
OTHER_UNIT: Mapping[str, str] = MappingProxyType(
    {
        "g": "kg", "h": "min", "min": "h", "mm": "cm", "cm": "mm", "um": "mm", "cm2": "mm2", "cm3": "mm3", "kW": "watt",
        "kWh": "watthour", "cur": "cent", "quoted": "quoted_cent", "pack_unit": "pack_dozen", "1": "percent",
    }
)  # fmt: skip

REGISTRY = pint.UnitRegistry(None)
for definition in DEFINITIONS:
    REGISTRY.define(definition)


@dataclass(frozen=True)
class Flag:
    """A condition: no number, so nothing can be reckoned with it."""

    holds: np.ndarray


class Measured(REGISTRY.Quantity):
    """A pint quantity whose comparisons are flags, and of which two of different kinds cannot be equal.

    Pint itself calls those unequal, so that grams compared with money would pass.
    """

    def compare(self, other, op):
        return Flag(super().compare(other, op))

    def __eq__(self, other):
        return Flag(self.m == (0 if is_zero(other) else amount(other).to(self.units).m))

    __hash__ = None


def amount(value) -> Measured:
    """An amount; a bare number is one of no dimension. Raises TypeError for a flag."""
    if isinstance(value, Flag):
        raise TypeError("a condition stands where an amount belongs")
    return value if isinstance(value, Measured) else Measured(np.array([float(value)]), "")


def truth(value) -> np.ndarray:
    """Whether a condition holds. Raises TypeError for an amount."""
    if not isinstance(value, Flag):
        raise TypeError("an amount stands where a condition belongs")
    return value.holds


def is_zero(value) -> bool:
    """Whether this is a bare 0, which goes with every unit."""
    return isinstance(value, int | float) and value == 0


def on_alike(function):
    """A word on operands of one kind, whose result is of that kind too."""

    def word(*operands):
        unit = next((amount(each).units for each in operands if not is_zero(each)), "")
        magnitudes = [np.zeros(1) if is_zero(each) else amount(each).to(unit).m for each in operands]
        return Measured(function(*magnitudes), unit)

    return word


def on_numbers(function):
    """A word on an operand that has no dimension."""
    return lambda given: Measured(function(amount(given).to("").m), "")


def where(condition, then, otherwise):
    holds = truth(condition)
    if isinstance(then, Flag):
        return Flag(np.where(holds, then.holds, truth(otherwise)))
    return on_alike(lambda taken, left: np.where(holds, taken, left))(then, otherwise)


MEASURED_WORDS: Mapping[str, object] = MappingProxyType(
    {
        **{
            name: Measured(np.array([float(constant)]), "" if constant.unit == "1" else constant.unit)
            for name, constant in CONSTANTS.items()
        },
        "minimum": on_alike(np.minimum),
        "maximum": on_alike(np.maximum),
        "held": on_alike(lambda given, low, high: np.minimum(high, np.maximum(low, given))),
        "ceil": on_numbers(np.ceil),
        "floor": on_numbers(np.floor),
        "square": lambda given: given * given,
        "cube": lambda given: given * given * given,
        "where": where,
        "both": lambda first, second: Flag(truth(first) & truth(second)),
        "either": lambda first, second: Flag(truth(first) | truth(second)),
        "opposite": lambda condition: Flag(~truth(condition)),
        "ratio": lambda part, whole: amount(part) / amount(whole),
        "total": on_alike(lambda amounts: amounts.sum(axis=-1, keepdims=True)),
        "product": on_numbers(lambda amounts: amounts.prod(axis=-1, keepdims=True)),
        "largest": on_alike(lambda amounts: amounts.max(axis=-1, keepdims=True, initial=0.0)),
        "downstream": on_numbers(lambda amounts: np.cumprod(amounts[..., ::-1], axis=-1)[..., ::-1]),
        "upstream": on_numbers(lambda amounts: np.cumprod(np.append(1.0, amounts[:-1]))),
    }
)
check_vocabulary(MEASURED_WORDS)
