"""`import pricing` in a notebook: one call, tables, work, quantities of one's own."""

from __future__ import annotations

import os
import subprocess
import sys
from dataclasses import fields
from datetime import date
from pathlib import Path

import pytest

import pricing
from pricing.costing import asked_for
from pricing.costing import cost as cost_it
from pricing.records import flat_records
from pricing.resources import sample_catalog
from pricing.studies.band import Fared

DAY = "2026-11-20"


def metal_share(metal_cost, unit_cost) -> "variant":
    """Share of the metal in what a set costs.

    Unit: 1
    Why: what a leap of metal does to the cost.
    """
    return ratio(metal_cost, unit_cost)


def price_per_gram(price, finished_g) -> "price":
    """Price of one gram of the piece.

    Unit: cur/g
    Why: what people compare at a fair.
    """
    return ratio(price, finished_g)


def twice_the_times(times) -> "step":
    """Every step done twice.

    Unit: 1/set
    Why: to see a step's own quantity.
    """
    return times + times


@pytest.fixture(scope="module")
def costed():
    return pricing.cost(str(sample_catalog()), as_of=DAY, quantities=[metal_share, price_per_gram, twice_the_times])


def test_a_folder_and_a_day_in_any_form():
    plain = pricing.cost(sample_catalog(), as_of=date(2026, 11, 20))
    told = pricing.cost(f"{sample_catalog()}", as_of=DAY)
    assert plain.frame().equals(told.frame())
    assert plain.asked.as_of == date(2026, 11, 20)
    assert pricing.cost(sample_catalog(), as_of=DAY, run=12).asked.run == 12


def test_it_introduces_itself_in_one_line(costed):
    assert repr(costed) == "<Fernhollow Castings: 12 products, 30 variants, 4 channels, priced as of 2026-11-20>"
    assert len(repr(costed.computed)) < 200 and len(repr(costed.folder)) < 200


def test_the_frame_is_what_the_records_are(costed):
    records = flat_records(costed.computed, range(30), ["shop", "marketplace", "trade", "stall"])
    frame = costed.frame()
    for name in ("sku", "alloy", "channel", "unit_cost", "price", "margin", "scrap_price_per_g"):
        assert list(frame[name]) == [each[name] for each in records]
    assert list(frame["binds"]) == [each["binds"] for each in records]


def test_variants_steps_and_the_price_history(costed):
    variants = costed.frame("variant").set_index(["sku", "alloy"]).sort_index()
    steps, quotes = costed.frame("step"), costed.frame("quote")
    assert variants.index.is_unique and len(variants) == 30
    for (sku, alloy), own in steps.groupby(["sku", "alloy"]):
        hours = variants.loc[(sku, alloy), "labour_hours"]
        assert own["step_labour_hours"].sum() == pytest.approx(hours, rel=1e-12)
    # sample_catalog/metal_prices.csv: a quote a line
    lines = (sample_catalog() / "metal_prices.csv").read_text(encoding="utf-8").splitlines()
    assert len(quotes) == sum(1 for line in lines if line[:2] == "20")
    with pytest.raises(pricing.UsageFault, match='there is no frame of "prise". Did you mean "price"'):
        costed.frame("prise")


def test_quantities_of_one_s_own_stand_with_the_others(costed):
    variants, prices, steps = costed.frame("variant"), costed.frame(), costed.frame("step")
    share = variants["metal_cost"] / variants["unit_cost"]
    assert list(variants["metal_share"]) == pytest.approx(list(share), rel=1e-12)
    assert list(prices["price_per_gram"]) == pytest.approx(list(prices["price"] / prices["finished_g"]), rel=1e-12)
    assert "metal_share" in prices and "price_per_gram" not in variants
    assert list(steps["twice_the_times"]) == pytest.approx(list(2 * steps["times"]), rel=1e-12)
    assert "ratio(metal_cost, unit_cost)" in repr(costed.work("metal_share", "thimble", "sterling"))


