"""The words of formulas on numpy arrays."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from pricing.words import CONSTANTS, NO_WHOLE, check_vocabulary

#: Along an axis of fewer places the library goes one row at a time, which takes twenty times as long as one place of
#: all rows at a time. It adds so few in their order too: the sums are the same to the bit.
FEW = 8


def _ratio(part: np.ndarray, whole: np.ndarray) -> np.ndarray:
    if (np.abs(whole) > NO_WHOLE).all():  # nothing to leave out: the bare division is several times faster
        return np.divide(part, whole)
    part, whole = np.broadcast_arrays(part, whole)
    return np.divide(part, whole, out=np.full(part.shape, np.nan), where=np.abs(whole) > NO_WHOLE)


def _total(amounts: np.ndarray) -> np.ndarray:
    if amounts.shape[-1] == 0:  # nothing to sum anywhere: one 0 for all
        return np.zeros((1,) * amounts.ndim)
    if amounts.shape[-1] >= FEW:
        return amounts.sum(axis=-1, keepdims=True)
    found: np.ndarray = amounts[..., :1] + 0  # where all are a negative zero, the library's sum is none
    for place in range(1, amounts.shape[-1]):
        found = found + amounts[..., place : place + 1]
    return found


def _largest(amounts: np.ndarray) -> np.ndarray:
    if amounts.shape[-1] >= FEW:
        return amounts.max(axis=-1, keepdims=True, initial=0.0)
    found = np.zeros((1,) * amounts.ndim)
    for place in range(amounts.shape[-1]):
        found = np.maximum(found, amounts[..., place : place + 1])
    return found


def _product(amounts: np.ndarray) -> np.ndarray:
    if amounts.shape[-1] == 0:
        return np.ones((1,) * amounts.ndim)
    return amounts.prod(axis=-1, keepdims=True)


def _upstream(amounts: np.ndarray) -> np.ndarray:
    running = np.ones_like(amounts)
    np.cumprod(amounts[..., :-1], axis=-1, out=running[..., 1:])
    return running


#: The words on numpy arrays. The axis that the result lacks is the last; words that take it away leave
#: it with length 1, so that what they return still lines up with the rest of a formula.
NUMPY_WORDS: Mapping[str, object] = MappingProxyType(
    {
        **{name: float(value) for name, value in CONSTANTS.items()},
        "minimum": np.minimum,
        "maximum": np.maximum,
        "held": lambda amount, low, high: np.minimum(high, np.maximum(low, amount)),
        "ceil": np.ceil,
        "floor": np.floor,
        "square": np.square,
        "cube": lambda amount: amount * amount * amount,
        "where": np.where,
        "both": np.logical_and,
        "either": np.logical_or,
        "opposite": np.logical_not,
        "ratio": _ratio,
        "total": _total,
        "product": _product,
        "largest": _largest,
        "downstream": lambda amounts: np.cumprod(amounts[..., ::-1], axis=-1)[..., ::-1],
        "upstream": _upstream,
    }
)
check_vocabulary(NUMPY_WORDS)
