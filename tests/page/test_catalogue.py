"""The catalogue: what it says of each variant, and how it is sorted, searched and paged."""

from __future__ import annotations

import re

import pytest

from pricing.advice import advice
from pricing.cli.screens.metal import signed as terminal_signed
from pricing.costing import asked_for, cost
from pricing.lists.catalogue import collections
from pricing.made_of import contents_of
from pricing.page.rendering import minus_in, moved
from pricing.page.views.catalogue import PAGE_DESIGNS
from pricing.shown import percent, shown_of
from pricing.studies.prices_out import prices_out
from pricing.studies.week.told import line_of
from pricing.workbook.sheets.labels import Words
from tests.page.served import DAY

DESIGN = re.compile(r'<a class="name" href="[^"]*">([^<]*)</a>')
ALLOY = re.compile(r"</svg>\s*<span>([^<]*)")


def masses(computed) -> list[float]:
    """What is shown of each variant: its finished mass, or where nothing is made for it what its pieces weigh."""
    rows = range(len(computed.resolved.variants))
    return [float(computed["finished_g"][row]) or contents_of(computed, row).all_metals_g for row in rows]


def pieces(text: str) -> list[tuple[str, str]]:
    """Design and alloy of every line: the name stands once for all of its alloys."""
    found = []
    for block in text.split("<tbody")[1:]:
        (name,) = DESIGN.findall(block)
        found += [(name, alloy) for alloy in ALLOY.findall(block.split("</tbody>")[0])]
    return found


def test_every_variant_is_there_with_its_figures(looking):
    costing = cost(looking.root, asked_for(DAY))
    answer = looking.get("/")
    variants = costing.computed.resolved.variants
    designs = {each.product for each in variants}
    assert len(designs) <= PAGE_DESIGNS and len(pieces(answer.text)) == len(variants)
    assert f"{len(designs)} designs, {len(variants)} variants" in answer.words
    for row in range(len(variants)):
        assert f"<b>{costing.computed['unit_cost'][row]:,.2f}</b>" in answer.text
        assert f"{masses(costing.computed)[row]:,.2f} g" in answer.text


def test_the_week_is_told_where_the_folder_tells_of_one(looking):
    out = prices_out(cost(looking.root, asked_for(DAY)))
    said = line_of(out, shown_of(out.costing.folder.stated))
    assert said is not None
    assert f'<p class="count week">{said.sentence} <a href=' in looking.get("/").text


def test_a_bar_s_pieces_are_in_proportion_and_told_in_words(looking):
    costing = cost(looking.root, asked_for(DAY))
    rows = costing.computed.resolved.variants
    row = next(place for place, each in enumerate(rows) if (each.sku, each.alloy) == ("acorn-knob", "sterling"))
    share = (
        costing.computed["metal_cost"][row] / costing.computed["unit_cost"][row]
    )  # no credit: every part is positive
    told = re.search(
        r'aria-label="Acorn drawer knob, Sterling silver is made of: ([^"]*)"(.*?)</svg>', looking.get("/").text, re.S
    )
    assert f"({share:.0%})".replace("%", " %") in told[1].split(", ")[0]
    first = re.search(r'<rect x="0.0" y="1" width="([\d.]+)"', told[2])
    assert float(first[1]) == pytest.approx(100 * share - 0.6, abs=0.01)  # 0.6 is left free between pieces


@pytest.mark.parametrize(
    ("query", "found"),
    [
        ("query=knob+sterling", {("Acorn drawer knob", "Sterling silver")}),
        ("query=KNOB&alloy=sterling", {("Acorn drawer knob", "Sterling silver")}),
        ("query=nothing-of-this-name", set()),
    ],
)
def test_search_and_filter(looking, query, found):
    assert set(pieces(looking.get(f"/?{query}").text)) == found


