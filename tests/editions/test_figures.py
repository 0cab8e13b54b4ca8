"""Any figure of an old edition is shown again, with its work, from what is stored."""

from __future__ import annotations

import dataclasses
import json
import shutil
from datetime import date, datetime

import numpy as np
import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import newest, read
from pricing.editions.figures import computed_again, formulas_version
from pricing.editions.inputs import frozen_inputs, thawed_inputs
from pricing.errors import TroytagError
from pricing.formulas.work import Worker
from pricing.kept.canonical import canonical
from pricing.studies.prices_out import at_prices
from pricing.studies.publishing.new_edition import files_read, publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.folders import tin_lane

DAY = date(2026, 11, 20)
MOMENT = datetime.fromisoformat("2026-11-20T18:30:00+00:00")


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane")


@pytest.fixture
def published(folder):
    """The folder with an edition, and the costing that it was made of."""
    costing = cost(folder, asked_for(DAY))
    publish_prices(reprice(costing, None), MOMENT)
    return folder, costing


def test_the_inputs_are_read_back_as_they_were(folder):
    resolved = cost(folder, asked_for(DAY)).computed.resolved
    assert thawed_inputs(json.loads(canonical(frozen_inputs(resolved)))) == resolved


def test_every_figure_is_kept(published):
    folder, costing = published
    again = computed_again(read(folder, 1))
    for name in costing.computed.values:
        np.testing.assert_array_equal(again.values[name], costing.computed.values[name], err_msg=name)


def test_the_work_is_the_same_as_on_the_day(published):
    folder, costing = published
    names = ("unit_cost", "price", "margin", "earned_per_hour")
    now, then = (Worker(each) for each in (costing.computed, computed_again(read(folder, 1))))
    channels = len(costing.computed.resolved.channels)
    for row in range(len(costing.computed.resolved.variants)):
        for channel in {row % channels, (row + 1) % channels}:  # two a variant, so that each channel has its turn
            of_now, of_then = ([str(work) for work in worker.behind(names, row, channel)] for worker in (now, then))
            assert len(of_now) > 100
            assert of_now == of_then


def test_the_work_of_another_day_s_formulas_is_shown_by_those(published):
    """The formula of a margin is changed in the edition: what is shown comes from there, and nothing is computed."""
    folder, _ = published
    edition = read(folder, 1)
    formulas = [dict(kept) for kept in edition.content["formulas"]]
    margin = next(kept for kept in formulas if kept["name"] == "margin")
    assert margin["formula"] == "ratio(profit, net_sales)"
    margin["formula"] = "profit / net_sales * 1"
    other = dataclasses.replace(edition, content={**edition.content, "formulas": formulas})
    (work,) = [each for each in Worker(computed_again(other)).each(["margin"], 0, 0)]
    assert work.symbols == "profit / net_sales * 1"
    assert work.result == edition.content["variants"][0]["prices"]["gallery"]["margin"]


def test_a_held_price_brings_what_its_figures_say(published):
    """Silver 20 % up (49.385 × 1.2), all held by the maker's word: margins are those at the prices in force."""
    folder, costing = published
    lines = folder / "metal_prices.csv"
    lines.write_text(lines.read_text() + "2026-11-21,Ag,59.262,ozt,USD,test\n")
    later = cost(folder, asked_for(date(2026, 11, 21)))
    words = {(each.sku, each.alloy, None): "hold" for each in later.computed.resolved.variants}
    repricing = reprice(later, newest(folder), words)
    publish_prices(repricing, MOMENT)
    again = computed_again(read(folder, 2))
    sold = again["sold"].astype(bool)
    np.testing.assert_array_equal(again["price"][sold], costing.computed["price"][sold])
    margin = (again["net_receipts"] - later.computed["unit_cost"][:, None]) / again["net_sales"]
    np.testing.assert_allclose(again["margin"][sold], margin[sold], rtol=1e-12)
    prices = [(each["set_in"], each["set_on"], each["verdict"]) for each in read(folder, 2).content["prices"]]
    assert set(prices) == {(1, "2026-11-20", "hold")}


def test_the_edition_says_what_it_was_made_of(published):
    folder, costing = published
    said = read(folder, 1).content
    assert said["published"] == "2026-11-20T18:30:00+00:00"
    assert said["formulas_version"] == formulas_version()
    assert len(said["formulas_version"]) == 64
    assert set(said["files"]) == {
        "alloys.toml", "channels.toml", "metal_prices.csv", "processes.toml", "workshop.toml",
        *(f"products/{path.name}" for path in (folder / "products").glob("*.toml")),
    }  # fmt: skip
    assert said["files"] == files_read(costing.folder)
    silver = next(quote for quote in said["quotes"] if quote["metal"] == "Ag")
    assert (silver["price"], silver["per"], silver["currency"]) == (49.385, "ozt", "USD")  # the line of 2026-11-18


def test_a_folder_that_changes_while_it_is_looked_at_is_refused(folder):
    repricing = reprice(cost(folder, asked_for(DAY)), None)
    workshop = folder / "workshop.toml"
    workshop.write_text(workshop.read_text().replace("per_month = ", "per_month = 1"))
    with pytest.raises(TroytagError, match="was changed while its prices were looked at; reprice again"):
        publish_prices(repricing)
    assert newest(folder) is None


def test_figures_at_asked_prices_are_the_figures(folder):
    computed = cost(folder, asked_for(DAY)).computed
    same = at_prices(computed, computed["price"])
    for name in computed.values:
        np.testing.assert_array_equal(same.values[name], computed.values[name], err_msg=name)
