"""The quotation: what is offered as the engine's own orders have it, the metal clause, and all that the paper says."""

from __future__ import annotations

import re
from datetime import date, datetime

import pytest
from lxml import html

from pricing.costing import asked_for, cost
from pricing.errors import UsageFault
from pricing.lists.conditions import metal_basis
from pricing.lists.quotation import quotation
from pricing.lists.quoted import METAL_MOVES, Extra, QuoteAsked, extras_of, number_by_clock, quantities_of, quoted
from pricing.records import variant_records
from pricing.studies.prices_out import prices_out, quotes_in_force
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.folders import alder_wharf
from tests.lists.fernhollow import british, changed_folder, costing_of
from tests.lists.pdfs import page_texts
from tests.published.small_workshop import AS_OF, ONE_ALLOY, QUOTED, material, written

BOTH = ("yellow-brass", "sterling")


@pytest.fixture(scope="module")
def out(sample):
    return prices_out(sample)


@pytest.mark.parametrize("charge_design", [False, True])
def test_costs_are_those_of_cost_run(sample, out, charge_design):
    found = quoted(out, QuoteAsked("acorn-knob", (1, 10, 50), BOTH, "shop", charge_design))
    for place, quantity in enumerate((1, 10, 50)):
        records = variant_records(costing_of(sample.folder.root, quantity, charge_design).computed)
        expected = {each["alloy"]: each["unit_cost"] for each in records if each["sku"] == "acorn-knob"}
        assert [each.offers[place].unit_cost for each in found.offers] == pytest.approx(
            [expected[alloy] for alloy in BOTH], rel=1e-12
        )


def test_a_design_charged_to_a_small_run_makes_it_dearer(out):
    spread, charged = (
        [each.offers[0].price for each in quoted(out, QuoteAsked("acorn-knob", (10,), BOTH, "shop", charge)).offers]
        for charge in (False, True)
    )
    assert all(dearer > cheaper for cheaper, dearer in zip(spread, charged, strict=True))


@pytest.mark.parametrize("move", [-0.20, 0.05])
def test_the_metal_clause_is_what_other_quotes_would_give(out, tmp_path, move):
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
    asked = QuoteAsked("cloak-clasp", (25, 5), BOTH, "shop")
    moved = quoted(prices_out(costing_of(root)), asked)
    expected = zip(*([offer.price for offer in each.offers] for each in moved.offers), strict=True)
    found = quoted(out, asked).moved[METAL_MOVES.index(move)]
    assert list(found) == [pytest.approx(each, rel=1e-12) for each in expected]


def test_the_clause_holds_five_ten_and_twenty_per_cent_each_way(out):
    assert METAL_MOVES == (-0.20, -0.10, -0.05, 0.0, 0.05, 0.10, 0.20)
    found = quoted(out, QuoteAsked("beetle-pin", (5,), ("gold-14ct",)))
    prices = [run[0] for (run,) in found.moved]
    assert prices == sorted(prices) and prices[0] < prices[-1]
    assert prices[3] == found.offers[0].offers[0].price


def test_the_channel_is_the_first_that_sells_it_in_all_wholesale_first(out):
    assert quoted(out, QuoteAsked("acorn-knob", (10,), ("yellow-brass",))).channel == "trade"
    assert quoted(out, QuoteAsked("acorn-knob", (10,), BOTH)).channel == "shop"  # sterling: shop, marketplace


def test_where_no_alloy_is_named_those_that_are_sold_there_are_quoted(out):
    """The acorn knob goes to trade in brass and bronze alone."""
    found = quoted(out, QuoteAsked("acorn-knob", (10,), (), "trade"))
    assert [each.alloy for each in found.offers] == ["yellow-brass", "silicon-bronze"]


def sheet(out, **asked):
    stated = QuoteAsked(**{"sku": "acorn-knob", "quantities": (10, 50), "alloys": BOTH, "channel": "shop", **asked})
    return quotation(out, stated, quoted(out, stated), british(out.asked), None)


