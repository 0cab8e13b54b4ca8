"""`import pricing` in a notebook: one call, tables, work, quantities of one's own."""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import sys
from dataclasses import fields
from datetime import date, timedelta
from pathlib import Path

import pandas as pd
import pytest

import pricing
from pricing.cli.screens.screen import print_csv
from pricing.costing import asked_for
from pricing.costing import cost as cost_it
from pricing.records import flat_records, variant_records
from pricing.resources import sample_catalog
from pricing.studies.band.back_test import Fared
from tests.folders import alder_wharf

DAY = "2026-11-20"
PRICES = sample_catalog() / "metal_prices.csv"


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
    stated, variants = costed.folder.stated, costed.computed.resolved.variants
    counts = f"{len(stated.products)} products, {len(variants)} variants, {len(stated.channels)} channels"
    assert repr(costed) == f"<Fernhollow Castings: {counts}, priced as of 2026-11-20>"
    assert len(repr(costed.computed)) < 200 and len(repr(costed.folder)) < 200


def test_the_frame_is_what_the_records_are(costed):
    records = flat_records(
        costed.computed, range(len(costed.computed.resolved.variants)), costed.folder.stated.channels
    )
    frame = costed.frame()
    for name in ("sku", "alloy", "channel", "unit_cost", "price", "margin", "scrap_price_per_g"):
        assert list(frame[name]) == [each[name] for each in records]
    assert list(frame["binds"]) == [each["binds"] for each in records]


def test_variants_steps_and_the_price_history(costed):
    variants = costed.frame("variant").set_index(["sku", "alloy"]).sort_index()
    steps, quotes = costed.frame("step"), costed.frame("quote")
    assert variants.index.is_unique and len(variants) == len(costed.computed.resolved.variants)
    for (sku, alloy), own in steps.groupby(["sku", "alloy"]):
        hours = variants.loc[(sku, alloy), "labour_hours"]
        if sku not in ("hare-pendant", "workbox-gift-set"):  # their parts' hours are in no step of theirs
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
    grams = prices["finished_g"].where(prices["finished_g"] > 0)  # a box of finished pieces weighs nothing of its own
    assert list(prices["price_per_gram"]) == pytest.approx(list(prices["price"] / grams), rel=1e-12, nan_ok=True)
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


def test_any_study_is_a_table_with_what_else_it_tells(costed):
    lots = costed.study("quantity", sku="thimble", alloy="sterling", channel="stall", up_to=12)
    assert list(lots["quantity"]) == list(range(1, 13)) and lots.attrs["margin"] > 0
    month = costed.study("mix", each=2, shares=True, hours=["10"])
    hours = next(each for each in month.attrs["limits"] if each["kind"] == "hours")
    assert (month["sets"] * month["hours"]).sum() == pytest.approx(hours["used"]) and hours["there_is"] == 10
    for words, said in (
        ({"name": "mixt"}, 'no study "mixt". Did you mean "mix"'),
        ({"name": "mix", "eech": 3}, 'no option "eech". Did you mean "each"'),
        ({"name": "sale"}, "study sale: say off"),
    ):
        with pytest.raises(pricing.UsageFault, match=said):
            costed.study(**words)


# ---- prices of metal, studies, pieces and sizes


def test_the_price_history_is_in_one_unit_and_one_currency(costed):
    """The sample's lines of the day: silver 38.40 and gold 3300 USD/ozt, brass grain 9.80 GBP/kg, 0.79 GBP a dollar."""
    dollars, pounds = costed.history("ozt", "USD"), costed.history()
    day = pd.Timestamp("2026-11-20")
    ounce = 31.1034768  # gram in a troy ounce
    assert dollars.loc[day, "Ag"] == pytest.approx(38.40, rel=1e-12)
    assert pounds.loc[day, "Au"] == pytest.approx(3300 * 0.79 / ounce, rel=1e-12)
    assert dollars.loc[day, "brass-grain"] == pytest.approx(9.80 / 1000 * ounce / 0.79, rel=1e-12)
    lines = [line.split(",") for line in PRICES.read_text(encoding="utf-8").splitlines()[1:]]
    assert [str(each.date()) for each in pounds.index] == sorted({line[0] for line in lines})
    metals = list(dict.fromkeys(line[1] for line in lines if line[3] != "unit"))
    assert list(pounds.columns) == metals


