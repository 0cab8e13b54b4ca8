"""`export FOLDER quote`: what the customer reads, what the maker reads, and the offers as JSON."""

from __future__ import annotations

import json
import re
import shutil
from fractions import Fraction

import pytest

from pricing.editions.chain import read
from pricing.resources import sample_catalog
from tests.exact.compare import NEAR_ZERO, compare
from tests.folders import alder_wharf
from tests.published.small_workshop import material, written

DAY = ("--as-of", "2026-11-20")
QUOTED = json.loads((alder_wharf() / "expected_quote.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("exact", QUOTED[:2], ids=lambda exact: exact["sku"])
def test_json_is_what_an_independent_exact_calculation_makes_of_it(troytag, exact):
    words = [f"--{name}={exact[name]}" for name in ("sku", "alloy", "channel")]
    words += [f"--quantity={offer['quantity']:.0f}" for offer in reversed(exact["offers"])]
    ran = troytag("export", alder_wharf(), "quote", *words, *DAY, "--json")
    got = json.loads(ran.out)
    found: list[str] = []
    compare("offers", got, exact, (Fraction(1, 10**9), NEAR_ZERO), found)
    assert found == []


@pytest.fixture
def by_the_dozen(tmp_path):
    """A piece of 10.00, a dozen to the usual order, whose packing costs 12.00; a fifth of sales to be left over."""
    channel = {"units_per_order": 12, "packing": 12.0, "policy": {"margin": 0.2}, "minimum_order": 50.0}
    written(tmp_path / "folder", **material(10.0), channels={"shop": channel})
    return tmp_path / "folder"


def test_what_an_offer_earns_is_said_to_the_maker_and_not_to_the_customer(troytag, by_the_dozen, tmp_path):
    paper = tmp_path / "quote.html"
    words = ("--sku", "piece", "--quantity", "3", "--quantity", "60", "--number", "27", "--extra", "sizing=15")
    ran = troytag("export", by_the_dozen, "quote", *words, *DAY, "--to", paper)
    assert (ran.code, ran.out.strip()) == (0, str(paper))
    said = " ".join(ran.err.split())
    # (10 + 12 / 12) / 0.8 = 13.75; (10 + 12 / 3) / 0.8 = 17.50; (10 + 12 / 60) / 0.8 = 12.75
    assert "Quotation 27, piece as sold in shop" in said
    assert "Metal: margin of 20 %; 13.75 GBP asked of a usual order, not published." in said
    assert re.search(r"\b3 +price in force +17\.50 +13\.75 +10\.00 +-2 %", said)  # -0.25 / 13.75
    assert re.search(r"\b60 +policy +12\.75 +12\.75 +10\.00 +20 %", said)
    assert "an order of 3 in metal loses 0.25 each." in said  # 13.75 - 10 - 4
    assert "3 in metal is less than the minimum order of shop." in said  # 41.25
    assert "extras are in the sums of the paper" in said
    page = paper.read_text(encoding="utf-8")
    assert "below" not in page and "pieces for less than the minimum order of 50.00" in page and "27" in page
    assert not re.search("margin of|an hour|policy|price in force|17.50", page)


def test_a_retail_offer_that_undercuts_the_ladder_is_told(troytag, tmp_path):
    """Trade asks 1.5 × 10.00, so that no list sells for less than 2 × 15.00; to post 60 together asks
    (10 + 12 / 60) / 0.8 = 12.75."""
    shop = {"packing": 12.0, "policy": {"margin": 0.2}}
    trade = {"audience": "wholesale", "policy": {"multiple": 1.5}}
    channels, ladder = {"shop": shop, "trade": trade}, {"keystone": 2.0}
    written(tmp_path, **material(10.0), channels=channels, ladder=ladder)
    words = ("export", tmp_path, "quote", "--sku", "piece", "--quantity", "60", *DAY, "--to", tmp_path / "q.html")
    said = " ".join(troytag(*words, "--channel", "shop").err.split())
    assert (
        "an order of 60 in metal goes below 2 × wholesale, 30.00, where the ladder keeps the price of a list." in said
    )
    trade_said = troytag(*words, "--channel", "trade", "--force").err
    assert "ladder" not in trade_said and trade_said


def test_a_run_of_one_is_made_whole_and_told(troytag, tmp_path):
    """What one costs is what `cost --run 1` says."""
    ran = troytag("cost", sample_catalog(), "--sku", "thimble", "--alloy", "sterling", "--run", "1", "--json", *DAY)
    (alone,) = json.loads(ran.out)["variants"]
    words = ("--sku", "thimble", "--alloy", "sterling", "--quantity", "1", "--to", tmp_path / "quote.html")
    said = " ".join(troytag("export", sample_catalog(), "quote", *words, *DAY, "--no-pictures").err.split())
    assert "1 in sterling is made as a run of its own, flasks and loads whole" in said
    assert f"one costs {alone['unit_cost']:.2f}, and" in said


def test_what_is_published_bounds(troytag, tmp_path):
    folder = shutil.copytree(sample_catalog(), tmp_path / "fernhollow")
    words = ("--sku", "acorn-knob", "--alloy", "sterling", "--channel", "shop", "--quantity", "1", "--json")
    assert troytag("reprice", folder, "--as-of", "2026-06-01", "--publish").code == 0
    edition = read(folder, 1).content
    (published,) = (
        row["price"]
        for row in edition["prices"]
        if (row["sku"], row["alloy"], row["channel"]) == ("acorn-knob", "sterling", "shop")
    )
    got = json.loads(troytag("export", folder, "quote", *words, *DAY).out)
    before = json.loads(troytag("export", sample_catalog(), "quote", *words, *DAY).out)
    assert got["price_in_force"] == published != before["price_in_force"]
    (offer,) = got["offers"]
    assert (offer["price"], offer["binds"]) == (published, "price_in_force")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--quantity", "1,5"), '"1,5" is no quantity: write a whole number from 1 to 999999; several as --quantity 1'),
        (("--quantity", "0"), '"0" is no quantity'),
        (("--extra", "sizing"), '"sizing" is no extra: write what for and how much, as sizing=15.'),
        (("--alloy", "sterling", "--channel", "trade"), "acorn-knob in sterling is not sold in trade"),
        (("--alloy", "gold-9ct"), "acorn-knob is made in yellow-brass, silicon-bronze, sterling; there is no gold-9ct"),
        (("--customer", "x" * 121), "for whom has 121 signs; 120 fit on the paper"),
        (("--json",), "--json is of one piece, alloy and channel"),
    ],
)
def test_slips_are_told_in_a_sentence(troytag, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    ran = troytag("export", sample_catalog(), "quote", "--sku", "acorn-knob", *words, *DAY, "--no-pictures")
    assert ran.code == 2 and said in ran.err and "Traceback" not in ran.err and ran.out == ""
    assert list(tmp_path.iterdir()) == []
