"""The quotation: runs as `cost --run` has them, the metal clause as a folder with other quotes has them."""

from __future__ import annotations

import re
from datetime import date

import pytest
from lxml import html

from pricing.errors import UsageFault
from pricing.lists.quotation import METAL_MOVES, QuoteAsked, quotation, quoted
from pricing.records import variant_records
from pricing.resources import sample_catalog
from tests.lists.fernhollow import british, changed_folder, costing_of
from tests.lists.pdfs import page_texts

BOTH = ("yellow-brass", "sterling")


def run_prices(root, sku, alloys, channel, quantity, charge_design):
    """What `cost --run` says."""
    records = variant_records(costing_of(root, quantity, charge_design).computed)
    by_alloy = {record["alloy"]: record["prices"][channel]["price"] for record in records if record["sku"] == sku}
    return tuple(by_alloy[alloy] for alloy in alloys)


@pytest.mark.parametrize("charge_design", [False, True])
def test_numbers_are_those_of_cost_run(sample, charge_design):
    found = quoted(sample, QuoteAsked("acorn-knob", (1, 10, 50), BOTH, "shop", charge_design))
    for quantity, prices in zip((1, 10, 50), found.today, strict=True):
        expected = run_prices(sample.folder.root, "acorn-knob", BOTH, "shop", quantity, charge_design)
        assert prices == pytest.approx(expected, rel=1e-12)


def test_a_design_charged_to_a_small_run_makes_it_dearer(sample):
    spread, charged = (
        quoted(sample, QuoteAsked("acorn-knob", (10,), BOTH, "shop", charge)).today[0] for charge in (False, True)
    )
    assert all(dearer > cheaper for cheaper, dearer in zip(spread, charged, strict=True))


@pytest.mark.parametrize("move", [-0.20, 0.05])
def test_the_metal_clause_is_what_other_quotes_would_give(sample, tmp_path, move):
    """The same folder with the quotes in force (Ag 38.40, brass-grain 9.80) typed as they would then stand."""
    root = changed_folder(
        tmp_path,
        {
            "metal_prices.csv": {
                "2026-11-20,Ag,38.40,": f"2026-11-20,Ag,{38.40 * (1 + move)!r},",
                "2026-11-20,brass-grain,9.80,": f"2026-11-20,brass-grain,{9.80 * (1 + move)!r},",
            }
        },
    )
    found = quoted(sample, QuoteAsked("cloak-clasp", (25,), BOTH, "shop"))
    expected = run_prices(root, "cloak-clasp", BOTH, "shop", 25, False)
    assert found.prices[METAL_MOVES.index(move)][0] == pytest.approx(expected, rel=1e-12)


def test_the_clause_holds_five_ten_and_twenty_per_cent_each_way(sample):
    assert METAL_MOVES == (-0.20, -0.10, -0.05, 0.0, 0.05, 0.10, 0.20)
    found = quoted(sample, QuoteAsked("beetle-pin", (5,), ("gold-14ct",)))
    (prices,) = zip(*([run[0] for run in by_quantity] for by_quantity in found.prices), strict=True)
    assert list(prices) == sorted(prices) and prices[0] < prices[-1]


def test_the_channel_is_the_first_that_sells_it_in_all_wholesale_first(sample):
    assert quoted(sample, QuoteAsked("acorn-knob", (10,), ("yellow-brass",))).channel == "trade"
    assert quoted(sample, QuoteAsked("acorn-knob", (10,), BOTH)).channel == "shop"  # sterling: shop, marketplace


def sheet(costing, **asked):
    stated = {"sku": "acorn-knob", "quantities": (10, 50), "alloys": BOTH, "channel": "shop", **asked}
    return quotation(costing, QuoteAsked(**stated), british(costing), None)


def test_the_page_shows_alloys_side_by_side_each_and_in_all(sample):
    tree = html.document_fromstring(sheet(sample).laid_out(".html").decode())
    prices, clause = tree.iter("table")
    assert [cell.text for cell in prices.xpath(".//th[@scope='colgroup']")] == ["Yellow brass", "Sterling silver"]
    for row, quantity in zip(prices.xpath(".//tbody/tr"), (10, 50), strict=True):
        each = run_prices(sample_catalog(), "acorn-knob", BOTH, "shop", quantity, False)
        expected = [f"{figure:,.2f}" for price in each for figure in (price, quantity * price)]
        assert row.findtext("th") == f"{quantity} pairs"
        assert [cell.text for cell in row.findall("td")] == expected
    heads = [cell.text for cell in clause.xpath(".//thead//th")]
    assert heads == [
        "Metal stands",
        "20% lower",
        "10% lower",
        "5% lower",
        "as today",
        "5% higher",
        "10% higher",
        "20% higher",
    ]
    lines = [[cell.text for cell in row.findall("td")] for row in clause.xpath(".//tbody/tr[td]")]
    assert len(lines) == 4  # 2 alloys × 2 quantities
    for line in lines:  # a price for each move, unless the metal moves none of them: then it stands once
        assert len(set(line)) > 1 and len(line) == 7 or len(line) == 1 and line[0].endswith(" at all of these")


def test_customer_reference_and_validity(sample):
    document = sheet(sample, customer="Ødegård & Søn", reference="<b>7</b>", channel="marketplace").document
    facts = dict(document["facts"])
    assert facts == {
        "For": "Ødegård & Søn",
        "Reference": "<b>7</b>",
        "Date": "20 Nov 2026",
        "Valid until": "4 Dec 2026",  # 14 days on
    }
    page = sheet(sample, customer="Ødegård & Søn", reference="<b>7</b>").laid_out(".html")
    assert "Ødegård &amp; Søn".encode() in page and b"&lt;b&gt;7&lt;/b&gt;" in page


def test_the_pdf_says_the_same(sample):
    made = sheet(sample, customer="Ødegård & Søn", charge_design=True)
    (text,) = page_texts(made.laid_out(".pdf"))
    assert "Ødegård & Søn" in text and "Prices, £" in text
    assert "Making the design is charged to this order" in text
    for run in made.document["runs"]:
        assert f"{run['quantity']} {' '.join(figure for pair in run['prices'] for figure in pair)}" in text
    for group in made.document["clause"]:
        for line in group["lines"]:
            assert f"for {line['quantity']} {' '.join(line['prices'])}" in text
    assert made.laid_out(".pdf") == sheet(sample, customer="Ødegård & Søn", charge_design=True).laid_out(".pdf")


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"quantities": (0,)}, "quantities of 1 or more"),
        ({"quantities": tuple(range(1, 8))}, "at most 3 alloys and 6 quantities"),
        ({"alloys": ("gold-9ct",)}, "acorn-knob is made in yellow-brass, silicon-bronze, sterling"),
        ({"channel": "trade"}, "acorn-knob in sterling is not sold in trade"),
        ({"channel": "tradd"}, 'Did you mean "trade"'),
        ({"valid_until": date(2026, 11, 1)}, "would end on 2026-11-01"),
    ],
)
def test_what_cannot_be_quoted_is_refused(sample, asked, said):
    with pytest.raises(UsageFault, match=re.escape(said)):
        sheet(sample, **asked)
