"""What a price that is not in the history yet would move is what costing the folder with it moves."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.folder.prices.append import append_quote
from pricing.model.quote import Quote
from pricing.records import variant_records
from pricing.resources import sample_catalog
from pricing.studies.alloys.side_by_side import compared, cost_lines_of
from pricing.studies.repricing.would_move import would_move

DAY = date(2026, 11, 20)


def quote(**other) -> Quote:
    return Quote(**{"date": DAY, "metal": "Ag", "price": 50.0, "per": "ozt", "currency": "USD", "source": "", **other})


@pytest.mark.parametrize("typed", [quote(), quote(price=1.3, currency="GBP", per="g"), quote(
    metal="USD", price=0.9, per="unit", currency="GBP")])  # fmt: skip
def test_it_is_what_the_folder_comes_to_once_it_is_written(tmp_path, typed):
    root = Path(shutil.copytree(sample_catalog(), tmp_path / "fernhollow"))
    before = cost(root, asked_for(DAY))
    found = would_move(before, None, typed)
    append_quote(root, typed)
    after = cost(root, asked_for(DAY)).computed
    sold = after["sold"].astype(bool)
    moved = sold & (np.abs(after["price"] - before.computed["price"]) > 1e-9)
    assert (len(found.moves), found.prices) == (int(moved.sum()), int(sold.sum()))
    names = [channel.name for channel in after.resolved.channels]
    rows = {(each.sku, each.alloy): row for row, each in enumerate(after.resolved.variants)}
    for each in found.moves:
        assert each.after == after["price"][rows[each.sku, each.alloy], names.index(each.channel)]
    changes = after["unit_cost"] / before.computed["unit_cost"] - 1
    assert sorted(found.costs) == sorted(changes[np.abs(changes) > 1e-9].tolist())


def test_where_nothing_can_move_it_says_why():
    costing = cost(sample_catalog(), asked_for(DAY))
    for typed, words in (
        (quote(date=date(2026, 11, 21)), "It counts from 2026-11-21 on"),
        (quote(date=date(2026, 11, 19)), "A newer quote is in force"),
        (quote(metal="Pt"), "No variant is priced by Platinum (Pt)"),
        (quote(currency="UYU"), "No exchange rate of UYU"),
    ):
        assert would_move(costing, None, typed).why_not.startswith(words)


def test_a_line_has_the_figure_of_every_alloy():
    costing = cost(sample_catalog(), asked_for(DAY))
    made = [each for each in variant_records(costing.computed) if each["sku"] == "acorn-knob"]
    line = compared(made, "unit_cost")
    assert line.values == tuple(each["unit_cost"] for each in made)
    assert set(line.sold) == {True}
    trade = compared(made, "price", "trade")
    assert trade.sold == tuple("trade" in each["prices"] for each in made)
    assert [value is None for value in trade.values] == ["trade" not in each["prices"] for each in made]
    assert "metal_cost" in cost_lines_of(made)
