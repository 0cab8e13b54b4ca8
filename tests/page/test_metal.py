"""Metal: what is in force, its history as a plot with a table, typing a price, what would move."""

from __future__ import annotations

import re

import pytest

from pricing.costing import asked_for, cost
from tests.page.served import DAY

TYPED = {"metal": "Ag", "price": "50", "per": "ozt", "currency": "USD", "date": "2026-11-20", "source": "by phone"}


def test_the_history_is_a_picture_with_words_and_a_table(looking):
    answer = looking.get("/metal?metal=Ag")
    svg = re.search(r'<svg class="plot wide".*?</svg>', answer.text, re.S)[0]
    assert 'role="img"' in svg and "<title" in svg and "<desc" in svg and "in USD per ozt." in svg
    rows = re.findall(
        r'scope="row">(2026-\d\d-\d\d)</th><td role="cell" class="num" data-head="price">([\d.]+)</td>',
        answer.text,
    )
    assert rows[0] == ("2026-11-20", "38.40")  # the sample's last line of silver
    assert [day for day, _ in rows] == sorted((day for day, _ in rows), reverse=True)


@pytest.mark.parametrize("query", ["metal=nothing", "reach=forever", "metal=USD&reach=all+of+it", "reach=a+month"])
def test_any_choice_is_answered(looking, query):
    assert looking.get(f"/metal?{query}").status == 200


def test_what_would_move_is_told_before_anything_is_written(looking):
    before = (looking.root / "metal_prices.csv").read_bytes()
    answer = looking.post("/metal/moves", TYPED)
    found = re.search(r"(\d+) of (\d+) asked prices would move", answer.words)
    costing = cost(looking.root, asked_for(DAY))
    variants = costing.computed.resolved.variants
    sold = sum(price.sold for each in variants for price in each.prices)
    silver = sum(price.sold for each in variants if each.alloy == "sterling" for price in each.prices)
    assert int(found[2]) == sold
    assert 0 < int(found[1]) <= sold and int(found[1]) >= silver  # 38.40 to 50 moves every price of silver
    assert (looking.root / "metal_prices.csv").read_bytes() == before


def test_a_metal_may_be_typed_as_it_is_shown(looking):
    form = looking.get("/metal?metal=Ag").text
    assert 'name="metal" value="Silver (Ag)"' in form and '<option value="Gold (Au)">' in form
    assert (
        looking.post("/metal/moves", {**TYPED, "metal": "Silver (Ag)"}).text == looking.post("/metal/moves", TYPED).text
    )


def test_the_terminal_tells_the_same_of_a_price_that_is_not_written(looking, troytag):
    before = (looking.root / "metal_prices.csv").read_bytes()
    said = troytag("metal", looking.root, "add", "Ag", "50", "--date", "2026-11-20", "--dry-run")
    flowing = " ".join(said.out.split())
    assert said.code == 0 and "Nothing was written." in flowing
    page = looking.post("/metal/moves", TYPED).words
    for pattern in (
        r"The cost of \d+ of \d+ variants moves, by \S+ % to \S+ %\.",
        r"\d+ of \d+ asked prices would move",
    ):
        assert re.search(pattern, page)[0].replace("\N{MINUS SIGN}", "-") == re.search(pattern, flowing)[0]
    assert (looking.root / "metal_prices.csv").read_bytes() == before


def test_the_same_price_moves_nothing(looking):
    assert "0 of " in looking.post("/metal/moves", TYPED | {"price": "38.40"}).words


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"price": "heavy"}, "price:"),
        ({"price": "-3"}, "price:"),
        ({"date": "tomorrow"}, "date:"),
        ({"per": "stone"}, "per:"),
        ({"date": "2026-11-21"}, "It counts from 2026-11-21 on"),
        ({"date": "2026-11-19"}, "A newer quote is in force"),
        ({"metal": "Unobtainium"}, "No variant is priced by Unobtainium"),
        ({"metal": "USD", "per": "unit", "currency": "EUR"}, "the workshop counts in GBP"),
        ({"price": ""}, "Type a price"),
    ],
)
def test_what_cannot_be_told_is_said(looking, other, words):
    assert words in looking.post("/metal/moves", TYPED | other).words


def test_a_price_is_added_as_it_was_typed(served):
    file = served.root / "metal_prices.csv"
    before = file.read_text()
    answer = served.post("/metal", TYPED | {"price": "41.50"})
    assert (answer.status, answer.headers["location"]) == (303, "/metal?metal=Ag")
    assert file.read_text() == before + "2026-11-20,Ag,41.50,ozt,USD,by phone\n"
    assert "Added: Silver (Ag) 41.50 USD per ozt of 2026-11-20." in served.get("/metal").words


