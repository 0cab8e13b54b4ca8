"""The price of metal at which a margin is reached, fed back into the engine, gives that margin."""

from __future__ import annotations

import shutil
import tempfile
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings

from pricing.costing import asked_for, cost
from pricing.formulas.engine import Computed, compute
from pricing.resources import sample_catalog
from pricing.studies.break_even.reach import BreakEven, Line, break_even
from tests.exact.workshop_writer import Workshop, write
from tests.exact.workshops import workshops

DAY = date(2026, 11, 20)
GENERATED = settings(max_examples=10, suppress_health_check=list(HealthCheck), deadline=None)


def margin_at(computed: Computed, each: BreakEven, quotes: np.ndarray) -> float:
    """The margin by a whole new run of the engine, at other quotes, with the price fixed."""
    resolved = computed.resolved
    row = next(row for row in resolved.variants if (row.sku, row.alloy) == (each.sku, each.alloy))
    prices = [
        price.model_copy(update={"is_fixed": True, "fixed_price": each.price, "follows": False, "asks_solving": False})
        if price.channel == each.channel
        else price
        for price in row.prices
    ]
    metals = [
        metal.model_copy(update={"quote_price": float(q)}) for metal, q in zip(resolved.metals, quotes, strict=True)
    ]
    alone = row.model_copy(update={"prices": tuple(prices)})
    again = compute(resolved.model_copy(update={"variants": (alone,), "metals": tuple(metals)}))
    channel = [price.channel for price in prices].index(each.channel)
    assert again["price"][0, channel] == each.price
    return float(again["margin"][0, channel])


def quotes_at(computed: Computed, line: Line, times: float) -> np.ndarray:
    moved = [line.metal in (None, metal.name) for metal in computed.resolved.metals]
    return np.where(moved, computed["quote_price"] * times, computed["quote_price"])


def assert_fed_back(computed: Computed, found: list[BreakEven]) -> int:
    checked = 0
    for each in found:
        for line in each.lines:
            for reach, margin in ((line.at_least, each.least_margin), (line.at_nothing, 0.0)):
                if reach and reach.times is not None:
                    assert margin_at(computed, each, quotes_at(computed, line, reach.times)) == pytest.approx(
                        margin, abs=1e-9
                    )
                    checked += 1
    return checked


def test_on_the_sample_every_price_found_gives_its_margin():
    costing = cost(sample_catalog(), asked_for(DAY))
    least = [channel.reprice.least_margin for channel in costing.folder.stated.channels.values()]
    found = break_even(costing.computed, costing.computed["price"], least)
    assert len(found) == int(costing.computed["sold"].sum())
    some = [each for each in found if each.alloy in ("sterling", "gold-14ct")]
    assert assert_fed_back(costing.computed, some) > 50


@GENERATED
@given(workshop=workshops())
def test_on_generated_workshops_every_price_found_gives_its_margin(workshop: Workshop):
    with tempfile.TemporaryDirectory() as directory:
        computed = cost(write(workshop, Path(directory)), asked_for(workshop.as_of)).computed
    prices = np.maximum(computed["price"], 1.0)  # a price of nothing has no margin
    found = break_even(computed, prices, [0.1] * len(computed.resolved.channels))
    for each in found[:3]:
        assert_fed_back(computed, [each])
        for line in each.lines:
            for reach, margin in ((line.at_least, 0.1), (line.at_nothing, 0.0)):
                if reach.times is None:  # then even metal for nothing does not bring the cost down to it
                    assert margin_at(computed, each, quotes_at(computed, line, 0.0)) < margin + 1e-9


def bent_sample(tmp_path: Path) -> Computed:
    """The sample with a lot fee that clean scrap of sterling is only worth once silver has risen by more than a tenth.

    0.925 × 38.40 USD/ozt × 0.79 / 31.1034768 g/ozt = 0.9022 a gram today; a payout of 0.94 brings 0.848.
    """
    folder = shutil.copytree(sample_catalog(), tmp_path / "bent")
    path = folder / "alloys.toml"
    text = path.read_text(encoding="utf-8")
    sterling = text[text.index("[alloys.sterling]") :]
    sterling = sterling[: sterling.index("\n[", 1)]
    kept = [line for line in sterling.splitlines() if not line.startswith(("scrap_fee_per_g", "scrap_payout"))]
    path.write_text(text.replace(sterling, "\n".join([*kept, "scrap_payout = 0.94", "scrap_fee_per_g = 0.95"])))
    return cost(folder, asked_for(DAY)).computed


def test_where_scrap_begins_to_be_worth_its_fee_the_line_bends(tmp_path):
    computed = bent_sample(tmp_path)
    place = next(
        row for row, each in enumerate(computed.resolved.variants) if (each.sku, each.alloy) == ("thimble", "sterling")
    )
    assert computed["scrap_price_per_g"][[alloy.name for alloy in computed.resolved.alloys].index("sterling")] == 0
    assert computed["surplus_g"][place] > 0.1
    found = break_even(computed, computed["price"], [0.05] * len(computed.resolved.channels))
    each = next(each for each in found if (each.sku, each.alloy, each.channel) == ("thimble", "sterling", "shop"))
    line = each.lines[0]
    assert line.metal == "Ag" and line.at_nothing.times > 0.95 / 0.848  # beyond the bend
    assert assert_fed_back(computed, [each]) == 2
    # A straight line through today and a price a hundredth higher misses it.
    near = (each.margin - margin_at(computed, each, quotes_at(computed, line, 1.01))) / 0.01
    assert abs(1 + each.margin / near - line.at_nothing.times) > 1e-3


def test_a_piece_without_a_priced_metal_has_no_line_and_metals_not_in_it_have_none():
    costing = cost(sample_catalog(), asked_for(DAY))
    found = break_even(costing.computed, costing.computed["price"], [None] * len(costing.folder.stated.channels))
    lines = {each.alloy: [line.metal for line in each.lines] for each in found if each.sku == "beetle-pin"}
    assert lines == {
        "yellow-brass": ["brass-grain"],
        "sterling": ["Ag"],
        "gold-9ct": ["Ag", "Au", None],
        "gold-14ct": ["Ag", "Au", None],
    }
    assert all(line.at_least is None for each in found for line in each.lines)


def test_a_price_below_cost_is_reached_by_cheaper_metal_or_by_none():
    """At half the asked price a margin of nothing asks for cheaper metal; at a twentieth no metal is cheap enough."""
    computed = cost(sample_catalog(), asked_for(DAY)).computed
    none = [None] * len(computed.resolved.channels)
    half, little = (break_even(computed, computed["price"] * share, none) for share in (0.5, 0.05))
    gold = [next(each for each in found if each.alloy == "gold-14ct").all_metals for found in (half, little)]
    assert 0 < gold[0].at_nothing.times < 1
    assert gold[1].at_nothing.times is None
