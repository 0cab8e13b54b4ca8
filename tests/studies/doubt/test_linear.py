"""Small doubts against linear propagation: `uncertainties` carried through the very same formulas.

Every figure is a number with a standard deviation; each formula is bound to words that such numbers understand. Where
doubts are small, what comes out is what the worlds give: its spread, and what each figure contributes to it.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from types import MappingProxyType

import numpy as np
import pytest
from scipy import stats
from uncertainties import UFloat, ufloat

from pricing.costing import asked_for, cost
from pricing.formulas.engine import Computed, compute, fetcher
from pricing.formulas.numpy_words import NUMPY_WORDS
from pricing.formulas.rerun import part_of
from pricing.model.doubt import Doubt
from pricing.studies.doubt.figures import doubted
from pricing.studies.doubt.in_doubt import in_doubt
from pricing.studies.prices_out import prices_out
from pricing.what_if import only
from pricing.words import bind, check_vocabulary
from tests.folders import tin_lane

#: Figures and the spread of each, as a share of it.
SMALL = 0.0005


def nominal(number) -> float:
    return number.nominal_value if isinstance(number, UFloat) else float(number)


def by_size(chosen):
    """Of two numbers the one that is chosen by their size, as it is."""
    return np.frompyfunc(lambda a, b: a if chosen(nominal(a), nominal(b)) == nominal(a) else b, 2, 1)


def truth(condition) -> np.ndarray:
    return np.asarray(condition).astype(bool)


MINIMUM, MAXIMUM = by_size(min), by_size(max)
UNCERTAIN_WORDS: Mapping[str, object] = MappingProxyType(
    {
        **NUMPY_WORDS,
        "minimum": MINIMUM,
        "maximum": MAXIMUM,
        "held": lambda amount, low, high: MINIMUM(high, MAXIMUM(low, amount)),
        "ceil": np.frompyfunc(lambda x: float(math.ceil(nominal(x))), 1, 1),
        "floor": np.frompyfunc(lambda x: float(math.floor(nominal(x))), 1, 1),
        "where": lambda condition, yes, no: np.where(truth(condition), yes, no),
        "both": lambda a, b: truth(a) & truth(b),
        "either": lambda a, b: truth(a) | truth(b),
        "opposite": lambda a: ~truth(a),
        "ratio": np.frompyfunc(lambda part, whole: part / whole if nominal(whole) else math.nan, 2, 1),
        "total": lambda amounts: amounts.sum(axis=-1, keepdims=True),
        "product": lambda amounts: amounts.prod(axis=-1, keepdims=True),
        "upstream": lambda amounts: np.concatenate(
            [np.ones_like(amounts[..., :1]), np.cumprod(amounts[..., :-1], axis=-1)], axis=-1
        ),
    }
)


def propagated(computed: Computed, name: str, columns: Mapping[str, np.ndarray]) -> np.ndarray:
    """A quantity of all variants with these columns of uncertain numbers, by the formulas of the cost model."""
    part = part_of(computed.graph, [name], set(computed.graph.quantities))
    values = {each: columns.get(each, computed.values[each]) for each in part.inputs}
    for quantity in part.quantities.values():
        fetched = [fetcher(need, quantity)(values, computed.columns.keys) for need in quantity.needs]
        with np.errstate(all="ignore"):
            result = sure(np.asarray(bind(quantity.function, UNCERTAIN_WORDS)(*fetched)))
        result = result[..., 0] if quantity.extra else result
        values[quantity.name] = np.broadcast_to(result, computed.values[quantity.name].shape)
    return values[name]


def sure(found: np.ndarray) -> np.ndarray:
    """Plain numbers where none is uncertain: by these, as numpy has it, may be divided by 0."""
    certain = found.dtype != object or not any(isinstance(each, UFloat) for each in found.flat)
    return found.astype(float) if certain and found.dtype == object else found


@pytest.fixture(scope="module")
def costing():
    read = cost(tin_lane(), asked_for(date(2026, 11, 20)))
    stated = read.folder.stated
    process, steps = next(iter(stated.processes.items()))
    pour = next(step for step in steps if step.takes_metal)
    role, labour = next(iter(stated.workshop.labour.items()))
    figures = {
        "overhead.productive_hours": stated.workshop.overhead.productive_hours,
        f"labour.{role}.rate": labour.rate,
        f"processes.{process}.{pour.name}.good": pour.good,
        **{f"alloys.{name}.melt_loss": alloy.melt_loss for name, alloy in stated.alloys.items() if alloy.melt_loss},
    }
    doubts = {path: Doubt(low=at * (1 - SMALL), high=at * (1 + SMALL)) for path, at in figures.items()}
    return replace(read, folder=replace(read.folder, stated=stated.model_copy(update={"doubts": doubts})))


def test_small_doubts_spread_as_linear_propagation_says(costing, monkeypatch):
    check_vocabulary(UNCERTAIN_WORDS)
    monkeypatch.setattr("pricing.studies.doubt.in_doubt.SHARE_POINTS", 128)
    found, rows = in_doubt(prices_out(costing), draws=512, rows=[0, 4]), [0, 4]
    known = doubted(costing)
    computed = compute(only(known.resolved, rows))
    spread = 2 * SMALL / (2 * stats.norm.ppf(0.95))  # of each figure, as a share: so far apart lie its two points
    uncertain = [ufloat(figure.stated, figure.stated * spread, tag=figure.path) for figure in known.figures]
    columns: dict[str, np.ndarray] = {}
    for name, places, which in known.landings(rows):
        column = columns.setdefault(name, computed.values[name].astype(object))
        column[places] = np.array(uncertain, dtype=object)[which]
    costs = propagated(computed, "unit_cost", columns)[: len(rows)]
    for sure, peer in zip(found.rows, costs, strict=True):
        assert nominal(peer) == pytest.approx(sure.unit_cost, rel=1e-12)
        width = (sure.cost.high - sure.cost.low) / (2 * stats.norm.ppf(0.9))
        assert width == pytest.approx(peer.std_dev, rel=0.03)
        shares = {each.tag: (part / peer.std_dev) ** 2 for each, part in peer.error_components().items()}
        assert sum(shares.values()) == pytest.approx(1)
        for path, share in shares.items():
            assert sure.shares[path].in_all == pytest.approx(share, abs=0.03), path
        assert max(shares.values()) < 0.99  # more than one of them speaks