def test_a_slip_is_told_beside_its_field_and_nothing_is_written(served):
    file = served.root / "metal_prices.csv"
    before = file.read_text()
    answer = served.post("/metal", TYPED | {"price": "4x"})
    assert answer.status == 422 and 'id="trouble-price"' in answer.text and 'value="by phone"' in answer.text
    jump = served.post("/metal", TYPED | {"price": "384"})  # ten times 38.40
    asked = "384 USD per ozt is 10 times the last quote, 38.40 USD per ozt of 2026-11-20. If it is right, say so below."
    assert jump.status == 422 and asked in jump.words
    assert file.read_text() == before
    assert served.post("/metal", TYPED | {"price": "384", "sure": "yes"}).status == 303


@pytest.mark.parametrize("fields", [{"nonsense": "1"}, dict.fromkeys(TYPED, ""), dict.fromkeys(TYPED, " ")])
def test_a_price_of_which_nothing_is_said_is_told(served, fields):
    before = (served.root / "metal_prices.csv").read_bytes()
    answer = served.post("/metal", fields)
    assert answer.status == 422 and "price is missing" in answer.words
    assert (served.root / "metal_prices.csv").read_bytes() == before


@pytest.mark.parametrize(
    ("other", "words"),
    [
        # 1 USD is 0.79 GBP on that day: 38.40 USD are 30.336 GBP, and 384 GBP are 12.66 times as many
        ({"price": "384", "currency": "GBP"}, "384 GBP per ozt is 12.7 times the last quote, 38.40 USD per ozt"),
        ({"currency": "UYU"}, "Silver (Ag) is told in UYU, of which no exchange rate is known"),
        ({"metal": "Agg"}, 'no alloy is valued by "Agg", and it was never quoted. Did you mean "Ag"? If not, say so'),
    ],
)
def test_another_currency_and_an_unknown_metal_are_doubted_as_on_the_terminal(served, troytag, other, words):
    file = served.root / "metal_prices.csv"
    before = file.read_text()
    typed = TYPED | {"price": "38.40"} | other
    answer = served.post("/metal", typed)
    assert answer.status == 422 and words in answer.words
    said = {"--per": "per", "--currency": "currency", "--date": "date"}
    options = [each for option, key in said.items() for each in (option, typed[key])]
    asked = troytag("metal", served.root, "add", typed["metal"], typed["price"], *options)
    assert asked.code == 2 and words.removesuffix(", say so") in asked.err.replace("\n", " ")
    assert file.read_text() == before
    assert served.post("/metal", typed | {"sure": "yes"}).status == 303


def test_a_line_cannot_be_smuggled_in(served):
    served.post("/metal", TYPED | {"price": "41", "source": 'x\n2026-11-20,Au,1,ozt,USD,"evil'})
    quotes = cost(served.root, asked_for(DAY)).folder.stated.quotes
    assert [each.price for each in quotes if each.metal == "Au" and each.date == DAY] == [3300.0]


def test_prices_are_pulled_from_the_maker_s_own_sources(served):
    assert "Pull today" not in served.get("/metal").words
    (served.root / "silver.json").write_text('{"silver": 39.25}')
    with (served.root / "workshop.toml").open("a") as file:
        file.write(
            '\n[sources.workspace]\nmetal = "Ag"\nper = "ozt"\ncurrency = "USD"\n'
            'file = "silver.json"\njson_path = "silver"\n'
        )
    assert "Or ask your sources: workspace." in served.get("/metal").words
    assert served.post("/metal/pull").status == 303
    assert "workspace: Silver (Ag) 39.25 USD per ozt" in served.get("/metal").words
    assert (served.root / "metal_prices.csv").read_text().splitlines()[-1].startswith("2026-11-20,Ag,39.25,ozt,USD")
    served.post("/metal/pull")
    assert "workspace: nothing new" in served.get("/metal").words
    (served.root / "silver.json").write_text('{"silver": 392.5}')  # ten times as much: a slip
    served.post("/metal/pull")
    assert "Added" not in (told := served.get("/metal").words) and "workspace: " in told
    assert "392.5" not in (served.root / "metal_prices.csv").read_text()


def test_a_history_that_is_a_link_out_of_the_folder_is_not_written(served):
    """As every other file of the folder: neither by typing a price nor by pulling one."""
    file, outside = served.root / "metal_prices.csv", served.root.parent / "elsewhere.csv"
    file.rename(outside)
    file.symlink_to(outside)
    (served.root / "silver.json").write_text('{"silver": 39.25}')
    with (served.root / "workshop.toml").open("a") as workshop:
        workshop.write('\n[sources.mine]\nmetal = "Ag"\nper = "ozt"\ncurrency = "USD"\n'
                       'file = "silver.json"\njson_path = "silver"\n')  # fmt: skip
    before = outside.read_bytes()
    told = "metal_prices.csv: this is a link that leads out of the folder, and nothing was written"
    answer = served.post("/metal", TYPED | {"price": "39.10"})
    assert answer.status == 422 and f"Nothing was added. {told}" in answer.words and 'value="39.10"' in answer.text
    assert told.partition(": ")[2] in served.post("/metal/pull").words
    assert outside.read_bytes() == before and file.is_symlink()
