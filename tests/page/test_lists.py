"""Lists: each download is the very file that the command line writes."""

from __future__ import annotations

import csv
import importlib
import inspect
from datetime import date
from io import BytesIO, StringIO
from urllib.parse import urlencode

import pytest

from pricing.costing import asked_for, cost
from pricing.resources import templates
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.page.served import DAY


def test_the_workbook(looking):
    from openpyxl import load_workbook

    answer = looking.get("/lists/workbook?map=thimble:sterling:shop")
    assert answer.headers["content-disposition"] == "attachment; filename*=UTF-8''fernhollow-workbook.xlsx"
    book = load_workbook(BytesIO(answer.content), read_only=True)
    assert {"Inputs", "Costs", "Prices", "Map"} <= set(book.sheetnames)


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


def form_in(text: str, name: str) -> str:
    """The part of the view in which a download is asked for."""
    return text[text.index(f'id="{name}-head"') :].split("</section>")[0]


#: What a page has no field for: where a file goes, and whether one is overwritten; the day is the page's own.
NOT_ASKED = {"context", "to", "force", "as_of", "json", "show_columns"}
#: What the page calls by another name: one field for both, or a list in one field.
CALLED = {"edition": "prices", "asked": "prices", "quantity": "quantities", "extra": "extras", "mean": "sure",
          "customer_metal": "metal", "map_": "map"}  # fmt: skip


@pytest.mark.parametrize(
    ("command", "form"),
    [("xlsx", "workbook"), ("list", "price-list"), ("quote", "quotation"), ("tags", "tags"), ("csv", "upload-sheet"),
     ("card", "cards"), ("template", "template")],
)  # fmt: skip
def test_every_option_of_an_export_has_its_field(looking, command, form):
    module = importlib.import_module(f"pricing.cli.commands.export_{command}")
    options = set(inspect.signature(getattr(module, f"export_{command}")).parameters) - NOT_ASKED
    page = form_in(looking.get("/lists").text, form)
    assert [name for name in sorted(options) if f'name="{CALLED.get(name, name)}"' not in page] == []


@pytest.mark.parametrize(
    ("query", "field"),
    [
        ("price-list?valid_until=soon", "valid_until"),
        ("price-list?valid_until=2020-01-01", "valid_until"),
        ("price-list?audience=buyers&retail=stall", "retail"),
        ("price-list?sku=thimbel", "sku"),
        ("price-list?alloy=tin", "alloy"),
        ("price-list?locale=xx_QQ", "locale"),
        ("quotation?sku=acorn-knob&extras=sizing", "extras"),
        ("quotation?sku=acorn-knob&metal=20", "metal"),
        ("tags?copies=many", "copies"),
        ("tags?sheet=napkin", "sheet"),
        ("tags?width=wide", "width"),
        ("tags?prices=9", "prices"),
        ("upload-sheet", "channel"),
        ("workbook?map=moon", "map"),
        ("workbook?map=thimble:sterling&across=nothing%3D1..2", "across"),
        ("workbook?down=labour.bench.rate%3D10..20", "map"),
        ("upload-sheet?channel=shop&changed_since=x", "changed_since"),
    ],
)
def test_a_mistake_stands_beside_its_field(looking, query, field):
    answer = looking.get(f"/lists/{query}")
    form = query.partition("?")[0]
    assert answer.status == 422
    assert f'<span class="trouble" id="trouble-{form}-{field}" role="alert">' in answer.text


def test_what_is_named_alone_goes_out(looking):
    page = looking.get("/lists/price-list?audience=buyers&sku=thimble&alloy=sterling&no_pictures=yes&form=html").words
    assert "Bramble thimble" in page and "Acorn" not in page and "Yellow brass" not in page
    rows = looking.get("/lists/upload-sheet?channel=shop&sku=thimble").text
    assert "thimble:sterling" in rows and "acorn" not in rows


def send(page, path: str, texts: dict[str, str], files: dict[str, bytes]):
    """A form with files, as a browser sends it."""
    edge = "edge-of-a-part"
    parts = [
        f'--{edge}\r\nContent-Disposition: form-data; name="{name}"\r\n\r\n{text}\r\n' for name, text in texts.items()
    ]
    body = "".join(parts).encode()
    for name, content in files.items():
        head = f'--{edge}\r\nContent-Disposition: form-data; name="{name}"; filename="{name}.txt"\r\n\r\n'
        body += head.encode() + content + b"\r\n"
    headers = {"Origin": page.origin, "Content-Type": f"multipart/form-data; boundary={edge}"}
    return page.ask("POST", path, headers, body + f"--{edge}--\r\n".encode())


def test_files_come_with_a_form(looking):
    built_in = looking.get("/lists/upload-columns")
    assert built_in.content == (templates() / "upload_columns.toml").read_bytes()
    own = send(looking, "/lists/upload-sheet", {"channel": "shop"}, {"columns": b'[columns]\nWhat = "sku"\n'})
    assert own.status == 200, own.words[-300:]
    earlier = send(looking, "/lists/upload-sheet", {"channel": "shop"},
                   {"earlier": looking.get("/lists/upload-sheet?channel=shop").content})  # fmt: skip
    assert earlier.status == 200 and len(earlier.text.splitlines()) == 1  # nothing but the head differs from itself
    orders = b"order,for,sku,alloy,quantity\n7,Tin Lane,thimble,sterling,2\n"
    card = send(looking, "/lists/cards", {"kind": "order", "form": "html"}, {"for_list": orders})
    assert card.status == 200 and "Tin Lane" in card.text
    wrong = send(looking, "/lists/cards", {"kind": "order"}, {"for_list": b"order,sku\n7,moon\n"})
    assert wrong.status == 422 and 'id="trouble-cards-for_list"' in wrong.text
    assert "for_list.txt" in wrong.words and "/for_list.txt" not in wrong.words  # no path of this machine
    nothing = send(looking, "/lists/cards", {"want": "", "kind": "pour"}, {})
    assert nothing.status == 422 and 'id="trouble-cards-want"' in nothing.text
    assert looking.get("/lists/template").content.startswith(b"PK")


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
    form = form_in(answer.text, "quotation")
    assert 'role="alert"' in form and answer.text.count('role="alert"') == 1
    assert 'aria-invalid="true" aria-describedby="trouble-quotation-quantities"' in form  # beside its own field
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
