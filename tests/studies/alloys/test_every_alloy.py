"""One design in every alloy: the copy is costed as if its file stated the alloy, and two cost the same where told."""

from __future__ import annotations

import csv
import io
import json
import shutil

import pytest

from pricing.costing import asked_for
from pricing.errors import UsageFault
from pricing.folder.read import read_folder
from pricing.formulas.engine import Computed, compute
from pricing.resources import sample_catalog
from pricing.studies.alloys.every_alloy import EveryAlloy, InAlloy, alloy_records, in_every_alloy
from tests.cli.conftest import troytag as troytag
from tests.folders import tin_lane
from tests.studies.repricing.test_reprice import changed_file, costing_of, published

DAY = asked_for(costing_of(tin_lane()).asked.as_of)
ALLOYS = ("brass", "silver-925", "gold-14k")


def of(folder, sku: str) -> EveryAlloy:
    return in_every_alloy(read_folder(folder), sku, DAY)


def by_alloy(every: EveryAlloy) -> dict[str, InAlloy]:
    return {each.alloy: each for each in every.found if each.size is None}


@pytest.fixture(scope="module")
def pins() -> EveryAlloy:
    return of(tin_lane(), "reed-pin")


@pytest.fixture
def folder(tmp_path):
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane")


def test_a_pin_weighs_as_its_alloys_are_dense(pins):
    """It is sawn of sheet in each, with the same losses; only silver is stated."""
    found = by_alloy(pins)
    assert [(each.alloy, each.is_made) for each in pins.found] == [
        ("brass", False),
        ("silver-925", True),
        ("gold-14k", False),
    ]
    assert not pins.left_out
    assert found["gold-14k"].finished_g == pytest.approx(found["silver-925"].finished_g * 13.1 / 10.36)
    assert found["brass"].finished_g == pytest.approx(found["silver-925"].finished_g * 8.41 / 10.36)
    # 0.62 cm3 at 10.36 g/cm3; 1.4 % is lost in piercing it and 0.6 % in finishing
    assert found["silver-925"].finished_g == pytest.approx(0.62 * 10.36 * 0.986 * 0.994)


def test_every_figure_is_as_if_the_file_stated_the_alloy(folder, pins):
    changed_file(folder, "products/reed-pin.toml", '["silver-925"]', '["silver-925", "gold-14k", "brass"]')
    computed = costing_of(folder).computed
    rows = {(each.sku, each.alloy): row for row, each in enumerate(computed.resolved.variants)}
    for each in pins.found:
        row = rows["reed-pin", each.alloy]
        for name in ("finished_g", "metal_cost", "unit_cost"):
            assert getattr(each, name) == computed[name][row]
        for column, price in enumerate(computed.resolved.variants[row].prices):
            assert each.prices[price.channel] == computed["price"][row, column]
            assert each.margins[price.channel] == computed["margin"][row, column]


def engine_at(every: EveryAlloy, metal: str, times: float) -> Computed:
    """The engine's own run with one metal at so many times its price."""
    resolved = every.out.computed.resolved
    metals = tuple(
        each.model_copy(update={"quote_price": each.quote_price * times}) if each.name == metal else each
        for each in resolved.metals
    )
    return compute(resolved.model_copy(update={"metals": metals}))


def costs_at(every: EveryAlloy, sku: str, metal: str, times: float) -> dict[str, float]:
    computed = engine_at(every, metal, times)
    costs = zip(computed.resolved.variants, computed["unit_cost"].tolist(), strict=True)
    return {variant.alloy: cost for variant, cost in costs if variant.sku == sku}


@pytest.mark.parametrize("sku", ["reed-pin", "lantern-studs", "harbour-set"])
def test_where_two_change_places_the_engine_says_that_they_cost_the_same(sku):
    every = of(tin_lane(), sku)
    assert [(each.cheaper, each.dearer) for each in every.changes] == [ALLOYS[:2], ALLOYS[1:]]
    for each in every.changes:
        assert each.times is not None and each.then == pytest.approx(each.now * each.times)
        there = costs_at(every, sku, each.metal, each.times)
        assert there[each.dearer] == pytest.approx(there[each.cheaper], rel=1e-9)
        assert each.cost_then == pytest.approx(there[each.dearer], rel=1e-9)
        near = [costs_at(every, sku, each.metal, each.times * by) for by in (0.999, 1.001)]
        gaps = [costs[each.dearer] - costs[each.cheaper] for costs in near]
        assert gaps[0] * gaps[1] < 0


def test_a_dearer_alloy_without_charges_of_its_own_comes_down_by_its_own_metal(folder):
    """Silver is sold here without a charge by weight, so that it comes down to brass as silver does."""
    for before in ("stock_fabrication_per_g = 0.19\n", "fabrication_per_g = 0.118\n", "scrap_fee_per_g = 0.012\n",
                   "lemel_fee_per_g = 0.02\n"):  # fmt: skip
        changed_file(folder, "alloys.toml", before, "")
    every = of(folder, "reed-pin")
    (change,) = [each for each in every.changes if each.dearer == "silver-925"]
    assert (change.metal, change.now, change.currency, change.per) == ("Ag", 49.385, "USD", "ozt")
    # Without fees there are no bends: a line through the costs at today's price and at twice that.
    now, twice = (costs_at(every, "reed-pin", "Ag", times) for times in (1, 2))
    gap = now["silver-925"] - now["brass"]
    rise = twice["silver-925"] - now["silver-925"]
    assert 0 < 1 - gap / rise < 1
    assert change.then == pytest.approx(49.385 * (1 - gap / rise))


