"""Three workshops from their answers to a price list, without editing a file."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from pricing.advice import advice
from pricing.costing import asked_for, cost
from pricing.editions.chain import newest
from pricing.lists.number_habits import habit
from pricing.lists.price_list import ListAsked, price_list
from pricing.starting import start_folder
from pricing.starting.answers import answered, read_answers
from pricing.starting.library import Library
from pricing.starting.whole import told_figure
from pricing.studies.prices_out import prices_out
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice

ANSWERS = Path(__file__).parent / "answers"
DAY = date(2026, 11, 20)
GRAMS_PER_TROY_OUNCE = 31.1034768
#: What a practitioner would believe of the first piece of each, in its own metal: cost and the price in its shop or
#: on its stall, in the workshop's money. From memory: a plain silver band of 7 g sells for 50 to 110 pounds, a brass
#: knob for 12 to 30, a signet ring of 8.5 g in 14 ct with gold at 2,900 euro an ounce for 800 to 1,500 with tax.
BELIEVED = {
    "silversmith": ("sterling", (20, 45), "shop", (50, 110)),
    "brass-caster": ("yellow-brass", (5, 12), "stall", (12, 30)),
    "ring-maker": ("gold-14ct-yellow", (480, 650), "shop", (800, 1500)),
}


@pytest.fixture(scope="module")
def evenings(tmp_path_factory):
    """Each workshop's folder, costed."""
    made = {}
    for name in BELIEVED:
        root = tmp_path_factory.mktemp("evening") / name
        start_folder(root, read_answers(ANSWERS / f"{name}.toml"), DAY)
        made[name] = cost(root, asked_for(DAY))
    return made


@pytest.mark.parametrize("name", BELIEVED)
def test_from_the_answers_to_a_price_list(evenings, name):
    costing = evenings[name]
    workshop = costing.folder.stated.workshop
    assert not costing.warnings and not costing.folder.warnings
    assert not advice(costing.computed)  # nothing below its cost, no channel that decides nothing
    edition = publish_prices(reprice(costing, None))
    assert newest(costing.folder.root).number == edition.number == 1
    audience = "shops" if name == "brass-caster" else "buyers"
    asked = ListAsked(audience, tuple(costing.folder.stated.products), tuple(costing.folder.stated.alloys))
    page = price_list(prices_out(costing), asked, habit(workshop.currency, workshop.show, "en_GB"), None)
    text = page.laid_out(".html").decode()
    (product,) = costing.folder.stated.products.values()
    assert product.name in text


@pytest.mark.parametrize("name", BELIEVED)
def test_a_practitioner_would_believe_it(evenings, name):
    alloy, (least_cost, most_cost), channel, (least_price, most_price) = BELIEVED[name]
    computed = evenings[name].computed
    row = next(row for row, each in enumerate(computed.resolved.variants) if each.alloy == alloy)
    column = [each.name for each in computed.resolved.channels].index(channel)
    assert least_cost <= computed["unit_cost"][row] <= most_cost
    assert least_price <= computed["price"][row, column] <= most_price
    assert 5 <= 60 * computed["labour_hours"][row] <= 90


def test_what_was_told_stands_in_the_folder_and_is_not_doubted(evenings):
    stated = evenings["brass-caster"].folder.stated
    assert stated.workshop.labour["bench"].rate == 16
    assert stated.workshop.overhead.per_month == 190
    assert stated.workshop.overhead.productive_hours == 57.5  # 15 h × 46 weeks / 12 months
    assert stated.workshop.hours_a_week == 15
    week = stated.workshop.week
    assert (week.flasks, week.pieces, week.pieces_good) == (2, 46, 0.8696)  # 40 / 46
    assert stated.workshop.machines["kiln"].purchase == 900
    assert stated.products["acorn-drawer-knob"].steps["finish"].minutes == 5
    assert {quote.metal: quote.price for quote in stated.quotes}["brass-grain"] == 9.6
    told = ("labour.bench.rate", "overhead.per_month", "machines.kiln.purchase")
    for path in (*told, "products.acorn-drawer-knob.expected_sales"):
        assert path not in stated.doubts


def test_hours_of_a_week_come_back_as_they_were_told():
    """They are written by the month, 46 weeks of twelve: 40 hours are 153.33, and 153 of them would be told as 39.9."""
    library = Library()
    for hours in range(1, 169):
        written = told_figure(answered({"hours": hours}), library, "hours", "").partition(" ")[0]
        assert round(float(written) * 12 / 46, 1) == hours


def test_what_was_not_told_is_a_guess_with_its_doubt_and_says_so(evenings):
    folder = evenings["brass-caster"].folder
    doubts = folder.stated.doubts
    assert (doubts["unreclaimed_tax"].low, doubts["unreclaimed_tax"].high) == (0, 0.2)
    assert doubts["alloys.yellow-brass.melt_loss"].low == 0.015
    assert doubts["processes.printed-and-cast.print.uses.castable-resin.per_cm3"].high == 1.9
    silicon = next(quote for quote in folder.stated.quotes if quote.metal == "silicon-bronze-grain")
    assert silicon.source.startswith("A GUESS")


def test_pieces_good_of_a_week_are_those_of_the_process(evenings):
    """40 of 46: the pour is set so that all steps together come to it."""
    steps = evenings["brass-caster"].folder.stated.processes["printed-and-cast"]
    product = 1.0
    for step in steps:
        product *= step.good
    assert product == pytest.approx(40 / 46, abs=0.001)  # the pour is written with three figures
    (knob,) = evenings["brass-caster"].folder.stated.products.values()
    assert knob.pieces_per_flask == 23  # 46 pieces in 2 flasks


def test_a_ring_s_melt_value_is_its_gold_and_silver(evenings):
    """9 ct: 0.375 gold at 2900 and 0.10 silver at 34 euro an ounce; copper and zinc count nothing."""
    computed = evenings["ring-maker"].computed
    names = [row.name for row in computed.resolved.alloys]
    found = computed["melt_value_per_g"][names.index("gold-9ct-yellow")]
    assert found == pytest.approx((0.375 * 2900 + 0.10 * 34) / GRAMS_PER_TROY_OUNCE)


def test_registered_tax_is_in_the_price_and_abroad_is_without(evenings):
    channels = evenings["ring-maker"].folder.stated.channels
    assert (channels["shop"].tax.rate, channels["shop"].tax.included) == (0.19, True)
    assert (channels["abroad"].tax.rate, channels["abroad"].currency) == (0, "USD")
    assert evenings["ring-maker"].folder.stated.workshop.unreclaimed_tax == 0
    assert evenings["silversmith"].folder.stated.workshop.unreclaimed_tax == 0.2