@pytest.mark.parametrize(("sort", "quantity"), [("mass", "finished_g"), ("cost", "unit_cost")])
@pytest.mark.parametrize("way", ["ascending", "descending"])
def test_order(looking, sort, quantity, way):
    costing = cost(looking.root, asked_for(DAY))
    every = masses(costing.computed) if sort == "mass" else costing.computed[quantity]
    values = sorted(every, reverse=way == "descending")  # a design comes where its first variant does
    text = looking.get(f"/?sort={sort}&way={way}").text
    if sort == "cost":
        figure = re.compile(r'class="num cost"[^>]*><b>([\d.,]+)</b>')
    else:
        figure = re.compile(r'data-head="finished">([\d.,]+) g')
    blocks = [[float(each.replace(",", "")) for each in figure.findall(block)] for block in text.split("<tbody")[1:]]
    assert sorted(sum(blocks, []), reverse=way == "descending") == [
        pytest.approx(value, abs=0.0051) for value in values
    ]
    for block in (*blocks, [block[0] for block in blocks]):
        assert block == sorted(block, reverse=way == "descending")


def test_designs_without_a_picture_are_found(looking):
    costing = cost(looking.root, asked_for(DAY))
    unseen = {each.name for each in costing.folder.goods.values()
              if not each.photo and not any(casting.mesh for casting in each.castings or ())}  # fmt: skip
    assert unseen and {name for name, _ in pieces(looking.get("/?wants=unseen").text)} == unseen


def test_what_loses_money_is_counted_and_found(served):
    """Sold for nearly nothing at the trade, the thimble loses money, and nothing else does."""
    assert pieces(served.get("/?wants=loss").text) == []
    product = served.root / "products" / "thimble.toml"
    below = "\n[in_channel.trade]\npolicy = { fixed = 0.50 }\n"
    product.write_text(product.read_text(encoding="utf-8") + below, encoding="utf-8")
    losing = served.get("/?wants=loss")
    assert {name for name, _ in pieces(losing.text)} == {"Bramble thimble"}
    assert re.search(r'value="loss" checked><span>loses money</span> <b>(\d+)</b>', losing.text)[1] == str(
        len(pieces(losing.text))
    )
    assert pieces(served.get("/?wants=loss&wants=unseen").text) == []


def test_htmx_gets_the_lines_alone(looking):
    part = looking.get("/?query=knob", HX_Request="true").text
    assert "<html" not in part and "Acorn drawer knob" in part
    assert "<html" in looking.get("/?query=knob", HX_Request="true", HX_History_Restore_Request="true").text


@pytest.mark.parametrize(
    "query",
    [
        "sort=evil",
        "wants=evil",
        "number=-1",
        "number=99999999999999",
        "number=0",
        "channel=evil",
        "way=up",
        "alloy=<b>",
    ],
)
def test_nonsense_is_as_if_it_had_not_been_asked(looking, query):
    assert looking.get(f"/?{query}").status == 200


def test_the_price_in_force_stands_first_and_beside_it_what_is_asked(served):
    from datetime import date

    from pricing.studies.prices_out import prices_out
    from pricing.studies.publishing.new_edition import publish_prices
    from pricing.studies.repricing.reprice import reprice

    then = cost(served.root, asked_for(date(2026, 6, 1)))
    publish_prices(reprice(then, None))
    now = cost(served.root, asked_for(DAY))
    variants = now.computed.resolved.variants
    row = next(place for place, each in enumerate(variants) if (each.sku, each.alloy) == ("acorn-knob", "sterling"))
    before, after = float(then.computed["price"][row, 0]), float(now.computed["price"][row, 0])
    assert before != after
    drift = f"{100 * (after / before - 1):+.1f} %".replace("-", "\N{MINUS SIGN}")
    design, sterling = "Acorn drawer knob", "Sterling silver"
    answer = served.get("/")
    assert "edition 1 of 2026-06-01 in force" in answer.words
    assert "what your policy asks now, where the price in force is another" in answer.words
    assert f"asked {after:.2f} {drift}" in answer.words
    margin = prices_out(now).computed["margin"][row, 0]
    assert f" {before:.2f} {round(100 * margin)} %" in answer.words
    asks = "more" if after > before else "less"
    assert (design, sterling) in pieces(served.get(f"/?wants={asks}").text)
    assert (design, sterling) not in pieces(served.get(f"/?wants={'less' if asks == 'more' else 'more'}").text)


