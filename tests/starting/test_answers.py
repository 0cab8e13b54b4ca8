"""Answers: understood in one way, and every slip told with its place and its mend."""

from __future__ import annotations

import tomllib

import pytest

from pricing.errors import Faults, UsageFault
from pricing.meshes.measuring import volume_and_area
from pricing.starting.answers import EVERYTHING, Of, Slip, answered, read_answers, understood
from pricing.starting.in_words import taken, to_fill_in, usual
from pricing.starting.library import Library
from pricing.starting.questions import questions
from tests.meshes.boxes import box, stl

LIBRARY = Library()


def question(key, **said):
    return next(each for each in questions(LIBRARY, said) if each.key == key)


@pytest.mark.parametrize(
    ("key", "typed", "is_"),
    [
        ("hours", "12.5", 12.5),
        ("hours", 168, 168.0),
        ("rent", 120_000_000, 1.2e8),  # in some moneys
        ("hours", 12, 12.0),
        ("hours", "?", None),
        ("hours", "", None),
        ("hours", "I don't know", None),
        ("tax", "20 %", 0.2),
        ("tax", "0", 0.0),
        ("pieces", "40 of 46", Of(40, 46)),
        ("pieces", "40/46", Of(40, 46)),
        ("metals", "sterling, copper", ("sterling", "copper")),
        ("metals", ["sterling"], ("sterling",)),
        ("machines", "kiln = 1200, tumbler", {"kiln": 1200.0, "tumbler": None}),
        ("machines", {"kiln": 900}, {"kiln": 900.0}),
        ("machines", [], {}),
        ("assay", "y", True),
        ("assay", False, False),
        ("flask", "small", "small"),
    ],
)
def test_what_is_understood(key, typed, is_):
    found = understood(question(key), typed)
    assert (dict(found) if isinstance(is_, dict) else found) == is_


@pytest.mark.parametrize(
    ("key", "typed", "problem", "mend"),
    [
        ("hours", "12,5", '"12,5" is no number', "Write 12.5."),
        ("hours", "many", '"many" is no number', "Write it plain, as 12.50."),
        ("hours", 0, "0 cannot be", "Write a number above 0."),
        ("hours", "-5", "-5 cannot be", "Write a number above 0."),
        ("hours", 168.5, "168.5 cannot be", "Write 168 or less."),  # 7 × 24
        ("hours", 2e8, "200,000,000 cannot be", "Write 168 or less."),
        ("rent", -3, "-3 cannot be", "Write 0 or more."),
        ("rent", "2e12", '"2e12" is no number', "Write it plain, as 12.50."),
        ("rent", 2e12, "2,000,000,000,000 cannot be", "Write 1,000,000,000,000 or less."),
        ("rent", 1e99, "1e+99 cannot be", "Write 1,000,000,000,000 or less."),
        ("hours", True, '"True" is no number', "Write it as 12.50."),
        ("price-Ag", "0", "0 cannot be", "Write a number above 0."),  # the price history has none of nothing
        ("tax", 20, "20 is more than the whole", 'Write 0.2, or "20 %".'),
        ("currency", "gbp", '"gbp" is no currency', 'Did you mean "GBP"?'),
        ("metals", "sterlin", 'there is no "sterlin" here', 'Did you mean "sterling"?'),
        ("metals", {"sterling": 3}, "this is no list of names", 'Write it as ["one", "another"].'),
        ("machines", "kiln = dear", 'kiln: "dear" is no number', "Write it plain, as 12.50."),
        ("pieces", "46 of 40", "46 of 40 cannot be", 'Write the good ones first: "40 of 46".'),
        ("pieces", 40, '"40" does not say how many of how many', 'Write it as "40 of 46".'),
        ("assay", "perhaps", '"perhaps" is neither yes nor no', 'Write "yes" or "no".'),
        ("piece", " Ring", "' Ring' is no name", "Write 1 to 120 letters on one line, without blanks at its ends."),
        ("hours", 10**400, "this is larger than anything in a workshop", "Look it up again."),
        ("rent", -(10**400), "this is larger than anything in a workshop", "Look it up again."),
        ("hours", 5e-324, "this is smaller than anything in a workshop", "Look it up again."),
        ("piece-file", 10**400, "a number of this size is no file", 'Write its name: "knob.stl".'),
        ("tax", "x" * 5000, f'"{"x" * 59}…" is no number', "Write it plain, as 12.50."),
        ("flask", "huge", 'there is no "huge" here', 'Known: "small", "medium", "large", "tall".'),
    ],
)
def test_what_is_not(key, typed, problem, mend):
    assert understood(question(key), typed) == Slip(problem, mend)


