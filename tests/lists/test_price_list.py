"""The price list as HTML and PDF: the engine's prices, all words right, nothing from outside."""

from __future__ import annotations

import re
import tomllib
from datetime import date

import pytest
from lxml import html
from pypdfium2 import PdfDocument

from pricing.errors import TroytagError, UsageFault
from pricing.folder.inherit import findings_of, inherited, parts_of
from pricing.lists.pictures import Pictures
from pricing.lists.price_list import ListAsked, price_list
from pricing.records import variant_records
from pricing.resources import sample_catalog
from pricing.studies.prices_out import prices_out
from tests.lists.fernhollow import IN_EURO, british, changed_folder, costing_of, everything, habit_in
from tests.lists.pdfs import page_sizes_mm, page_texts


def listed(costing, audience="shops", habit=None, pictures=None, **asked):
    return price_list(
        prices_out(costing), ListAsked(audience, *everything(costing), **asked), habit or british(costing), pictures
    )


def rows_of(page: bytes) -> dict[tuple[str, str], list[str]]:
    """(name, alloy) → the row's figures: weight, price and, on a list for shops, suggested retail."""
    rows = {}
    for body in html.document_fromstring(page.decode()).iter("tbody"):
        name = body.findtext(".//b")
        for row in body.iter("tr"):
            alloy = row.find("td[@class='alloy']")
            rows[name, alloy.text.strip()] = [
                cell.text for cell in row if cell is not alloy and "figure" in cell.get("class", "")
            ]
    return rows


def grams_in(costing, products, sku, alloy, metal) -> float:
    """Grams of one metal in a set: its own, its bought findings', and those of the pieces that it is joined of."""
    rows = [(row.sku, row.alloy) for row in costing.computed.resolved.variants]
    grams = costing.computed["finished_g"][rows.index((sku, alloy))] if alloy == metal else 0.0
    for each in (*findings_of(products[sku], alloy), *parts_of(products[sku], alloy)):
        if each.product:
            grams += each.quantity * grams_in(costing, products, each.product, each.alloy or alloy, metal)
        elif each.alloy == metal:
            grams += each.quantity * each.metal_g
    return grams


def engine_rows(costing, channel, retail=None):
    """The same from the engine's records."""
    stated = costing.folder.stated
    products = inherited(stated.products)
    rows = {}
    for record in variant_records(costing.computed):
        prices = record["prices"]
        if channel in prices:
            grams = grams_in(costing, products, record["sku"], record["alloy"], record["alloy"])
            three_digits = f"{grams:#.3g}".rstrip(".")
            figures = [three_digits, f"{prices[channel]['price']:.2f}"]
            if retail:
                figures.append(f"{prices[retail]['price']:.2f}" if retail in prices else "–")
            rows[products[record["sku"]].name, stated.alloys[record["alloy"]].name] = figures
    return rows


def test_a_list_for_shops_holds_the_engine_s_prices(sample):
    rows = rows_of(listed(sample).laid_out(".html"))
    assert rows == engine_rows(sample, "trade", "shop")
    assert len(rows) == 19  # of 40 variants: no gold, no knight, sterling in beetle, charm and thimble only


def test_a_list_for_buyers_holds_the_engine_s_prices(sample):
    assert rows_of(listed(sample, "buyers").laid_out(".html")) == engine_rows(sample, "shop")
    marketplace = listed(sample, "buyers", channel="marketplace").laid_out(".html")
    assert rows_of(marketplace) == engine_rows(sample, "marketplace")


def test_suggested_retail_is_the_channel_asked_for(sample):
    rows = rows_of(listed(sample, retail="marketplace").laid_out(".html"))
    assert rows == engine_rows(sample, "trade", "marketplace")


def test_terms_minimum_validity_and_metal(sample):
    """channels.toml: 150.00 and 30 days; metal_prices.csv of 2026-11-20: Ag 38.40 USD/ozt, USD 0.7900."""
    text = html.document_fromstring(listed(sample).laid_out(".html").decode()).text_content()
    text = " ".join(text.split())
    for said in ("Minimum order £150.00", "30 days; carriage paid", "Prices of 20 Nov 2026", "Valid until 20 Dec 2026"):
        assert said.replace(" ", "") in text.replace(" ", "")
    assert "Priced at silver 38.40 USD/ozt of 20 Nov 2026;" in text
    assert "1 USD = 0.79 GBP of 20 Nov 2026." in text
    assert "gold" not in text  # no gold is for sale to shops


