"""The answer of a design that never leaves: what it was and is, what is in force, what a new design borrows."""

from __future__ import annotations

import re
from datetime import date
from html import unescape

import pytest

from pricing.costing import asked_for, cost
from pricing.meshes import volume_and_area
from pricing.page.forms.draft import FIGURES
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.page.fields import fields_of, with_values
from tests.page.served import DAY
from tests.page.test_design import figures, new_form


def strip_of(text: str) -> dict[str, str]:
    """The words of each line of the strip, by what the alloy is called."""
    table = re.search(r'<table class="strip">(.*?)</table>', text, re.S)[1]
    rows = [unescape(" ".join(re.sub(r"<[^>]*>", " ", row).split())) for row in re.findall(r"<tr.*?</tr>", table, re.S)]
    return {re.sub(r"^\S+ ", "", row).split(" ")[0]: row for row in rows[1:]}  # the stamp's letters come first


def row_of(costing, sku: str, alloy: str) -> int:
    variants = costing.computed.resolved.variants
    return next(place for place, each in enumerate(variants) if (each.sku, each.alloy) == (sku, alloy))


@pytest.fixture(scope="module")
def knob(looking):
    return fields_of(looking.get("/design?sku=acorn-knob").text, "design")


def test_the_strip_says_what_it_was_and_is_once_a_lever_moved(looking, knob):
    moved = looking.post("/design/answer?sku=acorn-knob", with_values(knob, metal_Ag="50"))
    costing = cost(looking.root, asked_for(DAY))
    row = row_of(costing, "acorn-knob", "sterling")
    before, after = float(costing.computed["unit_cost"][row]), figures(moved, "in all")[2]
    told = strip_of(moved.text)
    by = re.search(rf"{after:,.2f} was {before:,.2f} more by ([\d.]+)", told["Sterling"])
    assert by[1] == f"{after - round(before, 2):.2f}"  # the difference of what stands there
    assert "was" not in told["Yellow"]  # no silver in it
    rest = strip_of(looking.post("/design/answer?sku=acorn-knob", knob).text)
    assert "was" not in rest["Sterling"] and f"{before:,.2f}" in rest["Sterling"]


def test_a_price_in_force_stands_in_the_strip_until_a_lever_moves_what_is_asked(served):
    then = cost(served.root, asked_for(date(2026, 6, 1)))
    publish_prices(reprice(then, None))
    now = cost(served.root, asked_for(DAY))
    row = row_of(now, "acorn-knob", "sterling")
    held, asked = float(then.computed["price"][row, 0]), float(now.computed["price"][row, 0])
    assert held != asked
    page = served.get("/design?sku=acorn-knob")
    assert re.search(rf"{held:.2f} [\d.]+/h asked {asked:.2f}", strip_of(page.text)["Sterling"])
    items = with_values(fields_of(page.text, "design"), metal_Ag="60")
    told = strip_of(served.post("/design/answer?sku=acorn-knob", items).text)["Sterling"]
    assert f"was {asked:.2f} more by" in told and f"in force {held:.2f}" in told


def test_what_an_hour_brings_follows_a_lever_that_moves_no_price(served):
    """At a silver price a little higher the same is asked, and the hour earns less: as the cost of that day says."""
    publish_prices(reprice(cost(served.root, asked_for(DAY)), None))
    page = served.get("/design?sku=acorn-knob")
    items = with_values(fields_of(page.text, "design"), metal_Ag="38.45")  # it is 38.40
    moved = served.post("/design/answer?sku=acorn-knob", items)
    before, now = (re.findall(r"([\d.]+)/h", strip_of(each.text)["Sterling"]) for each in (page, moved))
    with (served.root / "metal_prices.csv").open("a", encoding="utf-8") as history:
        history.write(f"{DAY},Ag,38.45,ozt,USD,test\n")
    told = cost(served.root, asked_for(DAY))
    row = row_of(told, "acorn-knob", "sterling")
    hours = [f"{each:.2f}" for each in told.computed["earned_per_hour"][row] if each == each]
    assert now == hours[: len(now)] != before


def test_sections_say_what_is_typed(looking, knob):
    answer = looking.post("/design/answer?sku=acorn-knob", with_values(knob, pieces_per_flask="7"))
    assert re.search(r'id="says-made"[^>]*>[^<]*\b7 castings on a tree', answer.text)
    page = looking.get("/design?sku=acorn-knob").text
    assert 'id="part-made">' in page  # closed: its sentence is enough


def empty_figures(looking, **values: str):
    """A new design of the thimble's process and volume, without any figure of its own."""
    costing = cost(looking.root, asked_for(DAY))
    thimble = costing.folder.goods["thimble"]
    measured = volume_and_area(looking.root / thimble.castings[0].mesh)
    volume, area = f"{measured.volume_cm3:.6f}", f"{measured.area_cm2:.4f}"
    figures = {"castings_0_volume_cm3": volume, "castings_0_area_cm2": area, "process": thimble.process}
    empty = dict.fromkeys(("pieces_per_flask", "sprue_ratio", "expected_sales"), "")
    return thimble, new_form(looking, **(figures | empty | values))


def test_a_new_design_borrows_from_the_piece_that_is_as_large(looking):
    thimble, items = empty_figures(looking)
    answer = looking.post("/design/answer", items)
    assert f"borrowed from {thimble.name}" in answer.words
    own = {name: value for name in (*FIGURES, "flask") if (value := getattr(thimble, name)) is not None}
    typed = looking.post("/design/answer", with_values(items, **{name: f"{value}" for name, value in own.items()}))
    assert "borrowed" not in typed.words and figures(typed, "in all") == figures(answer, "in all")
    assert looking.post("/design/work?quantity=unit_cost&alloy=sterling", items).text  # its work can be seen, too


def test_what_is_borrowed_is_not_saved(served):
    _, items = empty_figures(served)
    answer = served.post("/design/save", items)
    assert answer.status == 422 and "sprue_ratio is missing" in answer.words
    assert not (served.root / "products" / "oak-leaf.toml").exists()


def test_a_new_design_weighs_in_every_alloy_at_once(looking):
    """In those that are ticked as much as the engine says of the whole design."""
    answer = looking.post("/design/answer", new_form(looking))
    listed = re.search(r'<ul class="weights".*?</ul>', answer.text, re.S)[0]
    weights = dict(re.findall(r'<span class="aside">([^<]*) </span>([\d.,]+) g', listed))
    alloys = cost(looking.root, asked_for(DAY)).folder.stated.alloys.values()
    assert set(weights) == {alloy.name for alloy in alloys}
    assert [weights["Sterling silver"], weights["Yellow brass"]] == [
        f"{each:.2f}" for each in figures(answer, "finished, g")
    ]
