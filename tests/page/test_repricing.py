"""Repricing: verdicts and reasons, the waterfall, the maker's word, publishing what was looked at."""

from __future__ import annotations

import re
import shutil
from datetime import date

import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import newest, numbers
from pricing.model.channel import Reprice
from pricing.page.plot import waterfall
from pricing.shown import Shown
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.publishing.outlook import outlook
from pricing.studies.publishing.rates_moved import rates_moved
from pricing.studies.repricing.reprice import PriceInForce, RepricedRow, reprice
from pricing.studies.repricing.told import reason_sentence
from tests.folders import small_sample
from tests.page.served import DAY

KNOB = {"sku": "acorn-knob", "alloy": "sterling", "channel": "shop"}


@pytest.fixture(scope="module")
def first_edition(tmp_path_factory):
    """The editions of a folder whose first one is of June."""
    root = small_sample(tmp_path_factory.mktemp("first") / "fernhollow")
    publish_prices(reprice(cost(root, asked_for(date(2026, 6, 1))), None))
    return root / "editions"


@pytest.fixture
def published(served, first_edition):
    """The page of a folder with that edition."""
    shutil.copytree(first_edition, served.root / "editions")
    return served


def say(page, word: str, **other: str):
    """The maker's word for the knob, sent with what the row shows."""
    text = page.get("/reprice?kind=all").text
    row = next(
        each for each in text.split('<tr role="row"') if all(f'value="{part}"' in each for part in KNOB.values())
    )
    shown = re.search(r'name="shown" value="([^"]*)"', row)[1]
    return page.post("/reprice/word", KNOB | {"shown": shown, "word": word} | other)


def counts(words: str) -> dict[str, int]:
    return {word: int(number) for number, word in re.findall(r"(\d+)\s+(raise|lower|new|hold)\b", words)}


def test_without_an_edition_every_price_is_new(looking):
    costing = cost(looking.root, asked_for(DAY))
    sold = sum(price.sold for each in costing.computed.resolved.variants for price in each.prices)
    answer = looking.get("/reprice?kind=all")
    assert "No edition is published yet." in answer.words
    assert f"{sold} new." in answer.words
    assert 'data-head="your word"' not in looking.get("/reprice").text  # nothing stands below such a head


def test_a_rate_that_moves_what_a_channel_asks_is_told_on_the_page(published):
    """The sample asks abroad in dollars: 0.79 GBP on the page's day, 0.8135 on the day of the edition in force."""
    (moved,) = rates_moved(reprice(cost(published.root, asked_for(DAY)), newest(published.root)))
    assert moved.sentence.startswith("abroad: asked in USD, and 1 USD is 0.79 GBP, 0.8135 on 2026-06-01: ")
    assert f"{moved.sentence}." in published.get("/reprice").words


def test_the_first_publishing(served):
    mark = served.get("/reprice").value_of("mark")
    assert served.post("/reprice/publish", {"mark": mark, "sure": "yes"}).status == 303
    assert "Published: edition 1 of 2026-11-20." in served.get("/reprice").words
    costing = cost(served.root, asked_for(DAY))
    prices = {
        (each["sku"], each["alloy"], each["channel"]): each["price"] for each in newest(served.root).content["prices"]
    }
    for row, variant in enumerate(costing.computed.resolved.variants):
        for column, price in enumerate(variant.prices):
            if price.sold:
                assert prices[variant.sku, variant.alloy, price.channel] == costing.computed["price"][row, column]


def test_the_rows_are_those_of_the_study(published):
    found = reprice(cost(published.root, asked_for(DAY)), newest(published.root))
    answer = published.get("/reprice?kind=all")
    for verdict in ("raise", "lower", "hold"):
        assert counts(answer.words).get(verdict, 0) == sum(row.verdict == verdict for row in found.rows)
    row = next(row for row in found.rows if (row.sku, row.alloy, row.channel) == tuple(KNOB.values()))
    assert f"{row.held:,.2f} earns" in answer.words and f"{row.asked:,.2f} for" in answer.words


def test_why_adds_up(published):
    answer = published.get("/reprice/why?" + "&".join(f"{name}={value}" for name, value in KNOB.items()))
    assert 'role="img"' in answer.text and "<desc" in answer.text
    rows = re.findall(r'<tr><th scope="row">([^<]*)</th><td class="num">([^<]*)</td></tr>', answer.text)
    amounts = [float(amount.replace("\N{MINUS SIGN}", "-").replace(",", "")) for _, amount in rows]
    assert rows[0][0] == "on 2026-06-01" and rows[-1][0] == "now"
    assert amounts[0] + sum(amounts[1:-1]) == pytest.approx(amounts[-1], abs=1e-9)