def test_a_metal_or_a_rate_that_is_not_quoted_yet_is_missing(tmp_path):
    folder = Path(shutil.copytree(sample_catalog(), tmp_path / "late"))
    head, *lines = PRICES.read_text(encoding="utf-8").splitlines()
    early = ["2025-01-02,Ag,20,g,GBP,", "2025-01-03,Au,90,g,USD,", "2025-01-04,Ag,21,g,GBP,"]
    of_the_day, later = [line for line in lines if line.startswith(DAY)], "2026-11-25,Ag,40,g,GBP,"
    (folder / "metal_prices.csv").write_text("\n".join([head, *early, *of_the_day, later, ""]), encoding="utf-8")
    late = pricing.cost(folder, as_of="2026-11-21")
    pounds, dollars = late.history(), late.history(currency="USD")
    assert [str(each.date()) for each in pounds.index] == ["2025-01-02", "2025-01-03", "2025-01-04", DAY]
    assert list(pounds["Ag"][:3]) == [20, 20, 21] and pounds["Au"][:3].isna().all()
    assert dollars["Ag"][:3].isna().all() and dollars["Ag"].iloc[-1] == pytest.approx(38.40 / 31.1034768, rel=1e-12)


def test_a_unit_or_a_currency_that_there_is_not_is_told(costed):
    with pytest.raises(pricing.UsageFault, match='there is no unit "oz". Did you mean "ozt"'):
        costed.history("oz")
    with pytest.raises(pricing.UsageFault, match='there is no rate of "USS". Did you mean "USD"'):
        costed.history("g", "USS")


def test_the_studies_are_tables(costed):
    found = costed.breakeven(asked=True)
    one = found[found["metal"] == "Ag"]
    assert (one["least_margin_at"] / one["now"]).round(9).equals(one["least_margin_at_times"].round(9))
    assert set(zip(found["sku"], found["alloy"], found["channel"], strict=True)) <= {
        tuple(row) for row in costed.frame()[["sku", "alloy", "channel"]].itertuples(index=False)
    }
    assert found.loc[found["metal"] == "all together", "now"].isna().all()


def test_bands_are_tried_on_a_table_of_prices(costed, tmp_path):
    """Silver that rises by a tenth each half year, for two and a half: what holds within 20 % moves less than what
    follows at once, and the more a policy moves the less it falls short."""
    start, rows = date(2024, 1, 1), []
    for day in range(900):
        rows.append(f"{start + timedelta(days=day)},{20 * 1.1 ** (day // 180):.4f}")
    history = tmp_path / "silver.csv"
    history.write_text("\n".join(["day,Ag", *rows]) + "\n", encoding="utf-8")
    found = costed.band(history, channels=["shop"], bands=(0.0, 0.2), intervals=(28,))
    assert list(found["keep_within"]) == [0.0, 0.2] and list(found["interval"]) == [28, 28]
    assert found["changes"][0] > found["changes"][1]
    assert found["shortfall"][0] < found["shortfall"][1]
    assert found["on_frontier"].all()
    history.write_text("\n".join(["day,Ag", *rows[:300]]) + "\n", encoding="utf-8")
    with pytest.raises(pricing.UsageFault, match="two years are the least"):
        costed.band(history)
    with pytest.raises(pricing.UsageFault, match='there is no channel "shap". Did you mean "shop"'):
        costed.band(history, channels=["shap"])


def test_pieces_and_sizes_have_frames_of_their_own():
    whole = pricing.cost(alder_wharf(), as_of=DAY)
    records = variant_records(whole.computed)
    parts, sizes = whole.frame("part"), whole.frame("size")
    assert list(parts["unit_cost"]) == [each["unit_cost"] for record in records for each in record.get("parts", ())]
    assert list(parts["of_sku"]) == [record["sku"] for record in records for _ in record.get("parts", ())]
    told = [(record, each) for record in records for each in record.get("sizes", ())]
    assert list(sizes["size"]) == [each["size"] for _, each in told] and len(told) > 2
    assert list(sizes["margin_shop"]) == [each["margin"]["shop"] for _, each in told]
    for name in ("price", "variant"):
        assert not whole.frame(name).map(lambda value: isinstance(value, list | dict)).any(axis=None)


def test_a_table_goes_to_csv_as_the_command_writes_it(costed, tmp_path, capsys):
    table = [{"sku": "=cmd()", "margin": math.nan, "day": pd.Timestamp("2026-11-20"), "count": 3, "binds": None}]
    path = tmp_path / "table.csv"
    pricing.to_csv(table, path)
    assert path.read_text(encoding="utf-8") == "sku,margin,day,count,binds\n'=cmd(),,2026-11-20,3,\n"
    with pytest.raises(pricing.UsageFault, match="stands already"):
        pricing.to_csv(table, path)
    pricing.to_csv(costed.history(), path, force=True)
    first, second = path.read_text(encoding="utf-8").splitlines()[:2]
    assert first.startswith("date,") and second.startswith(str(costed.history().index[0].date()) + ",")
    prices = costed.frame()[["sku", "alloy", "channel", "price", "unit_cost", "binds"]]
    pricing.to_csv(prices, path, force=True)
    print_csv(prices.to_dict("records"))
    assert path.read_text(encoding="utf-8") == capsys.readouterr().out


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
    assert cost_it(sample_catalog(), asked_for(date(2026, 11, 20))).computed["unit_cost"].size
