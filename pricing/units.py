"""Exact factors between the units of the trade.

Everything inside the package is in gram, centimetre, minute, hour and the workshop's currency; these
factors stand where something comes in or goes out. Exact by definition: the troy ounce is 480 grains
and the avoirdupois pound 7,000 grains of exactly 64.79891 mg (NIST Handbook 44, Appendix C).
"""

from __future__ import annotations

from fractions import Fraction
from types import MappingProxyType

GRAMS_PER_GRAIN = Fraction("0.06479891")
GRAMS_PER_TROY_OUNCE = 480 * GRAMS_PER_GRAIN
GRAMS_PER_PENNYWEIGHT = GRAMS_PER_TROY_OUNCE / 20
GRAMS_PER_POUND = 7000 * GRAMS_PER_GRAIN

#: Grams in one of what a metal is quoted per.
GRAMS_PER = MappingProxyType(
    {
        "g": 1.0,
        "dwt": float(GRAMS_PER_PENNYWEIGHT),
        "ozt": float(GRAMS_PER_TROY_OUNCE),
        "lb": float(GRAMS_PER_POUND),
        "kg": 1000.0,
        "t": 1_000_000.0,
    }
)

MILLIMETRES_PER_INCH = 25.4


def fahrenheit(celsius: float) -> float:
    """Degrees Celsius in degrees Fahrenheit; 1 K is 9/5 °F and 0 °C is 32 °F, both exact."""
    return celsius * 9 / 5 + 32