def test_the_bars_of_a_waterfall_begin_at_zero():
    """10, 2 more, 3 less: 9. On one scale from zero a bar is as long as its amount, whole bars and steps alike."""
    fall = waterfall(
        "", ("then", 10.0), [("silver", 2.0), ("rent", -3.0)], ("now", 9.0), lambda amount, signed=False: ""
    )
    one = fall.steps[0].width / 10
    assert [round(step.width / one, 1) for step in fall.steps] == [10, 2, 3, 9]
    assert fall.steps[0].x == fall.steps[-1].x and fall.steps[1].x == pytest.approx(fall.steps[0].x + 10 * one, abs=0.2)


RULES = {"keep_within": 0.04, "least_margin": 0.12, "largest_step": 0.1, "days_between": 30}


@pytest.mark.parametrize(
    ("reason", "margins", "said"),
    [
        ("within", (0.30, 0.332), "Earns 30 %, 3.2 points under what your policy asks for; your rule lets 4 pass."),
        ("beyond", (0.30, 0.372), "Earns 30 %, 7.2 points under what your policy asks for, and your rule lets only 4"),
        ("below_least", (0.116, 0.2), "Earns 11.6 %; your least in this channel is 12 %, so it moves at once."),
        ("waits", (0.3, 0.4), "but it was set on 2026-06-01, and your rule leaves 30 days between two changes: until "
         "2026-07-01."),
        ("too_coarse", (0.3, 0.4), "one step of rounding is more than 10 %, the largest change that your rule allows."),
        ("kept", (0.3, 0.4), "Your word: it stays as it is."),
    ],
)  # fmt: skip
def test_a_reason_is_a_sentence_with_the_rule_in_it(looking, reason, margins, said):
    """Of a rise from 100 to 115: 33.2 - 30 is 3.2 points; a month of 30 days from 1 June ends on 1 July."""
    stated = cost(looking.root, asked_for(DAY)).folder.stated
    shop = stated.channels["shop"].model_copy(update={"reprice": Reprice(**RULES)})
    row = RepricedRow("thimble", "sterling", "shop", "raise", reason, PriceInForce(100.0, date(2026, 6, 1), 1),
                      margins[0], 115.0, margins[1], 110.0, 0.35, stepped=reason == "beyond")  # fmt: skip
    told = reason_sentence(row, stated.model_copy(update={"channels": {"shop": shop}}), Shown("GBP"))
    assert said in told
    assert ("Of the way 5.00 are left, since no step is larger than 10 %." in told) == (reason == "beyond")  # 115 - 110


def test_accept_hold_and_take_back(published):
    found = reprice(cost(published.root, asked_for(DAY)), newest(published.root))
    row = next(row for row in found.rows if (row.sku, row.alloy, row.channel) == tuple(KNOB.values()))
    answer = say(published, "accept")
    assert f"to {row.asked:,.2f}" in answer.words and "Your word: what is asked." in answer.words
    assert "Publish 1 change as a new edition" in answer.words
    assert "Nothing to publish" in say(published, "hold").words
    assert "Nothing to publish" in say(published, "").words


def test_what_was_accepted_is_published_and_nothing_else(published):
    answer = say(published, "accept")
    before = {
        (each["sku"], each["alloy"], each["channel"]): each["price"]
        for each in newest(published.root).content["prices"]
    }
    assert published.post("/reprice/publish", {"mark": answer.value_of("mark"), "sure": "yes"}).status == 303
    after = {
        (each["sku"], each["alloy"], each["channel"]): each["price"]
        for each in newest(published.root).content["prices"]
    }
    assert [name for name in after if after[name] != before[name]] == [tuple(KNOB.values())]
    assert published.app.state.workspace.words == {}