def test_a_quantity_that_cannot_be_read_is_told():
    def of_what(unit_price) -> "variant":
        """Nothing.

        Unit: cur
        Why: no quantity is called so.
        """
        return unit_price

    with pytest.raises(pricing.FormulaFault, match="unit_price"):
        pricing.cost(sample_catalog(), as_of=DAY, quantities=[of_what])
    with pytest.raises(pricing.UsageFault, match="3 is no function"):
        pricing.cost(sample_catalog(), as_of=DAY, quantities=[3])


def test_work_is_told_as_the_command_tells_it(costed):
    work = costed.work("scrap_price_per_g", "thimble", "sterling")
    assert repr(work).splitlines()[-1].startswith("  = ") and repr(work).splitlines()[-1].endswith(" GBP/g")
    assert [each.quantity for each in costed.work("price", "thimble", "sterling").works] == ["price"] * 4
    assert [each.place for each in costed.work("price", "thimble", "sterling", "stall").works] == ["stall"]
    behind = costed.work("scrap_price_per_g", "thimble", "sterling", behind=True)
    assert [each.quantity for each in behind.works][0] == "spot_per_g"
    assert behind.works[-1] == work.works[0]


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("unit_costs", "thimble", "sterling"), 'there is no quantity "unit_costs". Did you mean "unit_cost"'),
        (("unit_cost", "thimbel", "sterling"), 'there is no product "thimbel". Did you mean "thimble"'),
        (("unit_cost", "thimble", "sterlin"), 'there is no thimble in "sterlin". Did you mean "sterling"'),
        (("price", "thimble", "sterling", "stal"), 'there is no thimble sold in "stal". Did you mean "stall"'),
    ],
)
def test_words_that_are_off_are_told(costed, words, told):
    with pytest.raises(pricing.UsageFault, match=told):
        costed.work(*words)


def test_a_day_that_is_none_and_a_folder_that_is_none(tmp_path):
    with pytest.raises(pricing.UsageFault, match='"today" is no date. Write it as 20'):
        pricing.cost(sample_catalog(), as_of="today")
    with pytest.raises(pricing.TroytagError, match="there is no such folder"):
        pricing.cost(tmp_path / "nowhere")


def test_what_a_study_returns_is_a_table():
    fared = [Fared(0.02, 7, 3.5, 12, 0.01, 0.03, 4.0), Fared(0.04, 7, 1.5, 5, 0.02, 0.05, 9.0)]
    found = pricing.frame(fared)
    assert list(found.columns) == [field.name for field in fields(Fared)]
    assert list(found["changes"]) == [12, 5]
    assert list(pricing.frame([{"sku": "thimble"}])["sku"]) == ["thimble"]


def test_nothing_heavy_is_loaded_until_it_is_asked_for():
    program = (
        "import sys, pricing; a = {'numpy', 'pandas', 'pydantic'} & set(sys.modules); "
        f"costed = pricing.cost({str(sample_catalog())!r}, as_of='{DAY}'); b = 'pandas' in sys.modules; "
        "costed.frame(); print(a, b, 'pandas' in sys.modules)"
    )
    environment = {**os.environ, "PYTHONPATH": str(Path(pricing.__file__).parents[1])}
    ran = subprocess.run([sys.executable, "-c", program], env=environment, capture_output=True, text=True, check=True)
    assert ran.stdout == "set() False True\n"


def test_what_is_offered_is_there():
    assert set(pricing.__all__) <= set(dir(pricing))
    for name in pricing.__all__:
        assert getattr(pricing, name)
    with pytest.raises(AttributeError, match="has no attribute 'costs'"):
        pricing.costs  # noqa: B018
    assert (Path(pricing.__file__).parent / "py.typed").exists()
    assert cost_it(sample_catalog(), asked_for(date(2026, 11, 20))).computed["unit_cost"].shape == (30,)