def test_what_nobody_answers_is_refused_in_a_short_sentence():
    digits = "9" * 5000  # more than Python turns into a number, or a number into text
    for each in questions(LIBRARY, EVERYTHING[1]):
        for typed in (10**6000, [10**6000], {"a": 10**6000}, digits, f"3 of {digits}", 1e-320):
            slip = understood(each, typed)
            assert isinstance(slip, Slip) and len(slip.problem) < 120, (each.key, slip)


def test_an_answer_leads_to_further_questions():
    keys = {each.key for each in questions(LIBRARY, {})}
    assert not {"registered", "abroad", "rate", "piece-of", "piece-way"} & keys
    assert {"flask", "price-Ag", "price-brass-grain"} <= keys
    assert "registered" in {each.key for each in questions(LIBRARY, {"tax": 0.2})}
    assert {"abroad", "rate"} <= {each.key for each in questions(LIBRARY, {"channels": ("abroad",)})}
    bought = {each.key for each in questions(LIBRARY, {"ways": ("castings-bought",), "metals": ("pewter",)})}
    assert not {"flask", "flasks", "assay", "price-Ag"} & bought and "price-pewter-ingot" in bought


def test_the_price_of_a_metal_is_asked_in_the_workshop_s_money():
    silver = question("price-Ag", currency="EUR")
    assert (silver.unit, silver.words) == ("EUR per ozt", "What silver costs today, without tax")
    assert question("rate", currency="EUR", channels=("abroad",)).guess == 0.885  # 1.15 / 1.3, to three figures


def test_every_slip_of_a_file_is_told_with_its_place(tmp_path):
    file = tmp_path / "answers.toml"
    file.write_text('curency = "GBP"\nmetals = ["sterlin"]\nrate = 0.8\n\nhours = "12,5"\ncolour = "red"\n')
    with pytest.raises(Faults) as told:
        read_answers(file)
    said = [(fault.place.line, fault.key, fault.mend) for fault in told.value.faults]
    assert said == [
        (1, "curency", 'Did you mean "currency"?'),
        (2, "metals", 'Did you mean "sterling"?'),
        (3, "rate", "Leave it out, or look at what the others say."),
        (5, "hours", "Write 12.5."),
        (6, "colour", told.value.faults[-1].mend),
    ]
    known = said[-1][2].removeprefix("Known: ").split(", ")
    assert len(known) == len(set(known)) > 5  # each once, though it is asked here and elsewhere


@pytest.mark.parametrize("content", [b"\xff\xfe", None])
def test_a_file_that_cannot_be_read(tmp_path, content):
    if content is not None:
        (tmp_path / "answers.toml").write_bytes(content)
    with pytest.raises(UsageFault, match="cannot be read"):
        read_answers(tmp_path / "answers.toml")


def test_a_mesh_is_named_from_where_the_answers_lie(tmp_path):
    stl(tmp_path, box(20.0), name="knob.stl")
    (tmp_path / "answers.toml").write_text('piece-file = "knob.stl"\n')
    path = read_answers(tmp_path / "answers.toml").said["piece-file"]
    assert volume_and_area(path).volume_cm3 == pytest.approx(8)  # 2 cm each way
    (tmp_path / "answers.toml").write_text('piece-file = "none.stl"\n')
    with pytest.raises(Faults, match=r"none\.stl"):
        read_answers(tmp_path / "answers.toml")


def test_the_file_to_fill_in_asks_every_question_and_takes_what_it_shows(tmp_path):
    text = to_fill_in()
    keys = {each.key for said in EVERYTHING for each in questions(LIBRARY, said)}
    for key in keys:
        assert f"# {key} = " in text
    lines = [line[2:] for line in text.splitlines() if " = " in line and line.startswith("# ") and line[2].isalpha()]
    examples = tomllib.loads("\n".join(line for line in lines if line.partition(" = ")[0] in keys))
    assert set(examples) == keys
    del examples["piece-file"]
    found = answered(examples)
    assert not found.slips


def test_every_question_says_what_is_usual_or_what_is_taken():
    for each in questions(LIBRARY, EVERYTHING[0]):
        assert usual(each, LIBRARY) or taken(each, LIBRARY) not in ("", "None"), each.key