def test_a_hostile_name_is_text(served):
    file = served.root / "products" / "acorn-knob.toml"
    name = "<script>alert(1)</script><img src=x onerror=alert(2)>"
    file.write_text(file.read_text().replace('name = "Acorn drawer knob"', f"name = '{name}'"))
    for path in ("/", "/design?sku=acorn-knob", "/lists", "/reprice", "/edit/products/acorn-knob.toml"):
        text = served.get(path).text
        assert "<script>alert" not in text and "<img src=x" not in text
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in served.get("/").text


def test_a_fault_is_told_and_leads_to_its_line(served):
    file = served.root / "products" / "acorn-knob.toml"
    lines = file.read_text().split("\n")
    number = next(place for place, line in enumerate(lines, 1) if line.startswith("alloys"))
    file.write_text(file.read_text().replace('"sterling"]', '"sterlin"]'))
    for path in ("/", "/design", "/metal", "/reprice", "/lists"):
        answer = served.get(path)
        assert answer.status == 200
        assert 'no alloy "sterlin". Did you mean "sterling"?' in answer.words
        assert f'href="/edit/products/acorn-knob.toml?line={number}"' in answer.text
    assert served.get(f"/edit/products/acorn-knob.toml?line={number}").status == 200
    file.write_text(file.read_text().replace('"sterlin"]', '"sterling"]'))
    assert re.search(r"\d+ designs, \d+ variants", served.get("/").words)


def test_a_change_by_an_editor_is_seen_at_once(served):
    before = served.get("/").text
    file = served.root / "workshop.toml"
    file.write_text(file.read_text().replace("rate = 18.00", "rate = 28.00"))
    assert served.get("/").text != before


def test_what_is_sold_as_a_set_says_so_on_every_face(served, troytag):
    """The word stands in the middle of this name and says nothing there."""
    product = served.root / "products" / "thimble.toml"
    text = product.read_text(encoding="utf-8")
    product.write_text(re.sub(r"(?m)^name = .*$", 'name = "Sunset brooch"\nsold_as = "set"', text), encoding="utf-8")
    assert "sold as a set" in served.get("/?query=sunset").words
    assert "Sunset brooch, set" in troytag("cost", served.root, "--sku", "thimble", "--as-of", str(DAY)).out
    costing = cost(served.root, asked_for(DAY))
    assert Words(costing).product_name("thimble") == "Sunset brooch, set"
    rows = [row for row, each in enumerate(costing.computed.resolved.variants) if each.sku == "thimble"]
    assert [item.sold_as for each in collections(costing, rows) for item in each.items] == ["sold as a set"]


def test_a_note_stands_beside_the_variant_that_it_is_about_and_with_no_other(served, troytag):
    """Asked for nearly nothing at the trade, the thimble alone does not pay."""
    product = served.root / "products" / "thimble.toml"
    below = "\n[in_channel.trade]\npolicy = { fixed = 0.50 }\n"
    product.write_text(product.read_text(encoding="utf-8") + below, encoding="utf-8")
    words = "the price in trade, 0.50, is"
    costing = cost(served.root, asked_for(DAY))
    hints = [hint for hint in advice(costing.computed) if hint.row is not None]
    assert {costing.computed.resolved.variants[hint.row].sku for hint in hints} == {"thimble"}
    assert words in served.get("/?query=thimble").words
    assert words not in served.get("/?query=acorn").words
    said = troytag("cost", served.root, "--sku", "thimble", "--as-of", str(DAY)).err
    assert words in " ".join(said.split())


def test_a_sentence_has_the_sign_for_minus_before_figures_alone():
    said = "Earns -3 %, 5 points under; set on 2026-11-20 with ring-7 at 2-3 a day; -0.50 owing"
    assert minus_in(said) == ("Earns −3 %, 5 points under; set on 2026-11-20 with ring-7 at 2-3 a day; −0.50 owing")


@pytest.mark.parametrize(
    ("fraction", "words"),
    [(-0.0004, "0.0 %"), (0.0004, "0.0 %"), (-0.0006, "-0.1 %"), (0.043, "+4.3 %"), (0.0, "0.0 %"), (None, "–")],
)
def test_a_change_that_is_less_than_can_be_shown_has_no_sign(fraction, words):
    assert percent(fraction, 1, signed=True) == words
    if fraction is not None:
        assert moved(fraction) == words.replace("-", "\N{MINUS SIGN}")
        assert terminal_signed(fraction) == words.removesuffix(" %")