def test_the_page_shows_alloys_side_by_side_each_and_in_all(out):
    tree = html.document_fromstring(sheet(out).laid_out(".html").decode())
    prices, clause = tree.iter("table")
    assert [cell.text for cell in prices.xpath(".//th[@scope='colgroup']")] == ["Yellow brass", "Sterling silver"]
    found = quoted(out, QuoteAsked("acorn-knob", (10, 50), BOTH, "shop"))
    for place, (row, quantity) in enumerate(zip(prices.xpath(".//tbody/tr"), (10, 50), strict=True)):
        each = [offers.offers[place].price for offers in found.offers]
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
    assert 2 <= len(lines) <= 4  # 2 alloys × 2 quantities, those that are priced alike on one line
    for line in lines:  # a price for each move, unless the metal moves none of them: then it stands once
        assert len(set(line)) > 1 and len(line) == 7 or len(line) == 1 and line[0].endswith(" at all of these")


def test_customer_reference_and_validity(out):
    document = sheet(out, customer="Ødegård & Søn", reference="<b>7</b>", channel="marketplace", number="27").document
    facts = dict(document["facts"])
    assert facts == {
        "Number": "27",
        "For": "Ødegård & Søn",
        "Reference": "<b>7</b>",
        "Date": "20 Nov 2026",
        "Valid until": "4 Dec 2026",  # 14 days on
    }
    page = sheet(out, customer="Ødegård & Søn", reference="<b>7</b>").laid_out(".html")
    assert "Ødegård &amp; Søn".encode() in page and b"&lt;b&gt;7&lt;/b&gt;" in page


def test_the_pdf_says_the_same(out):
    made = sheet(out, customer="Ødegård & Søn", charge_design=True)
    (text,) = page_texts(made.laid_out(".pdf"))
    assert "Ødegård & Søn" in text and "Prices, £" in text
    assert "Making the design is charged to this order" in text
    for run in made.document["runs"]:
        assert f"{run['quantity']} {' '.join(figure for pair in run['prices'] for figure in pair)}" in text
    for group in made.document["clause"]:
        for line in group["lines"]:
            assert f"for {line['quantity']} {' '.join(line['prices'])}" in text
    assert made.laid_out(".pdf") == sheet(out, customer="Ødegård & Søn", charge_design=True).laid_out(".pdf")


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
def test_what_cannot_be_quoted_is_refused(out, asked, said):
    with pytest.raises(UsageFault, match=re.escape(said)):
        sheet(out, **asked)


# ---- by hand: an order of Q is one order


def bench(tmp_path, channel, **tables):
    """A piece of 1 g whose material costs 10.00, in a channel; no hours anywhere."""
    written(tmp_path, **{**material(10.0), "channels": {"shop": channel}, **tables})
    return prices_out(cost(tmp_path, asked_for(AS_OF)))


#: Packing of 12.00 an order, a dozen to the usual one, a fifth of sales to be left over.
BY_THE_DOZEN = {"units_per_order": 12, "packing": 12.0, "policy": {"margin": 0.2}}


def one(out, *quantities, **asked):
    """The offers of the one piece."""
    (found,) = quoted(out, QuoteAsked("piece", quantities, **asked)).offers
    return found


def test_what_an_order_costs_is_shared_by_the_quantity_and_not_by_the_usual_order(tmp_path):
    found = one(bench(tmp_path, BY_THE_DOZEN), 60, 3)
    assert found.price_in_force == pytest.approx(13.75)  # (10 + 12 / 12) / 0.8
    few, many = found.offers
    assert (few.quantity, many.quantity) == (3, 60)
    assert few.required_price == pytest.approx(17.50)  # (10 + 12 / 3) / 0.8
    assert (few.price, few.binds) == (pytest.approx(13.75), "price_in_force")
    assert few.figures["profit"] == pytest.approx(-0.25)  # 13.75 - 10 - 4: the maker is told, not 11 / 55 of it
    assert few.figures["margin"] == pytest.approx(-0.25 / 13.75)
    assert (many.price, many.binds) == (pytest.approx(12.75), "policy")  # (10 + 12 / 60) / 0.8
    assert many.figures["margin"] == pytest.approx(0.2)
    assert many.sum == pytest.approx(765.00)  # 60 × 12.75


