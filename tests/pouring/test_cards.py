"""Cards: one page a pour on either paper, with the figures of the plan and the cautions that belong to it."""

from __future__ import annotations

import json
import re
from datetime import date
from html import unescape

import pytest

from pricing.errors import UsageFault
from pricing.lists.number_habits import habit
from pricing.lists.order_card import order_cards
from pricing.lists.pour_card import _others, pour_card
from pricing.model.alloy import Alloy
from pricing.pouring.cautions import cautions_for
from pricing.pouring.plan import plan
from pricing.pouring.wants import Order, Want, want_of

pypdfium2 = pytest.importorskip("pypdfium2")
pytest.importorskip("typst")


@pytest.fixture(scope="module")
def english(sample):
    return habit("GBP", sample.folder.stated.workshop.show, "en_GB")


def pages_of(content):
    return [" ".join(page.get_textpage().get_text_bounded().split()) for page in pypdfium2.PdfDocument(content)]


@pytest.mark.parametrize("paper", ["A4", "Letter"])
def test_a_pour_is_one_page_with_what_is_weighed(sample, planned, english, paper):
    """Gold with zinc in it, mixed by the maker, has the most to say: it too stands on one page of Letter."""
    made = plan(
        sample, [want_of("beetle-pin:gold-9ct=4"), want_of("thimble:sterling=12"), want_of("acorn-knob:yellow-brass=4")]
    )
    pages = pages_of(pour_card(sample, made, english, ["gold-9ct"], paper).laid_out(".pdf"))
    assert len(pages) == len(made.flasks)
    for page, flask in zip(pages, made.flasks, strict=True):
        assert f"{flask.charge_g:,.2f} g" in page and f"{flask.powder_g:,.0f} g" in page
        assert f"Pour {flask.number}" in page and "Silica dust" in page and "Wet metal explodes" in page
        assert ("Zinc fume" in page) == (flask.alloy in ("yellow-brass", "gold-9ct"))
        assert (f"{flask.elements['Ag']:,.2f} g" in page) if flask.alloy == "gold-9ct" else True


def test_html_and_pdf_say_the_same(sample, planned, english):
    sheet = pour_card(sample, planned, english)
    words = " ".join(unescape(re.sub(r"<[^>]*>", " ", sheet.laid_out(".html").decode())).split())
    for weighed in ("sprues back, g", "good castings, as cast, g", "spoiled castings, g", "filings swept up, g"):
        assert weighed in words
    for pour in json.loads(json.dumps(sheet.document))["pours"]:
        for text in (
            pour["charge"],
            pour["rule"],
            *(figure for _, figure in pour["weighed"]),
            pour["cautions"][0]["source"],
        ):
            assert text in words
    assert "licensed practice" in words
    blanks = sum(len(pour["weighed"]) for pour in sheet.document["pours"])
    assert blanks and sheet.laid_out(".html").decode().count('<td class="blank">g</td>') == blanks


def test_several_pours_of_a_load_are_named_in_the_plural():
    assert _others((1, 2), 1) == "pour 2" and _others((1, 2, 3), 2) == "pours 1, 3" and _others((1,), 1) == "no other"


def caution_heads(composition, *words, burnt_out=True):
    alloy = Alloy(name="Metal", density=8.0, composition=composition, priced_by="content", melt_loss=0.0)
    return [each.head for each in cautions_for(alloy, burnt_out, words)]


def test_cautions_stand_where_they_belong():
    assert caution_heads({"Ag": 1.0}, burnt_out=False) == ["Wet metal explodes", "Silica dust"]
    heads = caution_heads({"Cu": 0.6, "Zn": 0.38, "Pb": 0.02}, "boric-acid", "Pickle", "brown-patina")
    assert heads == [
        "Wet metal explodes", "Lead fume", "Zinc fume", "Silica dust", "Burnout fumes", "Boric acid, borax",
        "Pickle is acid", "Patina and liver of sulphur",
    ]  # fmt: skip


def test_an_order_has_one_card_with_all_its_lines(sample, english):
    due = date(2026, 12, 18)
    orders = [
        Order(
            "27", "Tin Lane Hardware", Want("acorn-knob", "sterling", "", 2), "", "40.00 paid", due, "engraved inside"
        ),
        Order("27", "", Want("thimble", "sterling", "", 1), "garnet 4 mm", "", None, ""),
        *(Order(str(number), "A. N. Other", Want("thimble", "", "", 1), "", "", None, "") for number in range(28, 32)),
    ]
    pages = pages_of(order_cards(sample, orders, english, "A4").laid_out(".pdf"))
    assert len(pages) == 2  # five orders, four to a page
    for words in (
        "27",
        "Tin Lane Hardware",
        "18 Dec 2026",
        "garnet 4 mm",
        "40.00 paid",
        "engraved inside",
        "handed over",
    ):
        assert words in pages[0]
    page = order_cards(sample, orders, english).laid_out(".html").decode()
    assert page.count("<article>") == 5 and "Bramble thimble" in page
    assert page.count("stone set") == 1 and page.count("handed over") == 5  # one order has a stone
    long = [Order("8", "", Want("thimble", "sterling", "", 1), "", "", None, f"line {at} of it") for at in range(7)]
    (printed,) = pages_of(order_cards(sample, long, english, "A4").laid_out(".pdf"))
    assert all(f"line {at} of it" in printed for at in range(7)) and "8, 2 of 2" in printed
    with pytest.raises(UsageFault, match='no size "Z"'):
        order_cards(sample, [Order("9", "", Want("wedding-band", "gold-9ct", "Z", 1), "", "", None, "")], english)
    with pytest.raises(UsageFault, match='order 9: no product "thimbel". Did you mean "thimble"?'):
        order_cards(sample, [Order("9", "", Want("thimbel", "", "", 1), "", "", None, "")], english)


def test_the_command_writes_both(troytag, tmp_path, monkeypatch):
    from tests.pouring.test_pour_command import POUR

    monkeypatch.chdir(tmp_path)
    folder = POUR[1]
    ran = troytag("export", folder, "card", "--as-of", "2026-11-20", "--want", "thimble:sterling=2", "--to", "a.html")
    assert ran.code == 0 and "<h1>Pour 1" in (tmp_path / "a.html").read_text(encoding="utf-8")
    (tmp_path / "orders.csv").write_text("order,for,sku,quantity\n7,Somebody,thimble,1\n", encoding="utf-8")
    order = ("export", folder, "card", "--as-of", "2026-11-20", "--kind", "order")
    assert troytag(*order, "--for-list", "orders.csv", "--to", "o.html").code == 0
    assert "Somebody" in (tmp_path / "o.html").read_text(encoding="utf-8")
    assert "name the list of orders" in troytag(*order, "--want", "thimble:sterling=1", "--to", "p.html").err
