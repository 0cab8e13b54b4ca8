"""`troytag cost` of pieces of pieces, sizes, platings, bought castings and channels abroad, on the terminal."""

from __future__ import annotations

from datetime import date

import pytest

from pricing.costing import asked_for, cost
from tests.folders import alder_wharf

DAY = ("--as-of", "2026-11-20")


@pytest.fixture(scope="module")
def computed():
    return cost(alder_wharf(), asked_for(date(2026, 11, 20))).computed


def card(troytag, sku: str, *more: str) -> str:
    said = troytag("cost", alder_wharf(), "--sku", sku, *DAY, *more)
    assert said.code == 0, said.err
    return said.out


def test_a_card_names_every_metal_with_its_grams_and_the_pieces(troytag):
    """Leaf 1.05 × 8.78 × 0.97 × 0.997 = 8.92 g; charm 2.9 × 0.98 = 2.84 g; pin 1.40 g: 13.16 g."""
    words = " ".join(card(troytag, "anchor-leaf").split())
    assert "In it: Bronze 8.92 g, Sterling silver 2.84 g, 1.40 g that is no metal; 13.16 g in all" in words
    assert "anchor-charm Sterling silver 1 2.84" in words


def test_hands_of_a_hired_helper_are_not_yours(troytag, computed):
    words = " ".join(card(troytag, "anchor-leaf").split())
    hired = computed["labour_hours"][1] - computed["own_labour_hours"][1]
    assert hired > 0 and "23 min of hands, 20 min of them yours" in words and "of yours" in words
    assert round(computed["labour_hours"][1] * 60) == 23 and round(computed["own_labour_hours"][1] * 60) == 20


def test_a_channel_abroad_is_headed_by_its_currency_and_the_tier_is_told(troytag):
    """Studs are 9.02 g and 0.44 g of findings; 1.1 sets to an order and 80 g of parcel."""
    said = card(troytag, "drop-studs")
    assert "abroad, USD" in said and "abroad: an order is 90 g and posted as up to 250 g" in said
    assert round(1.1 * (0.9 * 10.36 * 0.97 * 0.997 + 0.44) + 80) == 90


def test_a_gift_set_is_joined_and_has_no_casting(troytag):
    said = card(troytag, "tide-set")
    assert "joined of pieces of your own, 39.22 g in all" in said and "finished" not in said
    assert "plated with 0.0352 g of Fine gold" in said  # 8.1 cm2 × 0.9 × 0.00025 cm × 19.3 g/cm3


def test_sizes_are_a_table_at_the_one_price(troytag, computed):
    said = card(troytag, "reed-ring", "--alloy", "sterling")
    sizes = [line.split()[0] for line in said.splitlines() if line.startswith(("J ", "L½", "N ", "P ", "Z+1"))]
    assert sizes[:5] == ["J", "L½", "N", "P", "Z+1"]
    assert "more from size Z+1 on would make every size earn what is" in said
    assert all(len(line) <= 80 for line in said.splitlines())


def test_what_is_only_ever_a_part_is_said_so(troytag):
    assert "Sold nowhere: only ever a part." in card(troytag, "fern-bail")


def test_steps_are_the_piece_s_own_and_add_up(troytag, computed):
    said = card(troytag, "tide-set", "--steps")
    row = next(row for row, each in enumerate(computed.resolved.variants) if each.sku == "tide-set")
    lines = [line for line in said.splitlines() if line.startswith(("line the box", "all steps"))]
    assert [line.split()[-1] for line in lines] == [f"{computed['making_cost'][row]:.2f}"] * 2
    assert lines[0].split()[-4:] == lines[1].split()[-4:]  # one step: its minutes, hands and material are all there is
    assert "fern-pendant in Sterling silver is a piece of its own" in said


def test_bought_castings_and_platings_are_named_at_their_steps(troytag):
    assert "castings as bought" in card(troytag, "anchor-charm", "--steps")
    assert " 2.84 g finished, 2.90 g as bought" in card(troytag, "anchor-charm")
    assert "gild: a layer of 2.5 microns, 0.0352 g of Fine gold" in card(troytag, "fern-pendant", "--steps")


@pytest.mark.parametrize("columns", ["60", "80", "200"])
def test_the_work_of_everything_can_be_shown(troytag, monkeypatch, columns):
    monkeypatch.setenv("COLUMNS", columns)
    for sku in ("tide-set", "reed-ring", "wave-band"):
        said = card(troytag, sku, "--show-work")
        assert "unit_cost" in said and "own_labour_hours" in said


def test_side_by_side_has_the_channel_s_currency(troytag):
    said = card(troytag, "reed-ring", "--alloy", "sterling", "--alloy", "gold-9ct")
    assert "abroad, USD: price" in said and "of them yours" in said and "an hour of yours" in said


def test_all_sizes_of_a_product_are_chosen_by_its_sku(troytag):
    said = troytag("cost", alder_wharf(), "--sku", "wave-band", *DAY, "--csv")
    assert [line.split(",")[0] for line in said.out.splitlines()[1:]] == [
        f"wave-band-{size}" for size in (50, 54, 60) for _ in range(4)]  # fmt: skip


def test_the_table_for_programs_has_the_new_columns(troytag, computed):
    said = troytag("cost", alder_wharf(), "--csv", *DAY)
    head, *lines = (line.split(",") for line in said.out.splitlines())
    for name in ("own_labour_hours", "own_labour_cost", "total_g", "findings_metal_cost", "channel_rate", "order_g",
                 "mean_effort", "size"):  # fmt: skip
        assert name in head, name
    usd = next(line for line in lines if line[0] == "drop-studs" and line[head.index("channel")] == "abroad")
    assert float(usd[head.index("channel_rate")]) == 0.765  # what the bank said
