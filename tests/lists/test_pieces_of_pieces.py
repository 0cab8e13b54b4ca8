"""Lists, tags, cards and sheets of pieces of two metals, of sizes, of parts and for a channel abroad."""

from __future__ import annotations

import csv
from datetime import date
from io import StringIO

import pytest
from lxml import html

from pricing.costing import asked_for, cost
from pricing.lists.cut_sheets import cutting, paper_size
from pricing.lists.number_habits import habit
from pricing.lists.price_list import ListAsked, price_list
from pricing.lists.stall import CardsAsked, stall_cards
from pricing.lists.tags import TagsAsked, tags
from pricing.lists.upload_sheet import columns_from, upload_sheet
from pricing.model.workshop import Show
from pricing.studies.prices_out import prices_out
from tests.folders import alder_wharf


@pytest.fixture(scope="module")
def out():
    return prices_out(cost(alder_wharf(), asked_for(date(2026, 11, 20))))


def everything(out) -> tuple[tuple[str, ...], tuple[str, ...]]:
    stated = out.costing.folder.stated
    return tuple(stated.products), tuple(stated.alloys)


def british():
    return habit("GBP", Show(), "en_GB")


def listed(out, **asked):
    return price_list(out, ListAsked("buyers", *everything(out), **asked), british(), None)


def items(paper) -> dict:
    return {item["name"]: item for group in paper.document["collections"] for item in group["items"]}


def price(out, sku: str, channel: str) -> float:
    resolved = out.computed.resolved
    row = next(row for row, each in enumerate(resolved.variants) if each.sku == sku)
    return out.computed["price"][row, [each.name for each in resolved.channels].index(channel)]


def test_every_metal_is_named_with_its_grams(out):
    """Leaf 1.05 × 8.78 × 0.97 × 0.997 = 8.92 g of bronze; charm 2.9 × 0.98 = 2.84 g of silver."""
    (brooch,) = items(listed(out))["Anchor on a leaf, brooch"]["variants"]
    assert (brooch["alloy"], brooch["mass"], brooch["others"]) == (
        "Bronze",
        "8.92",
        ["with Sterling silver 925, 2.84 g"],
    )
    words = html.document_fromstring(listed(out).laid_out(".html").decode()).text_content()
    assert "with Sterling silver 925, 2.84 g" in words
    assert any("three figures" in note for note in listed(out).document["notes"])  # a mark of fineness is on it


def test_what_is_only_ever_a_part_is_not_listed_and_a_gift_set_is(out):
    found = items(listed(out))
    assert "Fern bail" not in found
    (box,) = found["Tide gift set"]["variants"]
    assert (box["alloy"], box["mass"]) == ("Sterling silver", "33.2")


def test_one_price_names_the_sizes_and_sizes_that_are_each_priced_stand_in_one_item(out):
    found = items(listed(out))
    assert found["Reed ring"]["sold_as"] == "sizes J, L½, N, P, Z+1" and len(found["Reed ring"]["variants"]) == 2
    band = found["Wave band"]
    assert band["sku"] == "wave-band-50 to wave-band-60"
    assert [each["alloy"] for each in band["variants"]] == [f"{size} · Yellow gold 9 ct" for size in (50, 54, 60)]
    assert [each["price"] for each in band["variants"]] == [
        f"{price(out, f'wave-band-{size}', 'shop'):,.2f}" for size in (50, 54, 60)]  # fmt: skip


def test_a_list_for_a_channel_abroad_is_in_its_currency(out):
    paper = listed(out, channel="abroad")
    assert paper.document["price_head"] == "Price,\u00a0US$"
    (studs,) = items(paper)["Drop ear studs, pair"]["variants"]
    assert studs["price"] == f"{price(out, 'drop-studs', 'abroad'):.2f}"
    assert "1 USD = 0.765 GBP of 19 Nov 2026" in paper.document["basis"]


def test_the_gold_of_a_gilded_piece_is_among_what_the_prices_stand_on(out):
    paper = price_list(out, ListAsked("buyers", ("fern-pendant",), everything(out)[1]), british(), None)
    assert any("gold" in line for line in paper.document["basis"])


def test_tags_have_the_currency_every_metal_and_the_size(out):
    found = tags(
        out,
        TagsAsked("swing", "abroad", *everything(out)),
        cutting(paper_size("A4"), (40.0, 62.0), 8.0, 0.0),
        british(),
    )
    by_sku = {tag["sku"]: tag for tag in found.document["tags"]}
    assert by_sku["anchor-leaf"]["alloy"] == "Bronze 8.92 g, Sterling silver 925 2.84 g"
    assert by_sku["anchor-leaf"]["price"] == f"US${price(out, 'anchor-leaf', 'abroad'):.2f}"
    assert (
        by_sku["wave-band-54"]["name"] == "Wave band, 54" and by_sku["wave-band-54"]["code"] == "wave-band-54:gold-9ct"
    )
    assert "fern-bail" not in by_sku


def test_cards_of_a_stall_abroad_ask_in_its_currency_and_want_the_hour_in_the_workshop_s(out):
    asked = CardsAsked("abroad", *everything(out), hour=20.0)
    found = stall_cards(out, asked, cutting(paper_size("A4"), (92.0, 62.0), 8.0, 0.0), british())
    card = next(each for each in found.document["tags"] if each["sku"] == "drop-studs")
    assert found.document["sign"] == "US$" and card["hour"].startswith("£20.00")
    assert card["alloys"][0]["orders"][0]["asking"] == f"{price(out, 'drop-studs', 'abroad'):.2f}"


def test_an_upload_sheet_has_a_currency_for_every_channel(out):
    rows = range(len(out.computed.resolved.variants))
    sheet = upload_sheet(out, rows, [each.name for each in out.computed.resolved.channels],
                         {**columns_from(None), "Metals": "{metals}", "Size": "{size}"})  # fmt: skip
    lines = list(csv.DictReader(StringIO(sheet.decode())))
    assert {(line["Channel"], line["Currency"]) for line in lines} == {
        ("shop", "GBP"), ("gallery", "GBP"), ("trade", "GBP"), ("abroad", "USD")}  # fmt: skip
    leaf = next(line for line in lines if line["Variant id"] == "anchor-leaf:bronze:abroad")
    assert leaf["Metals"] == "Bronze 8.92 g, Sterling silver 2.84 g"
    assert (leaf["Weight g"], leaf["Price"]) == ("13.16", f"{price(out, 'anchor-leaf', 'abroad'):.2f}")
    band = next(line for line in lines if line["Product"] == "wave-band-50")
    assert (band["Size"], band["Title"]) == ("50", "Wave band, 50")
    assert not any(line["Product"] == "fern-bail" for line in lines)