def test_only_what_is_for_sale_is_collected(sample):
    sheet = listed(sample)
    names = [collection["name"] for collection in sheet.document["collections"]]
    assert names == ["Hearth", "Hedgerow", "Small lives", "Workbox"]
    assert "Chess knight" not in str(sheet.document)  # sold_in leaves trade out


def test_marks_stand_and_the_note_defers_to_local_law(sample):
    (page,) = html.document_fromstring(listed(sample, "buyers").laid_out(".html").decode()).xpath("//main")
    assert {"925", "375", "585"} <= set(page.xpath(".//td[@class='alloy']/span/text()"))
    assert "law of the place of sale, which comes before anything said here" in listed(sample).document["notes"][-1]
    brass = price_list(
        prices_out(sample), ListAsked("shops", everything(sample)[0], ("yellow-brass",)), british(sample), None
    )
    assert not any("hallmark" in note for note in brass.document["notes"])


def test_the_sample_marks_from_the_weight_that_the_act_states():
    """Hallmarking Act 1973, Schedule 1, Part II as amended, with the Convention's country profile (seen): silver of
    less than 7.78 g and gold of less than 1 g are exempt; platinum (0.5 g) and palladium (1 g) the sample has not."""
    exempt_below_g = {"silver": 7.78, "gold": 1.0, "palladium": 1.0, "platinum": 0.5}
    processes = tomllib.loads((sample_catalog() / "processes.toml").read_text(encoding="utf-8"))["processes"]
    marked = [step for steps in processes.values() for step in steps if step["name"].startswith("hallmark, ")]
    assert {step["name"] for step in marked} == {"hallmark, silver", "hallmark, gold"}
    for step in marked:
        assert step["from_g"] == exempt_below_g[step["name"].removeprefix("hallmark, ")]


def test_tax_is_said_as_it_is(tmp_path):
    taxed = changed_folder(
        tmp_path / "included",
        {"channels.toml": {'audience = "retail"\n': 'audience = "retail"\ntax = { rate = 0.20, included = true }\n'}},
    )
    costing = costing_of(taxed)
    assert "Prices include sales tax at 20%." in listed(costing, "buyers").document["notes"]
    notes = listed(costing).document["notes"]
    assert "No sales tax is added to trade prices." in notes
    assert "Suggested retail prices include sales tax at 20%." in notes
    on_top = tmp_path / "on-top"
    changed_folder(on_top, {"channels.toml": {'"wholesale"\n': '"wholesale"\ntax = { rate = 0.175 }\n'}})
    assert "Trade prices are without sales tax; 17.5% is added." in listed(costing_of(on_top)).document["notes"]


def test_the_page_is_one_file_that_asks_for_nothing(sample):
    page = listed(sample, pictures=Pictures(sample.folder.root, 120)).laid_out(".html").decode()
    tree = html.document_fromstring(page)
    assert not list(tree.iter("script", "link", "iframe", "object", "embed", "base"))
    sources = [value for element in tree.iter() for name, value in element.items() if name in ("src", "href", "srcset")]
    assert len(sources) >= 8 and all(source.startswith("data:image/jpeg;base64,") for source in sources)
    style = "".join(tree.xpath("//style/text()"))
    assert "url(" not in style and "@import" not in style
    assert "http" not in re.sub(r"data:[^\"]*", "", page).replace("http-equiv", "")


def test_a_hostile_name_stays_a_name(tmp_path):
    hostile = '</b></td><script>alert(1)</script><img src=x onerror=alert(1)> #evil $x$ *bold* \\\\ "'
    root = changed_folder(
        tmp_path,
        {"products/thimble.toml": {'name = "Bramble thimble"': f"name = '{hostile}'", '"Workbox"': '"<i>Workbox"'}},
    )
    costing = costing_of(root)
    page = listed(costing).laid_out(".html")
    tree = html.document_fromstring(page.decode())
    assert not list(tree.iter("script", "img", "i"))
    assert hostile in [name.text for name in tree.iter("b")]
    assert b"&lt;script&gt;alert(1)&lt;/script&gt;" in page
    texts = " ".join(page_texts(listed(costing).laid_out(".pdf")))
    assert "onerror=alert(1)> #evil $x$ *bold*" in texts.replace("\u200b", "")


def test_the_head_repeats_and_rows_do_not_break(sample):
    page = listed(sample).laid_out(".html").decode()
    assert "thead { display: table-header-group; }" in page
    assert re.search(r"tr, \.item,[^{]*\{ break-inside: avoid; \}", page)
    pages = page_texts(listed(sample, "buyers", pictures=Pictures(sample.folder.root, 120)).laid_out(".pdf"))
    assert len(pages) > 1
    for number, text in enumerate(pages, 1):
        assert "Piece Alloy Weight" in text and f"{number} / {len(pages)}" in text


