"""Editions and break-even on the page: what the command line says, said there; a slip is put out of force."""

from __future__ import annotations

import re
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import newest, numbers, read
from pricing.studies.break_even.reach import break_even, least_margins
from pricing.studies.break_even.told import summary
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import prices_held, reprice
from tests.folders import small_sample
from tests.page.fields import fields_of
from tests.page.served import DAY, Served


@pytest.fixture(scope="module")
def published(tmp_path_factory):
    """A folder with two editions, the second of prices that differ."""
    root = small_sample(tmp_path_factory.mktemp("editions") / "fernhollow")
    first = publish_prices(reprice(cost(root, asked_for(date(2026, 6, 1))), None))
    now = reprice(cost(root, asked_for(DAY)), first)
    words = {(row.sku, row.alloy, row.channel): "accept" for row in now.rows}
    publish_prices(reprice(now.costing, first, words))
    with Served(root) as page:
        yield page


def test_the_list_says_which_is_in_force(published):
    page = published.get("/editions")
    assert page.status == 200
    assert "Edition 2 in force from 2026-11-20" in page.words
    assert "Edition 1 from 2026-06-01 to 2026-11-19" in page.words
    for number in (1, 2):
        assert f"/lists/price-list?prices={number}&amp;audience=shops" in page.text
        assert read(published.root, number).sha256[:12] in page.words


def test_an_edition_is_shown_as_the_terminal_shows_it(published, troytag):
    page = published.get("/editions?show=1&sku=thimble&alloy=sterling")
    told = troytag("editions", published.root, "show", "1", "--sku", "thimble", "--alloy", "sterling").out
    _, costs_and_prices = told.split("thimble  sterling")
    assert "costs" in costs_and_prices
    assert [cell for cell in re.split(r" {2,}|\n", costs_and_prices.strip()) if cell not in page.words] == []
    assert "unit_cost = metal_cost + labour_cost" in page.words


def test_two_are_compared_as_the_terminal_does(published, troytag):
    page = published.get("/editions?before=1&after=2").words.replace("\N{MINUS SIGN}", "-")
    told = troytag("editions", published.root, "compare", "1", "2").out
    costs = [line.strip() for line in told.splitlines() if line.startswith("  costs ")]
    assert costs and all(line in page for line in costs)


@pytest.mark.parametrize(
    ("address", "words"),
    [
        ("/editions/table.csv?show=1", ("editions", "show", "1", "--csv")),
        ("/editions/table.csv?before=1&after=2", ("editions", "compare", "1", "2", "--csv")),
        ("/break-even/table.csv", ("study", "breakeven", "--as-of", str(DAY), "--csv")),
    ],
)
def test_the_csv_is_that_of_the_command(published, troytag, address, words):
    command, *more = words
    assert published.get(address).text == troytag(command, published.root, *more).out


def test_by_a_day(published):
    assert "Edition 1, in force from 2026-06-01" in published.get("/editions?on=2026-07-01").words
    assert "no edition was in force on 2026-05-01" in published.get("/editions?on=2026-05-01").words


@pytest.mark.parametrize(
    ("query", "words"),
    [
        ("show=9", "there is no edition 9"),
        ("show=moon", '"moon" is no edition'),
        ("before=1&after=", '"" is no edition'),
        ("on=soon", '"soon" is no date'),
        ("show=1&sku=thimble&alloy=moon", "has no thimble in moon"),
    ],
)
def test_what_is_no_edition_is_told(published, query, words):
    answer = published.get(f"/editions?{query}")
    assert answer.status == 422 and words in answer.words


def test_a_slip_is_put_out_of_force_after_a_summary(served):
    root = served.root
    first = publish_prices(reprice(cost(root, asked_for(date(2026, 6, 1))), None))
    now = reprice(cost(root, asked_for(DAY)), first)
    words = {(row.sku, row.alloy, row.channel): "accept" for row in now.rows}
    slip = publish_prices(reprice(now.costing, first, words))
    asked = served.post("/editions/withdraw", {"back_to": "1"})
    assert asked.status == 200 and "Put the prices of edition 1 in force again?" in asked.words
    assert "rise" in asked.words and "The furthest" in asked.words and numbers(root) == [1, 2]
    form = dict(fields_of(asked.text, "/editions/withdraw"))
    stale = served.post("/editions/withdraw", {**form, "mark": "0" * 32})
    assert stale.status == 409 and numbers(root) == [1, 2]
    assert served.post("/editions/withdraw", form).status == 303
    again = newest(root)
    assert again.number == 3 and again.content["restores"] == 1
    then, held = ({(row["sku"], row["alloy"], row["channel"]): row["price"] for row in each.content["prices"]}
                  for each in (first, again))  # fmt: skip
    assert held == then != {(row["sku"], row["alloy"], row["channel"]): row["price"] for row in slip.content["prices"]}
    for number in ("3", "0", "moon", ""):
        assert served.post("/editions/withdraw", {"back_to": number, "sure": "yes"}).status == 422


def test_break_even_is_that_of_the_command(published):
    costing = cost(published.root, asked_for(DAY))
    held = prices_held(costing, newest(published.root))
    found = [each for each in break_even(costing.computed, held, least_margins(costing))
             if (each.sku, each.alloy) == ("thimble", "sterling")]  # fmt: skip
    page = published.get("/break-even?sku=thimble&alloy=sterling")
    assert "Prices: edition 2 of 2026-11-20" in page.words
    assert found and all(f"{each.all_metals.at_least.price:,.2f}" in page.words for each in found)
    told = " ".join(summary(each) for each in found)
    line = page.words[page.words.index("Bramble thimble 925 Sterling silver") :]
    assert told in line
    assert "what the policy asks" in published.get("/break-even?prices=asked").words
    assert "No variant matches." in published.get("/break-even?query=moon").words
