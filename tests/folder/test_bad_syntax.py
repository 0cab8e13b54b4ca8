"""Files that are not TOML: what the parser stumbles over, told in a maker's words at the place where to look."""

from __future__ import annotations

import pytest

from pricing.errors import Faults
from pricing.folder.toml.places import Document
from pricing.folder.toml.syntax import document
from tests.folder.telling import check_told
from tests.folder.workshops import Change, changed, faults_of, write

WORKSHOP = "workshop.toml"
ALLOYS = "alloys.toml"
PROCESSES = "processes.toml"
KNOB = "products/acorn-knob.toml"

COMMENT = 'Put it on a line of its own, or begin a comment with "#".'
HEADER = 'Close it, and write names with blanks in quotes: [a."b c"].'
QUOTES = "Put the same quotes behind it as before it."
NEITHER = 'this is neither a key with a value nor a header. Write key = value, [table], or begin a comment with "#".'


@pytest.mark.parametrize(
    ("file", "old", "new", "told"),
    [
        (WORKSHOP, "rate = 24.0", "rate = ▶24,0", "this is no value. Write the number with a point: 24.0."),
        (WORKSHOP, "rate = 24.0", "rate = ▶24 %", "this is no value. Write a fraction: 0.24."),
        (WORKSHOP, "rate = 24.0", "rate = ▶2.5%", "this is no value. Write a fraction: 0.025."),
        (WORKSHOP, "rate = 24.0", "rate = ▶.5", "this is no value. Write a digit before the point: 0.5."),
        (WORKSHOP, "rate = 24.0", "rate = ▶5.", "this is no value. Write a digit behind the point: 5.0."),
        (WORKSHOP, "rate = 24.0", "rate = ▶£24", "this is no value. Write the number alone: 24."),
        (WORKSHOP, "rate = 24.0", "rate = ▶yes", "this is no value. Write true."),
        (WORKSHOP, "rate = 24.0", "rate = ▶No", "this is no value. Write false."),
        (WORKSHOP, "rate = 24.0", "rate = ▶True", "this is no value. Write true in small letters."),
        (WORKSHOP, "rate = 24.0", "rate = ▶bench", 'this is no value. Text stands in quotes: "bench".'),
        (WORKSHOP, '"Fernhollow Castings"', "▶“Fernhollow Castings”",
         'the quotes here are curly ones. Write straight ones: "…".'),
        (WORKSHOP, "[labour.bench]", "[labour.▶“bench”]", 'the quotes here are curly ones. Write straight ones: "…".'),
        (WORKSHOP, "rate = 24.0", "rate = ▶−24.0",
         "the minus sign here is not the plain one. Write the one of the keyboard: -."),
        (WORKSHOP, "rate = 24.0", "rate = ▶*",
         'this is no value. Write a number, true, false, or text in quotes: "…".'),
        (WORKSHOP, "rate = 24.0", "rate = ▶2026-13-01",
         "this is no value. Write a day of the calendar, as 2026-11-20."),
        (WORKSHOP, "rate = 24.0", "rate = ▶2026-02-30",
         "there is no such day or time. Write a day of the calendar, as 2026-11-20."),
        (WORKSHOP, "rate = 24.0", "rate = ▶",
         "the value is missing. Write one after the equals sign, or take the key out."),
        (WORKSHOP, "rate = 24.0", "rate = ▶# per hour",
         "the value is missing. Write one after the equals sign, or take the key out."),
        (WORKSHOP, "rate = 24.0", "rate = ▶" + "9" * 5000,
         "this number has too many digits. Write a shorter one."),
        (WORKSHOP, "rate = 24.0", "rate = 24.0 ▶per hour", f"there is more on the line than one value. {COMMENT}"),
        (WORKSHOP, "rate = 24.0", "rate ▶24.0",
         "an equals sign is missing after the key. "
         'Write key = value, and a key with blanks in quotes: "key with blanks" = 1.'),
        (WORKSHOP, "rate = 24.0", "rate = 24.0\n▶<<<<<<< mine", NEITHER),
        (WORKSHOP, "rate = 24.0", "rate = 24.0\n▶= 3", NEITHER),
        (WORKSHOP, "rate = 24.0", "▷rate = 24.0\n▶rate = 25.0", "this key is there twice. Keep one of the two."),
        (WORKSHOP, "[labour.bench]\nrate = 24.0", "▷[labour.bench]\nrate = 24.0\n▶[labour.bench]\non_cost = 0.1",
         "the name of this table is taken already. "
         "Put all of it under one header; of several alike, each has double brackets: [[a.b]]."),
        (PROCESSES, '[[processes.cast]]\nname = "model"\nper = "design"\nlabour = "bench"\nminutes = 300\n[[processes',
         '▷[processes.cast]\nname = "model"\n▶[[processes',
         "the name of this table is taken already. "
         "Put all of it under one header; of several alike, each has double brackets: [[a.b]]."),
        (WORKSHOP, "[labour.bench]", "[labour.bench▶", f"the header is not closed. {HEADER}"),
        (KNOB, "[steps.darken]", "[steps.burn ▶out]", f"the header is not closed. {HEADER}"),
        (WORKSHOP, '"Fernhollow Castings"', '"Fernhollow Castings▶', f"the text is not closed. {QUOTES}"),
        (WORKSHOP, '"Fernhollow Castings"', "▶'Fernhollow Castings", f"the text is not closed. {QUOTES}"),
        (WORKSHOP, '"Fernhollow Castings"', '▶"""Fernhollow Castings"', f"the text is not closed. {QUOTES}"),
        (WORKSHOP, '"Fernhollow Castings"', '"Fernhollow▶\\Castings"',
         "a backslash begins a special sign here. Write two backslashes for one, or use a slash in file names."),
        (ALLOYS, "Ag = 0.925, Cu = 0.075 }", "Ag = 0.925 ▶Cu = 0.075 }",
         "the braces are not closed, or a comma is missing. "
         'Write commas between the keys and "}" after them, all on one line.'),
        (ALLOYS, "Ag = 0.925, Cu = 0.075 }", "Ag = 0.925, Cu = 0.075▶",
         "the braces are not closed, or a comma is missing. "
         'Write commas between the keys and "}" after them, all on one line.'),
        (ALLOYS, "Cu = 0.075 }", "Cu = 0.075, ▶}",
         "a key is missing here. Write one, or take out what leads to it."),
        (ALLOYS, "{ Ag = 0.925, Cu", "{ ▷Ag = 0.925, ▶Ag", "this key is there twice. Keep one of the two."),
        (KNOB, '"yellow-brass", "sterling"]', '"yellow-brass" ▶"sterling"]',
         'the list is not closed, or a comma is missing. Write commas between the items and "]" after them.'),
        (KNOB, '"yellow-brass", "sterling"]', '"yellow-brass", "sterling"▶',
         'the list is not closed, or a comma is missing. Write commas between the items and "]" after them.'),
    ],
)  # fmt: skip
def test_told_where_to_look(tmp_path, file, old, new, told):
    check_told(tmp_path, (Change(file, old, new),), told)


