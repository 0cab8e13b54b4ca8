"""Lists: each download is the very file that the command line writes."""

from __future__ import annotations

import csv
from datetime import date
from io import BytesIO, StringIO
from urllib.parse import urlencode

import pytest

from pricing.costing import asked_for, cost
from pricing.studies.new_edition import publish_prices
from pricing.studies.repricing import reprice
from tests.page.served import DAY


def test_the_workbook(looking):
    from openpyxl import load_workbook

    answer = looking.get("/lists/workbook")
    assert answer.headers["content-disposition"] == "attachment; filename*=UTF-8''fernhollow-workbook.xlsx"
    book = load_workbook(BytesIO(answer.content), read_only=True)
    assert {"Inputs", "Costs", "Prices"} <= set(book.sheetnames)


@pytest.mark.parametrize("audience", ["shops", "buyers"])
@pytest.mark.parametrize(("form", "begins"), [("html", b"<!doctype html>"), ("pdf", b"%PDF-")])
def test_the_price_list(looking, audience, form, begins):
    answer = looking.get(f"/lists/price-list?audience={audience}&form={form}")
    assert answer.status == 200 and answer.content[:15].lower().startswith(begins.lower())


def test_the_quotation(looking):
    answer = looking.get("/lists/quotation?sku=acorn-knob&quantities=5+20&customer=Tin+Lane+Hardware")
    assert answer.status == 200 and "Tin Lane Hardware" in answer.text and "Acorn drawer knob" in answer.text


def test_the_quotation_has_what_the_command_has(looking):
    fields = {
        "sku": "acorn-knob",
        "channel": "trade",
        "alloy": "yellow-brass",
        "quantities": "2, 40",
        "number": "27",
        "valid_until": "2099-12-31",
        "delivery": "in six weeks",
        "extras": "sizing = 15\nrush=20.50",
        "metal": "20:9ct",
    }
    page = looking.get(f"/lists/quotation?{urlencode(fields)}").words
    for words in (
        "27",
        "31 Dec 2099",
        "in six weeks",
        "sizing",
        "15.00",
        "rush",
        "20.50",
        "20.00 g of 9ct gold",
        "2 pairs",
        "40 pairs",
    ):
        assert words in page
    assert "Silicon bronze" not in page and "30 days" in page  # one alloy is ticked; the terms of trade
    form = looking.get("/lists").text
    form = form[form.index('id="quote-head"') : form.index('id="tags-head"')]
    assert all(f'name="{field}"' in form for field in (*fields, "customer", "reference", "charge_design", "form"))


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("sku=nothing", 'there is no product "nothing"'),
        ("sku=acorn-knob&quantities=many", '"many" is no quantity'),
        ("sku=acorn-knob&quantities=1+2+3+4+5+6+7", "6 quantities fit"),
        (
            "sku=acorn-knob&quantities=1,5",
            '"1,5" is no quantity: write a whole number from 1 to 999999; several as 1 5.',
        ),
        ("sku=acorn-knob&channel=moon", 'no channel "moon"'),
        ("sku=acorn-knob&channel=trade&alloy=sterling", "acorn-knob in sterling is not sold in trade"),
        ("sku=acorn-knob&alloy=tin", "there is no tin to quote"),
        ("sku=acorn-knob&extras=sizing", '"sizing" is no extra'),
        ("sku=acorn-knob&metal=20", 'the customer\'s metal "20": write grams and an alloy'),
        ("sku=acorn-knob&valid_until=soon", '"soon" is no date'),
        ("sku=acorn-knob&valid_until=2020-01-01", "before its prices begin"),
        ("sku=acorn-knob&quantities=0", '"0" is no quantity'),
    ],
)
def test_what_cannot_be_quoted_is_told(looking, query, words):
    answer = looking.get(f"/lists/quotation?{query}")
    assert answer.status == 422 and words in answer.words


def test_the_upload_sheet(looking):
    answer = looking.get("/lists/upload-sheet?channel=shop")
    rows = list(csv.reader(StringIO(answer.text)))
    costing = cost(looking.root, asked_for(DAY))
    sold = sum(
        price.sold for each in costing.computed.resolved.variants for price in each.prices if price.channel == "shop"
    )
    assert len(rows) == 1 + sold


@pytest.mark.parametrize("kind", ["swing", "ring"])
def test_price_tags(looking, kind):
    answer = looking.get(f"/lists/tags?kind={kind}&channel=stall")
    assert answer.status == 200 and answer.content.startswith(b"%PDF-")


def test_a_channel_that_is_not_there_is_told(looking):
    assert 'no channel "moon"' in looking.get("/lists/tags?channel=moon").words


def test_a_mistake_keeps_what_was_typed_and_stands_beside_its_form(looking):
    answer = looking.get(
        "/lists/quotation?sku=thimble&quantities=many&customer=Tin+Lane&charge_design=yes"
        "&channel=shop&alloy=sterling&number=27&delivery=soon&valid_until=2099-12-31&extras=sizing%3D15"
    )
    assert answer.status == 422
    form = answer.text[answer.text.index('id="quote-head"') : answer.text.index('id="tags-head"')]
    assert 'role="alert"' in form and answer.text.count('role="alert"') == 1
    assert 'value="many"' in form and 'value="Tin Lane"' in form and "checked" in form
    assert '<option value="thimble" selected>' in form and '<option value="shop" selected>' in form
    assert 'value="sterling" checked' in form and form.count(" checked") == 2
    assert all(f'value="{typed}"' in form for typed in ("27", "soon", "2099-12-31")) and ">sizing=15</textarea>" in form


def test_an_upload_sheet_of_no_channel_is_not_one_of_all(looking):
    answer = looking.get("/lists/upload-sheet")
    assert answer.status == 422 and "no channel is ticked" in answer.words


def test_stall_cards(looking):
    answer = looking.get("/lists/tags?kind=card&channel=stall")
    assert answer.status == 200 and answer.content.startswith(b"%PDF-")


def test_what_was_published_is_what_is_downloaded(served):
    """Published at the prices of June; today's are others."""
    then = cost(served.root, asked_for(date(2026, 6, 1)))
    publish_prices(reprice(then, None))
    published = {(row.sku, row.alloy): row.to for row in reprice(then, None).rows if row.channel == "shop"}

    def downloaded(query: str = "") -> dict[tuple[str, str], float]:
        rows = csv.DictReader(StringIO(served.get(f"/lists/upload-sheet?channel=shop{query}").text))
        return {tuple(row["Variant id"].split(":")[:2]): float(row["Price"]) for row in rows}

    assert downloaded() == published == downloaded("&prices=1")
    assert downloaded("&prices=asked") != published
    assert downloaded("&changed_since=1") == {}
    assert "in force: edition 1 of 2026-06-01" in served.get("/lists").words
    assert "edition 1" in served.get("/lists/price-list?audience=buyers").text
    assert served.get("/lists/price-list?prices=7").status == 422
