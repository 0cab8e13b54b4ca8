"""Every question asked of tin lane: tables that line up, records of their figures, a picture that can be told."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import date, timedelta
from functools import cache

import pytest

from pricing.costing import asked_for
from pricing.errors import UsageFault
from pricing.folder.read import read_folder
from pricing.model.doubt import Doubt
from pricing.questions.every import QUESTIONS
from pricing.questions.model import Answer, Table
from pricing.questions.option import Refused
from pricing.questions.subject import Subject
from tests.cli.conftest import troytag as troytag
from tests.folders import tin_lane

#: What is said with each question that needs something.
SAID = {
    "doubt": {"draws": 64, "sku": ["harbour-set", "reed-pin"]},
    "week": {"years": 2.0, "sold": ["stall=2", "online=1"]},
    "quantity": {"sku": "lantern-studs", "alloy": "silver-925", "channel": "stall", "up_to": 12},
    "sale": {"off": 0.2},
    "alloy": {"sku": "harbour-set"},
    "map": {"sku": "harbour-set", "steps": 2},
    "mix": {"each": 3, "flasks": ["4"], "cash": 500.0, "shares": True, "rush": ["reed-pin:silver-925:online=4"]},
}


#: What the maker is not sure of.
DOUBTS = {
    "overhead.productive_hours": Doubt(low=80, high=110),
    "channels.stall.discount": Doubt(low=0.01, high=0.08),
}


@pytest.fixture(scope="module")
def subject() -> Subject:
    folder = read_folder(tin_lane())
    folder = replace(folder, stated=folder.stated.model_copy(update={"doubts": DOUBTS}))
    return Subject(folder, asked_for(date(2026, 11, 20)))


@pytest.fixture(scope="module")
def silver(tmp_path_factory):
    """Silver over two months; tin lane's own history tells of one day."""
    path = tmp_path_factory.mktemp("history") / "silver.csv"
    path.write_text("day,Ag\n2026-09-30,40\n2026-10-15,55\n2026-11-20,50\n", encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def long(tmp_path_factory):
    """Silver on every third day of two years, between 40 and 46."""
    path = tmp_path_factory.mktemp("history") / "long.csv"
    lines = [f"{date(2024, 10, 1) + timedelta(days=3 * each)},{40 + each * 5 % 7}" for each in range(256)]
    path.write_text("\n".join(["day,Ag", *lines]), encoding="utf-8")
    return path


@pytest.fixture(scope="module")
def answered(subject, silver, long):
    """Each question asked once for all tests that only look at its answer."""
    band = {"history": long, "channel": ["stall"]}
    said = {**SAID, "year": {"months": 2, "history": silver}, "band": band}
    return cache(lambda name: asked(subject, name, **said[name]))


def asked(subject: Subject, name: str, **said) -> Answer:
    options = {option.name: option.value_of([]) if not option.required else None for option in QUESTIONS[name].options}
    return QUESTIONS[name].answer(subject, {**options, **(said or SAID.get(name, {}))})


@pytest.mark.parametrize("name", QUESTIONS)
def test_tables_line_up_and_records_are_plain(answered, name):
    answer = answered(name)
    tables = [block for block in answer.blocks if isinstance(block, Table)]
    assert tables and answer.rows
    for table in tables:
        assert table.rows and {len(row) for row in table.rows} == {len(table.heads)}
        assert all(isinstance(cell, str) for row in table.rows for cell in row)
        assert all(0 <= place < len(table.rows) for place in table.strong)
    assert json.dumps([answer.document, *answer.rows], allow_nan=False)


@pytest.mark.parametrize("name", [name for name, question in QUESTIONS.items() if question.has_picture])
def test_every_picture_can_be_told_and_is_drawn(answered, name):
    answer = answered(name)
    assert answer.drawing is not None
    for drawing in (answer.drawing, *answer.also.values()):
        assert drawing.description
        svg = drawing.files(["svg"])["svg"].decode()
        assert 'role="img" aria-labelledby="title desc"' in svg and "<desc id=" in svg


def test_the_month_is_told_in_sentences(answered):
    said = " ".join(block for block in answered("mix").blocks if isinstance(block, str))
    document = answered("mix").document
    worth = next(each["worth"] for each in document["limits"] if each["kind"] == "hours")
    assert "There are 96.5 hours of your own, 4 flasks." in said
    assert worth == 0 or f"One more hour is worth {worth:,.2f}." in said
    assert f"one must fetch {document['rush'][0]['price']:,.2f} in online" in said
    assert document["leaves"] == pytest.approx(document["brings"] - 713.5)


def test_a_month_without_room_does_not_say_that_nothing_pays(subject):
    said = " ".join(block for block in asked(subject, "mix", each=0.0).blocks if isinstance(block, str))
    assert "Not one set fits the limits." in said and "Nothing of it brings" not in said


def test_grams_without_a_limit_of_cash_are_told_to_hold_nothing(subject):
    (first, *_) = asked(subject, "mix", grams=["brass=20"], shares=True, each=1.0, hours=["3"]).notes
    assert first.startswith("grams in the drawer hold nothing back")


def test_the_doubt_is_told_with_what_to_measure_first(answered):
    answer = answered("doubt")
    said = [block for block in answer.blocks if isinstance(block, str)]
    assert "\nMeasure these first:" in said  # some take ten minutes, some a week
    first, second = (each for each in said if each[1:3] in ("1.", "2."))
    assert first.startswith("\n1. overhead: productive hours, which moves prices by ")
    assert "stall: discount" in second or "nothing" in second
    hours, discount = answer.document["measure"]
    assert f"   {hours['measure']}" in said and hours["measure"].startswith("Note for one week")
    assert hours["moves_prices_by"] > discount["moves_prices_by"] > 0
    for row in answer.rows:
        assert row["unit_cost_p10"] < row["unit_cost_p50"] < row["unit_cost_p90"]
        assert row["margin_p10"] <= row["margin_p50"] <= row["margin_p90"]
        assert 0 <= row["chance_of_loss"] <= 1
    assert {row["figure"] for row in answer.document["shares"]} == {*DOUBTS}


@pytest.mark.parametrize(
    ("name", "said", "option", "sentence"),
    [
        ("quantity", {"sku": "lantern"}, "sku", 'no product "lantern"'),
        ("doubt", {"alloy": ["sterlin"]}, "alloy", 'no alloy "sterlin"'),
        ("quantity", {"channel": "shop"}, "channel", 'no channel "shop"'),
        ("map", {"steps": 1}, "steps", "--steps 1: write a number from 2 to"),
        ("mix", {"cash": -1.0}, "cash", "--cash -1: write 0 or more"),
        ("mix", {"rush": ["reed-pin=3"]}, "rush", "write SKU:ALLOY:CHANNEL=N"),
        ("sale", {"sku": ["reed"]}, "sku", 'no product "reed". Did you mean "reed-pin"'),
    ],
)
def test_a_mistake_names_its_option(subject, name, said, option, sentence):
    with pytest.raises(Refused, match=sentence) as refused:
        asked(subject, name, **SAID[name] | said)
    assert refused.value.option == option


def test_a_year_of_too_little_history_is_refused_with_what_is_lacking(subject, silver):
    with pytest.raises(UsageFault, match="begins on 2026-09-30, has none on or before 2025-12-01"):
        asked(subject, "year", months=12, history=silver)
    with pytest.raises(UsageFault, match="tells no day on which metal moved. Name a file with --history"):
        asked(subject, "year", months=1)


def test_the_command_of_the_month(troytag, tmp_path):
    words = (tin_lane(), "mix", "--as-of", "2026-11-20", "--each", "3", "--shares", "--hours", "bench=12")
    said = troytag("study", *words, "--json", "--plot", tmp_path / "month")
    assert said.code == 0 and (tmp_path / "month.svg").exists() and (tmp_path / "month.png").exists()
    document = json.loads(said.out)
    (hours,) = [each for each in document["limits"] if each["kind"] == "hours"]
    assert (hours["name"], hours["there_is"]) == ("bench", 12.0)
