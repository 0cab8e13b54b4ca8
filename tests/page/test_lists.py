"""Lists: each download is the very file that the command line writes."""

from __future__ import annotations

import csv
from io import BytesIO, StringIO

import pytest

from pricing.costing import asked_for, cost
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


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("sku=nothing", 'there is no product "nothing"'),
        ("sku=acorn-knob&quantities=many", "quantities are whole numbers"),
        ("sku=acorn-knob&quantities=1+2+3+4+5+6+7", "6 quantities fit"),
        ("sku=acorn-knob&quantities=0", "quantities of 1 or more"),
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