def test_the_products_own_usual_order_and_the_mean_discount_do_not_count(tmp_path):
    own = {"product": {"in_channel": {"shop": {"units_per_order": 2}}}}
    found = one(bench(tmp_path, {**BY_THE_DOZEN, "discount": 0.05}, **own), 24)
    assert found.price_in_force == pytest.approx(21.06)  # (10 + 12 / 2) / 0.8 / 0.95 = 21.0526…, up to the penny
    assert found.offers[0].price == pytest.approx(13.13)  # (10 + 12 / 24) / 0.8 = 13.125


def test_never_dearer_than_a_smaller_quantity(tmp_path):
    """Up to 2 g the post costs nothing, above it 40.00 an order; with the design charged the list does not bound."""
    tiers = [{"up_to_g": 2, "charged": 0.0, "cost": 0.0}, {"charged": 0.0, "cost": 40.0}]
    out = bench(tmp_path, {"policy": {"margin": 0.2}, "postage": tiers})
    two, three, many = one(out, 400, 3, 2, charge_design=True).offers
    assert (two.price, two.binds) == (pytest.approx(12.50), "policy")  # 10 / 0.8, 2 g
    assert three.asked == pytest.approx(29.17)  # (10 + 40 / 3) / 0.8 = 29.166…, 3 g
    assert (three.price, three.binds) == (pytest.approx(12.50), "smaller_quantity")
    assert three.figures["profit"] == pytest.approx(12.50 - 10 - 40 / 3)
    assert many.asked == pytest.approx(12.63)  # (10 + 40 / 400) / 0.8 = 12.625
    assert (many.price, many.binds) == (pytest.approx(12.50), "smaller_quantity")
    assert [offer.binds for offer in one(out, 2, 3).offers] == ["policy", "price_in_force"]  # both are 12.50


@pytest.mark.parametrize(("least", "short"), [(41.25, False), (41.26, True)])
def test_a_sum_below_the_minimum_order_is_said_on_the_paper(tmp_path, least, short):
    """3 × 13.75 = 41.25."""
    out = bench(tmp_path, {**BY_THE_DOZEN, "minimum_order": least})
    assert [offer.below_minimum_order for offer in one(out, 3, 60).offers] == [short, False]
    for ending in (".html", ".pdf"):
        content = paper(out, (3, 60)).laid_out(ending)
        text = content.decode() if ending == ".html" else page_texts(content)[0]
        assert text.count("below the minimum order of 41.26") == int(short)


def paper(out, quantities, **asked):
    stated = QuoteAsked("piece", quantities, **asked)
    return quotation(out, stated, quoted(out, stated), british(out.asked), None)


def test_extras_and_deposit(tmp_path):
    out = bench(tmp_path, {**BY_THE_DOZEN, "deposit": 0.2})
    made = paper(out, (3, 60), extras=(Extra("sizing", 15.0), Extra("rush", 20.5)), delivery="in six weeks")
    few, many = made.document["runs"]
    assert few["prices"] == [("13.75", "76.75")]  # 3 × 13.75 + 15 + 20.50
    assert few["deposits"] == ["15.35"]  # a fifth of it
    assert many["prices"] == [("12.75", "800.50")] and many["deposits"] == ["160.10"]  # 765 + 35.50
    facts = dict(made.document["facts"])
    assert facts["Deposit"] == "20% of the sum, with the order" and facts["Delivery"] == "in six weeks"
    assert "No sales tax is added to prices and extras." in made.document["notes"]
    for text in (" ".join(made.laid_out(".html").decode().split()), *page_texts(made.laid_out(".pdf"))):
        assert all(
            word in text for word in ("sizing", "15.00", "rush", "20.50", "76.75", "160.10", "in all, with these")
        )


def test_an_extra_below_the_minimum_order_is_no_piece(tmp_path):
    """3 × 13.75 = 41.25 of pieces; with 15.00 of sizing the sum is above 50, the pieces are not."""
    made = paper(bench(tmp_path, {**BY_THE_DOZEN, "minimum_order": 50.0}), (3,), extras=(Extra("sizing", 15.0),))
    assert made.document["runs"][0]["prices"] == [("13.75", "56.25")]
    assert made.document["runs"][0]["short"] == ["pieces for less than the minimum order of 50.00"]


