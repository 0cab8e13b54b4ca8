"""The vocabulary of formulas: every word and every constant that a quantity may use.

A quantity is a plain function, and what its words mean is up to whoever reads it: the engine reads
them on numpy columns, the workbook on cell references, the unit check on pint quantities. The
meanings written here are the plain ones, on numbers and, for the words that take an axis away, on
lists of numbers. `bind` gives a function the words of another reader without changing anything.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from types import FunctionType, MappingProxyType
from typing import Any


class Constant(float):
    """A number with a unit and a name, so that no formula holds a bare literal."""

    unit: str

    def __new__(cls, value: float, unit: str) -> Constant:
        constant = super().__new__(cls, value)
        constant.unit = unit
        return constant


minutes_per_hour = Constant(60, "min/h")
millimetres_per_centimetre = Constant(10, "mm/cm")
parts_of_powder = Constant(100, "1")  # a water ratio is stated per 100 of powder
powder_per_gram = Constant(1, "pack_unit/g")  # investment is packed by the gram
quarter_of_pi = Constant(math.pi / 4, "1")
full_pi = Constant(math.pi, "1")
microns_per_centimetre = Constant(10_000, "um/cm")
one_half = Constant(0.5, "1")
price_tolerance = Constant(1e-9, "quoted")  # prices are in the currency of their channel
whole_tolerance = Constant(1e-9, "1")
mass_tolerance = Constant(1e-9, "g")
no_limit = Constant(1e15, "quoted")  # stands for "no maximum" where a comparison needs a number

# What decided a price, as numbers that a sheet can hold; REASONS gives their names.
decided_by_policy = Constant(0, "1")
decided_by_least_price = Constant(1, "1")
decided_by_keystone = Constant(2, "1")
decided_by_one_retail_price = Constant(3, "1")
decided_by_fixed = Constant(4, "1")
REASONS = ("policy", "least_price", "keystone", "one_retail_price", "fixed")


#: What `ratio` takes for 0: a price of 0.90 - 3 × 0.30 is 1e-16 in floats.
NO_WHOLE = 1e-12


def minimum(first: Any, second: Any) -> Any:
    """The smaller of two."""
    return min(first, second)


def maximum(first: Any, second: Any) -> Any:
    """The greater of two."""
    return max(first, second)


def held(amount: Any, low: Any, high: Any) -> Any:
    """`amount`, but not below `low` and not above `high` (which is not below `low`)."""
    return min(high, max(low, amount))


def ceil(amount: Any) -> Any:
    """The smallest whole number not below `amount`."""
    return float(math.ceil(amount))


def floor(amount: Any) -> Any:
    """The greatest whole number not above `amount`."""
    return float(math.floor(amount))


def square(amount: Any) -> Any:
    """`amount` times itself."""
    return amount * amount


def cube(amount: Any) -> Any:
    """`amount` times itself, twice."""
    return amount * amount * amount


def where(condition: Any, then: Any, otherwise: Any) -> Any:
    """`then` where the condition holds, else `otherwise`."""
    return then if condition else otherwise


def both(first: Any, second: Any) -> Any:
    """Whether both conditions hold."""
    return bool(first) and bool(second)


def either(first: Any, second: Any) -> Any:
    """Whether at least one condition holds."""
    return bool(first) or bool(second)


def opposite(condition: Any) -> Any:
    """Whether the condition does not hold."""
    return not condition


def ratio(part: Any, whole: Any) -> Any:
    """`part` / `whole`, and nothing (None) where `whole` is 0 (to within float noise)."""
    return None if abs(whole) <= NO_WHOLE else part / whole


def total(amounts: Any) -> Any:
    """The sum over the one axis that the result lacks."""
    return math.fsum(amounts)


def product(amounts: Any) -> Any:
    """The product over the one axis that the result lacks."""
    return math.prod(amounts)


def largest(amounts: Any) -> Any:
    """The greatest over the one axis that the result lacks; 0 where there is none."""
    return max(amounts, default=0.0)


def downstream(amounts: Any) -> Any:
    """For each of an ordered list, the product of it and all after it."""
    return [math.prod(amounts[index:]) for index in range(len(amounts))]


def upstream(amounts: Any) -> Any:
    """For each of an ordered list, the product of all before it."""
    return [math.prod(amounts[:index]) for index in range(len(amounts))]


#: Words that take the extra axis away.
REDUCING = frozenset({"total", "product", "largest"})
#: Words that look along the result's own last axis.
RUNNING = frozenset({"downstream", "upstream"})

WORDS: Mapping[str, Callable[..., Any]] = MappingProxyType(
    {
        word.__name__: word
        for word in (
            minimum, maximum, held, ceil, floor, square, cube, where, both, either, opposite, ratio,
            total, product, largest, downstream, upstream,
        )
    }
)  # fmt: skip
CONSTANTS: Mapping[str, Constant] = MappingProxyType(
    {name: value for name, value in sorted(globals().items()) if isinstance(value, Constant)}
)


def helpers_of(function: Callable[..., Any]) -> tuple[str, ...]:
    """Names of the underscored functions of the same module that `function` calls, in order of use."""
    return tuple(
        name
        for name in function.__code__.co_names
        if name.startswith("_") and isinstance(function.__globals__.get(name), FunctionType)
    )


def bind(function: Callable[..., Any], vocabulary: Mapping[str, Any]) -> Callable[..., Any]:
    """The same function with the words and constants of `vocabulary` in place of the plain ones.

    Underscored helpers of the function's module are bound along with it. Nothing global changes, so
    readers may work side by side in several threads.
    """
    scope = dict(vocabulary)
    for name in helpers_of(function):
        scope[name] = bind(function.__globals__[name], vocabulary)
    return FunctionType(function.__code__, scope, function.__name__)


def check_vocabulary(vocabulary: Iterable[str]) -> None:
    """Raise KeyError unless a reader knows every word and every constant."""
    missing = (set(WORDS) | set(CONSTANTS)) - set(vocabulary)
    if missing:
        raise KeyError(f"the reader lacks {', '.join(sorted(missing))}")
