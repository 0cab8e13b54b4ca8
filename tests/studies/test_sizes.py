"""Sizes at one price: what the larger ones would have to cost more."""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.formulas.rerun import rerun_all
from pricing.studies.prices_out import at_prices
from pricing.studies.sizes import size_lines, surcharge
from tests.folders import alder_wharf


@pytest.fixture(scope="module")
def costing():
    return cost(alder_wharf(), asked_for(date(2026, 11, 20)))


def row_of(costing, alloy: str) -> int:
    variants = costing.computed.resolved.variants
    return next(row for row, each in enumerate(variants) if (each.sku, each.alloy) == ("reed-ring", alloy))


def test_sizes_stand_by_length_and_weigh_by_the_band(costing):
    """C = 36.25 + 1.25 n (J = 10, M = 13, Z+1 = 27), and pi × 1.8 more along the middle; 0.85 of the ring grows."""
    lines = size_lines(costing.computed, row_of(costing, "sterling"))
    assert [line.size for line in lines] == ["J", "L½", "N", "P", "Z+1"]
    middle = [36.25 + 1.25 * n + np.pi * 1.8 for n in (10, 12.5, 14, 16, 27)]
    assert [line.length_mm for line in lines] == pytest.approx(middle)
    master = 36.25 + 1.25 * 13 + np.pi * 1.8
    expected = 0.61 * 10.36 * 0.97 * 0.997 * (1 + 0.85 * (middle[-1] / master - 1))
    assert lines[-1].finished_g == pytest.approx(expected, rel=1e-12)


def test_with_the_surcharge_every_size_earns_what_is_asked_and_with_a_cent_less_not(costing):
    """The channel asks a markup of 0.35 on the cost, in dollars."""
    resolved, row = costing.computed.resolved, row_of(costing, "gold-9ct")
    column = [channel.name for channel in resolved.channels].index("abroad")
    lines = size_lines(costing.computed, row)
    first, amount = surcharge(lines, "abroad")
    places = {hidden.size: place for place, hidden in enumerate(resolved.hidden, len(resolved.variants))
              if hidden.of == resolved.variants[row].called and not hidden.links}  # fmt: skip
    sizes = [line.size for line in lines]

    def earned(more: float) -> float:
        """The least markup of any size, with so much more from the first one on that lacked something."""
        prices = costing.computed.values["price"].copy()
        for place, size in enumerate(sizes):
            extra = more if place >= sizes.index(first) else 0.0
            prices[places[size], column] = costing.computed["price"][row, column] + extra
        profit = rerun_all(costing.computed, {"price": prices}, ["profit"])["profit"]
        return min(profit[place, column] / costing.computed.values["unit_cost"][place] for place in places.values())

    assert earned(amount) == pytest.approx(0.35, rel=1e-9)
    assert earned(amount - 0.01) < 0.35 - 1e-6


def test_at_a_price_that_is_enough_no_size_lacks_anything(costing):
    dear = at_prices(costing.computed, costing.computed["price"] * 10)
    lines = size_lines(dear, row_of(costing, "sterling"))
    assert all(set(line.lacking.values()) == {0.0} for line in lines) and surcharge(lines, "shop") is None