def test_a_header_for_what_braces_hold_already(tmp_path):
    check_told(
        tmp_path,
        (
            Change(ALLOYS, "{ Ag = 0.925", "▷{ Ag = 0.925"),
            Change(ALLOYS, "[alloys.yellow-brass]", "▶[alloys.sterling.composition]"),
        ),
        "the name of this table is taken already. "
        "Put all of it under one header; of several alike, each has double brackets: [[a.b]].",
    )


def test_a_sign_that_cannot_be_seen_is_shown_as_a_question_mark(tmp_path):
    (fault,) = faults_of(write(tmp_path, changed(Change(WORKSHOP, "Fernhollow", "Fern\x1b[31mhollow"))))
    assert str(fault) == (
        "workshop.toml:2:13 there is a sign here that cannot be seen. Take it out.\n"
        '     2 | name = "Fern?[31mhollow Castings"\n'
        "       |             ^"
    )


@pytest.mark.parametrize(
    ("new", "place"), [("rate\xa0= 24.0", "5:5"), ("rate =\xa024.0", "5:7"), ("\u2003rate = 24.0", "5:1")]
)
def test_a_blank_that_is_no_plain_one(tmp_path, new, place):
    (fault,) = faults_of(write(tmp_path, changed(Change(WORKSHOP, "rate = 24.0", new))))
    assert fault.headline() == f"workshop.toml:{place} the blank here is not a plain one. Write one with the space bar."


def test_a_sign_of_no_width_before_a_number(tmp_path):
    (fault,) = faults_of(write(tmp_path, changed(Change(WORKSHOP, "rate = 24.0", "rate = \u200b24.0"))))
    assert fault.headline() == "workshop.toml:5:8 there is a sign here that cannot be seen. Take it out."


def test_a_header_of_three_thousand_names(tmp_path):
    header = f"[{'.'.join(['a'] * 3000)}]\nb = 1\n"
    (fault,) = faults_of(write(tmp_path, changed(Change(KNOB, "[steps.darken]", header + "[steps.darken]"))))
    assert (fault.place.line, fault.place.column) == (13, 2)  # where the first name stands in the header
    assert fault.headline().startswith("products/acorn-knob.toml:13:2 this key has too many parts. ")


def test_brackets_in_brackets_without_end(tmp_path):
    (fault,) = faults_of(write(tmp_path, changed(Change(WORKSHOP, "rate = 24.0", "rate = " + "[" * 20_000))))
    assert str(fault) == "workshop.toml lists or braces stand in each other too deep. Write it flatter."


def test_a_percentage_in_braces_is_told_as_a_fraction():
    """15 % are 0.15."""
    text = 'fees = [{ name = "sale", rate = 15% }]\n'
    with pytest.raises(Faults) as found:
        document("channels.toml", text)
    (fault,) = found.value.faults
    assert (str(fault.place), fault.mend) == ("channels.toml:1:33", "Write 15 % as a fraction: 0.15.")


def test_of_many_repetitions_only_the_first_is_looked_up(monkeypatch):
    """On one line of half a megabyte each look takes a millisecond."""
    looked, look = [], Document._place_at
    monkeypatch.setattr(Document, "_place_at", lambda self, point: looked.append(point) or look(self, point))
    with pytest.raises(Faults, match=r"f.toml:1:11 this key is there twice"):
        document("f.toml", f"a = {{b=1, {', '.join(['b=1'] * 1000)}}}")
    assert len(looked) <= 4