def test_the_pdf_says_the_same_with_its_signs_right(tmp_path):
    names = {"Hearth": "Œuvre d’été", "Acorn drawer knob": "Öljeträknopp ŵ ğ ř"}
    root = changed_folder(
        tmp_path,
        {
            **IN_EURO,
            "products/chess-knight.toml": {"Hearth": names["Hearth"]},
            "products/acorn-knob.toml": {'"Acorn drawer knob"': f'"{names["Acorn drawer knob"]}"'},
        },
    )
    costing = costing_of(root)
    text = " ".join(page_texts(listed(costing, "buyers", habit_in(costing, "de_DE")).laid_out(".pdf")))
    for name in names.values():
        assert name in text
    assert "Price, €" in text
    assert "1 USD = 0,79 EUR of 20.11.2026" in text
    for (_, alloy), (mass, price) in engine_rows(costing, "shop").items():
        assert f"{alloy} " in text and f"{mass} {price}".replace(".", ",") in text


def test_the_pound_is_right_too(sample):
    text = " ".join(page_texts(listed(sample).laid_out(".pdf")))
    assert "Trade price, £" in text.replace("Trade price,£", "Trade price, £") and "£150.00" in text


def test_other_scripts_are_set_in_a_font_of_the_machine_and_the_rest_stays(tmp_path):
    root = changed_folder(tmp_path, {"products/thimble.toml": {"Bramble thimble": "木苺 thimble"}})
    text = " ".join(page_texts(listed(costing_of(root)).laid_out(".pdf")))
    assert "thimble" in text and "Price list for shops" in text


def test_paper(sample):
    assert set(page_sizes_mm(listed(sample).laid_out(".pdf"))) == {(210, 297)}
    assert set(page_sizes_mm(listed(sample, paper="Letter").laid_out(".pdf"))) == {(216, 279)}  # 8.5 × 11 in


@pytest.mark.parametrize("ending", [".html", ".pdf"])
def test_the_same_input_gives_the_same_bytes(sample, ending):
    pictures = [Pictures(sample.folder.root, 120) for _ in range(2)]
    first, second = (listed(sample, pictures=each).laid_out(ending) for each in pictures)
    assert first == second


def letters(page, letter: str) -> list[tuple[float, ...]]:
    """Left, bottom, right, top of every such letter."""
    text = page.get_textpage()
    return [text.get_charbox(place) for place in range(text.count_chars()) if text.get_text_range(place, 1) == letter]


def boxes_of(page, words: str) -> list[tuple[float, ...]]:
    """Box of the first letter of some words, wherever they stand."""
    text = page.get_textpage()
    search, boxes = text.search(words), []
    while found := search.get_next():
        boxes.append(text.get_charbox(found[0]))
    return boxes


def test_words_without_end_stay_on_the_page(tmp_path):
    long = "ŵ" * 118
    root = changed_folder(tmp_path, {"products/thimble.toml": {"Bramble thimble": long}})
    (page,) = [page for page in PdfDocument(listed(costing_of(root)).laid_out(".pdf")) if letters(page, "ŵ")]
    boxes = letters(page, "ŵ")
    assert len(boxes) == 118
    # The column of names ends where that of alloys begins.
    start_of_alloys = min(box[0] for box in boxes_of(page, "Sterling silver"))
    assert max(right for _, _, right, _ in boxes) <= start_of_alloys


@pytest.mark.parametrize(
    ("asked", "said"),
    [
        ({"channel": "shop"}, "shop is a retail channel; a wholesale one belongs here"),
        ({"channel": "trad"}, 'no channel "trad". Did you mean "trade"'),
        ({"retail": "trade"}, "trade is a wholesale channel; a retail one belongs here"),
        ({"valid_until": date(2026, 11, 19)}, "would end on 2026-11-19, before its day, 2026-11-20"),
    ],
)
def test_what_cannot_be_is_refused(sample, asked, said):
    with pytest.raises(UsageFault, match=re.escape(said)):
        listed(sample, **asked)


def test_nothing_for_sale_is_refused(sample):
    with pytest.raises(UsageFault, match="none of these products is sold in trade"):
        price_list(prices_out(sample), ListAsked("shops", ("chess-knight",), ("yellow-brass",)), british(sample), None)


def test_typst_missing_is_one_sentence(sample, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "typst", None)
    with pytest.raises(TroytagError, match=r'^A PDF needs typst, .* pip install "troytag\[pdf\]"$'):
        listed(sample).laid_out(".pdf")