def test_abroad_it_is_in_their_money(tmp_path):
    """1 USD = 0.80 GBP: twice the cost of 10.00 GBP is 25.00 USD, and the maker has 10.00 GBP of it."""
    out = bench(
        tmp_path,
        {"currency": "USD", "policy": {"multiple": 2.0}, "minimum_order": 90.0},
        quotes=[("USD", 0.8, "unit", "GBP")],
    )
    (offer,) = one(out, 3).offers
    assert (offer.price, offer.sum, offer.below_minimum_order) == (pytest.approx(25.0), pytest.approx(75.0), True)
    assert offer.figures["profit"] == pytest.approx(10.0)
    made = paper(out, (3,), extras=(Extra("sizing", 5.0),))
    assert made.document["sign"] == "US$" and made.document["runs"][0]["prices"] == [("25.00", "80.00")]


def test_the_price_in_force_bounds_and_moves_with_the_metal_as_the_list_would(tmp_path):
    """A gram of metal of 10.00: the list asks 20.00 and 18.00 is in force; 10 % up it would ask 22.00, so 20.00."""
    grain = {"alloys": {"metal": QUOTED}, "quotes": [("grain", 10.0, "g", "GBP")]}
    written(tmp_path, **grain, channels={"shop": {"policy": {"multiple": 2.0}}})
    out = prices_out(cost(tmp_path, asked_for(AS_OF)))
    publish(tmp_path, 18.0)
    held = prices_out(out.asked)
    assert [each.price for each in one(held, 5).offers] == [18.0]
    assert one(held, 5).price_in_force == 18.0 and one(out, 5).price_in_force == pytest.approx(20.0)
    moved = dict(zip(METAL_MOVES, (run[0][0] for run in quoted(held, QuoteAsked("piece", (5,))).moved), strict=True))
    assert moved[0.0] == pytest.approx(18.0)
    assert moved[0.10] == pytest.approx(20.0)  # 18 + (22 - 20)
    assert moved[-0.20] == pytest.approx(14.0)  # 18 + (16 - 20), and 16 is what is asked


def publish(root, price):
    """Publish one price for the piece in the shop."""
    text = (root / "channels.toml").read_text(encoding="utf-8")
    (root / "channels.toml").write_text(text.replace("multiple = 2.0", f"fixed = {price}"), encoding="utf-8")
    publish_prices(reprice(cost(root, asked_for(AS_OF)), None))
    (root / "channels.toml").write_text(text, encoding="utf-8")


# ---- every metal in it, with its grams


def test_every_metal_in_it_is_named_with_its_grams(tmp_path):
    """1 g of the piece, two wires of 0.25 g of the same, a bezel of 0.4 g of gold."""
    gold = {**ONE_ALLOY["metal"], "name": "9 ct gold"}
    findings = [
        {"name": "wire", "quantity": 2, "metal_g": 0.25, "alloy": "metal"},
        {"name": "bezel", "quantity": 1, "metal_g": 0.4, "alloy": "gold"},
    ]
    written(tmp_path, alloys={**ONE_ALLOY, "gold": gold}, product={"alloys": ["metal"], "findings": findings})
    out = prices_out(cost(tmp_path, asked_for(AS_OF)))
    (alloy,) = paper(out, (3,)).document["alloys"]
    assert (alloy["mass"], alloy["others"]) == ("1.50 g", "with 9 ct gold, 0.400 g")


def test_the_layer_on_a_part_is_named():
    """A bangle of the gift set is gilt."""
    out = prices_out(cost(alder_wharf(), asked_for(AS_OF)))
    stated = QuoteAsked("tide-set", (2,), channel="shop")
    (alloy,) = quotation(out, stated, quoted(out, stated), british(out.asked), None).document["alloys"]
    assert alloy["name"] == "Sterling silver" and alloy["others"] == "plated with Fine gold"


def test_what_is_plated_names_the_price_of_its_layer():
    """The gift set is sterling; a part of it is gilt."""
    costing = cost(alder_wharf(), asked_for(AS_OF))
    rows = [row for row, each in enumerate(costing.computed.resolved.variants) if each.sku == "tide-set"]
    said = metal_basis(costing, quotes_in_force(costing), rows, british(costing))
    assert any(line.startswith("gold ") for line in said) and any(line.startswith("silver ") for line in said)