def test_publishing_asks_with_what_it_would_change(published):
    answer = say(published, "accept")
    asked = published.post("/reprice/publish", {"mark": answer.value_of("mark")})
    assert asked.status == 200 and "Publish these prices?" in asked.words
    found = reprice(cost(published.root, asked_for(DAY)), newest(published.root), {tuple(KNOB.values()): "accept"})
    assert all(sentence in asked.words for sentence in outlook(found).sentences(Shown("GBP")))
    assert numbers(published.root) == [1]
    fields = {name: asked.value_of(name) for name in ("mark", "sure")}
    assert published.post("/reprice/publish", fields).status == 303 and numbers(published.root) == [1, 2]


def test_a_list_that_changed_meanwhile_is_not_published(published):
    mark = published.get("/reprice").value_of("mark")
    say(published, "accept")  # in another tab
    answer = published.post("/reprice/publish", {"mark": mark, "sure": "yes"})
    assert answer.status == 409 and "Something changed since you looked" in answer.words
    prices = published.root / "metal_prices.csv"
    mark = published.get("/reprice").value_of("mark")
    prices.write_text(prices.read_text() + "2026-11-20,Ag,60,ozt,USD,an editor\n")
    assert published.post("/reprice/publish", {"mark": mark, "sure": "yes"}).status == 409
    assert numbers(published.root) == [1]


def test_a_word_for_figures_that_have_changed_is_not_taken(published):
    """The row is looked at; then silver moves; then the word comes: it was for other figures."""
    seen = re.search(r'name="shown" value="([^"]*)"', say(published, "").text)[1]
    prices = published.root / "metal_prices.csv"
    prices.write_text(prices.read_text() + "2026-11-20,Ag,60,ozt,USD,an editor\n")
    answer = published.post("/reprice/word", KNOB | {"shown": seen, "word": "accept"})
    assert answer.status == 409 and "These figures changed since you looked" in answer.words
    assert published.app.state.workspace.words == {}
    again = re.search(r'name="shown" value="([^"]*)"', answer.text)[1]
    assert again != seen
    assert published.post("/reprice/word", KNOB | {"shown": again, "word": "accept"}).status == 200


@pytest.mark.parametrize("path", ["/metal", "/metal/moves", "/reprice/word", "/reprice/publish", "/design/save",
                                  "/design/form", "/design/answer", "/design/work", "/design/mesh",
                                  "/edit-save/alloys.toml", "/edit-save/alloys.toml"])  # fmt: skip
@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data; boundary=x; charset=nix",
                                  "multipart/form-data", "text/plain"])  # fmt: skip
def test_an_empty_form_is_told(looking, path, kind):
    answer = looking.post(path, {}, Content_Type=kind)
    assert answer.status == 400 and ("came empty" in answer.words or "could not be understood" in answer.words)


@pytest.mark.parametrize("fields", [{"mark": ""}, {"mark": "0" * 32}])
def test_without_the_mark_nothing_is_published(published, fields):
    assert published.post("/reprice/publish", fields).status == 409
    assert numbers(published.root) == [1]


def test_a_price_that_is_not_there(published):
    assert published.post("/reprice/word", KNOB | {"sku": "nothing", "word": "accept"}).status == 404
    assert published.get("/reprice/why?sku=nothing").status == 404


@pytest.mark.parametrize(
    "query", ["kind=moves", "kind=evil", "channel=shop", "channel=evil", "query=knob", "number=999"]
)
def test_any_choice_is_answered(published, query):
    assert published.get(f"/reprice?{query}").status == 200


def test_a_lost_edition_is_told_and_nothing_is_published_over_it(published):
    publish_prices(reprice(cost(published.root, asked_for(date(2026, 6, 2))), newest(published.root)))
    (published.root / "editions" / "000001.json").unlink()
    say(published, "accept")
    answer = published.get("/reprice")
    assert "edition 1 is missing" in answer.words
    told = published.post("/reprice/publish", {"mark": answer.value_of("mark"), "sure": "yes"})
    assert told.status == 409 and "Nothing is published." in told.words
    assert numbers(published.root) == [2]
    (published.root / "editions" / "000002.json").unlink()
    assert "editions 1 to 2 are missing, and HEAD names 2 as the newest" in published.get("/reprice").words


def test_a_day_to_come_is_not_published_from_the_page(served):
    """`page --as-of` with a mistyped year would stand in the way of every later edition."""
    served.app.state.workspace.as_of = date(2062, 11, 20)
    told = served.post("/reprice/publish", {"mark": served.get("/reprice").value_of("mark"), "sure": "yes"})
    assert told.status == 409 and "2062-11-20 lies" in told.words
    assert numbers(served.root) == []
