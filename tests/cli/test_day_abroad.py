"""A day with parts and a channel abroad: published, metal and the dollar move, the same figure everywhere."""

from __future__ import annotations

import csv
import json
from io import StringIO
from pathlib import Path
from shutil import copytree

import pytest

from tests.folders import alder_wharf


@pytest.fixture
def wharf(tmp_path, troytag) -> Path:
    """Published on one day; on the next silver, gold and the dollar are dearer."""
    folder = Path(copytree(alder_wharf(), tmp_path / "wharf"))
    assert troytag("reprice", folder, "--publish", "--yes", "--as-of", "2026-11-20").code == 0
    moved = [
        "2026-11-21,Ag,55.00,ozt,USD,fix",
        "2026-11-21,Au,4300.00,ozt,USD,fix",
        "2026-11-21,USD,0.79,unit,GBP,bank",
    ]
    with (folder / "metal_prices.csv").open("a") as history:
        history.write("\n".join(moved) + "\n")
    return folder


def test_silver_gold_of_a_layer_and_the_dollar_are_named_as_causes(wharf, troytag):
    """The pendant's own silver, its chain's and its bail's are one cause; the gold that it is plated with another."""
    said = troytag("reprice", wharf, "--sku", "fern-pendant", "--as-of", "2026-11-21")
    words = " ".join(said.out.split())
    assert "Silver (Ag) +" in words and "USD rate +" in words and "Gold (Au) +" in words
    assert "abroad, USD 100.00" in words


def test_every_face_says_the_same_price_abroad(wharf, troytag):
    rows = json.loads(troytag("cost", wharf, "--as-of", "2026-11-21", "--json").out)["variants"]
    asked = {row["sku"]: row["prices"]["abroad"] for row in rows if "abroad" in row["prices"]}
    pendant = asked["fern-pendant"]
    assert (pendant["price_in_force"], pendant["channel_rate"]) == (100.0, 0.79)
    card = troytag("cost", wharf, "--sku", "fern-pendant", "--as-of", "2026-11-21").out
    line = next(line for line in card.splitlines() if line.startswith("abroad, USD"))
    assert line.split()[2] == "100.00" and f"{pendant['price']:.2f}" in line
    sheet = wharf / "sheet.csv"
    assert troytag("export", wharf, "csv", "--channel", "abroad", "--as-of", "2026-11-21", "--to", sheet).code == 0
    told = next(row for row in csv.DictReader(StringIO(sheet.read_text())) if row["Product"] == "fern-pendant")
    assert (told["Price"], told["Currency"]) == ("100.00", "USD")
    shown = troytag("editions", wharf, "show", "1", "--sku", "fern-pendant").out
    assert "abroad, USD  100.00" in shown
    broken = troytag("study", wharf, "breakeven", "--sku", "fern-pendant", "--as-of", "2026-11-21").out
    assert "abroad, USD 100.00" in broken and "Gold" in broken


def test_two_editions_are_compared_in_each_channel_s_currency(wharf, troytag):
    assert troytag("reprice", wharf, "--publish", "--yes", "--as-of", "2026-11-21").code == 0
    said = troytag("editions", wharf, "compare", "1", "2").out
    assert "abroad, USD" in said and "USD rate" in said
    table = troytag("editions", wharf, "show", "2", "--csv").out
    assert "{" not in table and "sku" in table.splitlines()[0]


def test_what_a_price_would_move_is_told_in_the_currency_of_its_channel(wharf, troytag):
    said = troytag("metal", wharf, "add", "USD", "0.95", "--date", "2026-11-22", "--dry-run", "--yes").out
    assert "abroad, USD" in said