def test_findings_of_an_alloy_say_whether_it_is_made_in_it(folder):
    """Gold has posts of its own and so may be tried; without them it may not."""
    whole = by_alloy(of(folder, "lantern-studs"))
    changed_file(
        folder, "products/lantern-studs.toml", '["silver-925", "gold-14k", "brass"]', '["silver-925", "brass"]'
    )
    tried = by_alloy(of(folder, "lantern-studs"))
    assert not tried["gold-14k"].is_made and tried["gold-14k"].unit_cost == whole["gold-14k"].unit_cost
    gold = (
        '{ name = "gold post", quantity = 2, price = 1.9, metal_g = 0.12, alloy = "gold-14k", alloys = ["gold-14k"] }, '
    )
    changed_file(folder, "products/lantern-studs.toml", gold, "")
    every = of(folder, "lantern-studs")
    assert set(by_alloy(every)) == {"silver-925", "brass"}
    assert every.left_out == {
        "gold-14k": "each of its alloys has findings of its own (post), and this one has none",
    }


def test_an_alloy_without_a_quote_is_left_out_and_the_rest_goes_on(folder):
    with (folder / "alloys.toml").open("a", encoding="utf-8") as file:
        file.write(
            '[alloys.platinum-950]\nname = "Platinum"\ndensity = 20.1\ncomposition = { Pt = 0.95, Ru = 0.05 }\n'
            'unpriced = ["Ru"]\npriced_by = "content"\nscrap_payout = 0.9\nmelt_loss = 0.01\n'
        )
    every = of(folder, "reed-pin")
    assert set(by_alloy(every)) == set(ALLOYS)
    assert list(every.left_out) == ["platinum-950"]
    assert "Pt: there is no quote on or before 2026-11-20" in every.left_out["platinum-950"]


def test_what_is_published_stands_at_its_price_and_the_rest_as_asked(folder, pins):
    published(folder)
    changed_file(folder, "channels.toml", "policy = { markup = 0.3 }", "policy = { markup = 0.5 }")
    records = {
        (each["alloy"], each["channel"]): each for each in alloy_records(of(folder, "reed-pin"), ["gallery", "stall"])
    }
    assert records["silver-925", "gallery"]["is_published"] and not records["brass", "gallery"]["is_published"]
    asked = {
        each["alloy"]: each
        for each in alloy_records(in_every_alloy(read_folder(folder), "reed-pin", DAY, "asked"), ["gallery"])
    }
    assert asked["brass"]["price"] == records["brass", "gallery"]["price"]
    before = by_alloy(pins)["silver-925"].prices["gallery"]
    assert asked["silver-925"]["price"] > records["silver-925", "gallery"]["price"] == before


def test_sizes_of_one_price_lose_in_margin_what_they_cost_more():
    """Of a band at one price each pound more of cost is the same share of what is received, in every size."""
    every = of(sample_catalog(), "wedding-band")
    assert {each.alloy for each in every.found} == {
        "yellow-brass", "silicon-bronze", "sterling", "gold-9ct", "gold-14ct", "fine-gold"
    }  # fmt: skip
    for alloy in ("gold-9ct", "fine-gold"):
        sizes = [each for each in every.found if each.alloy == alloy and each.size is not None]
        assert [each.size for each in sizes] == ["L", "N", "P", "R"]
        falls = [
            (here.margins["shop"] - after.margins["shop"]) / (after.unit_cost - here.unit_cost)
            for here, after in zip(sizes, sizes[1:], strict=False)
        ]
        assert falls == pytest.approx([falls[0]] * 3) and falls[0] > 0
        assert sizes[0].finished_g < by_alloy(every)[alloy].finished_g < sizes[-1].finished_g


def test_a_product_that_is_none_is_told():
    with pytest.raises(UsageFault, match='no product "reed-pim". Did you mean "reed-pin"'):
        of(tin_lane(), "reed-pim")


def test_the_command(troytag):
    words = (tin_lane(), "alloy", "--sku", "harbour-set", "--as-of", "2026-11-20", "--channel", "gallery")
    rows = list(csv.DictReader(io.StringIO(troytag("study", *words, "--csv").out)))
    assert [(row["alloy"], float(row["price"])) for row in rows[:2]] == [("brass", 60.0), ("silver-925", 372.5)]
    assert [row["is_made"] for row in rows][0] == [row["is_made"] for row in rows][1] != rows[2]["is_made"]
    document = json.loads(troytag("study", *words, "--json").out)
    assert [each["dearer"] for each in document["changes"]] == ["silver-925", "gold-14k"]
    said = troytag("study", *words)
    assert said.code == 0 and "gold-14k, what if" in said.out
    assert "silver-925 costs what brass does" in " ".join(said.out.split())