# ---- words


@pytest.mark.parametrize("word", ["1,5", "0", "-3", "1.5", "many", "", "1000000", "١"])
def test_what_is_no_quantity_is_refused_in_words(word):
    with pytest.raises(UsageFault, match=re.escape(f'"{word}" is no quantity: write a whole number from 1')):
        quantities_of([word], "1 5")


def test_quantities():
    assert quantities_of(["5", "1", "5"], "1 5") == (5, 1)
    assert quantities_of([], "1 5") == (10, 25, 50)


def test_extras_are_lines():
    lines = ["sizing=15", " rush = 2 weeks = 20.50 ", ""]
    assert extras_of(lines) == (Extra("sizing", 15.0), Extra("rush = 2 weeks", 20.5))


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("sizing", '"sizing" is no extra'),
        ("=4", '"=4" is no extra'),
        ("sizing=15,50", '"15,50" is no amount for sizing'),
        ("sizing=-4", '"-4" is no amount'),
        ("sizing=nan", '"nan" is no amount'),
        ("x" * 121 + "=4", "an extra has 121 signs; 120 fit"),
    ],
)
def test_what_is_no_extra_is_refused_in_words(line, said):
    with pytest.raises(UsageFault, match=re.escape(said)):
        extras_of([line])


def test_an_extra_is_in_coins_that_there_are(tmp_path):
    with pytest.raises(UsageFault, match=re.escape("sizing=15.005: GBP is paid in 2 decimals")):
        paper(bench(tmp_path, BY_THE_DOZEN), (3,), extras=(Extra("sizing", 15.005),))


def test_a_number_by_the_minute_rises():
    assert number_by_clock(datetime(2026, 11, 26, 9, 5)) == "20261126-0905"
    made = [number_by_clock(datetime(2026, *rest)) for rest in ((9, 30, 23, 59), (11, 1, 0, 0), (11, 1, 10, 0))]
    assert made == sorted(made)


def test_discounts_that_keep_the_margin_by_hand(tmp_path):
    """One costs 10, an order 12 whatever its size, 20 % of margin: a usual order of 12 is asked 13.75.

    Q pieces keep 20 % at (10 + 12 / Q) / 0.8: 12 of them at 13.75 itself; 5 % off is 13.0625 and holds from
    12 / (0.8 × 13.0625 - 10) = 26.7, so from 27 on, offered up to the penny; 10 % off would need less than 10 / 0.8.
    """
    asked = QuoteAsked("piece", (), discounts=True)
    (found,) = quoted(bench(tmp_path, BY_THE_DOZEN), asked).offers
    assert [offer.quantity for offer in found.offers] == [12, 27]
    assert [offer.price for offer in found.offers] == [pytest.approx(13.75), pytest.approx(13.07)]
    assert {offer.binds for offer in found.offers} == {"discount"}
    assert all(offer.figures["margin"] >= 0.2 - 1e-9 for offer in found.offers)


def test_quantities_that_are_named_take_the_discount_of_their_rung(tmp_path):
    found = one(bench(tmp_path, BY_THE_DOZEN), 6, 20, 30, discounts=True)
    assert [offer.price for offer in found.offers] == [pytest.approx(13.75), pytest.approx(13.75), pytest.approx(13.07)]
    assert [offer.binds for offer in found.offers] == ["price_in_force", "discount", "discount"]
    moved = quoted(bench(tmp_path, BY_THE_DOZEN), QuoteAsked("piece", (30,), discounts=True)).moved
    assert moved[METAL_MOVES.index(0.0)][0][0] == pytest.approx(13.07)


def test_where_no_lot_keeps_the_margin_there_are_no_discounts(tmp_path):
    """The usual order is larger than every lot that is looked at: none keeps its margin."""
    out = bench(tmp_path, {**BY_THE_DOZEN, "units_per_order": 5000})
    with pytest.raises(UsageFault, match="no lot of piece up to 100 keeps the margin of its price in force"):
        quoted(out, QuoteAsked("piece", (), discounts=True))
