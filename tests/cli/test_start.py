"""`troytag start`: a new folder that is in order at once, teaches, and never overwrites."""

from __future__ import annotations

import json
import os
import tomllib
from datetime import date
from pathlib import Path

import pytest
from jsonschema import Draft7Validator

from pricing.folder.files import FILES
from pricing.folder.read import read_folder
from pricing.folder.schema import editor_line, schema
from pricing.folder.write import Put, change_file
from pricing.starting import new_folder

NEW = """\
{0} is a workshop folder now.
What you did not tell is guessed, and says so: put your own in its place.

  workshop.toml                 hours, overhead, machines, materials, flasks
  metal_prices.csv              what metal cost, and when
  alloys.toml                   what is poured or cut
  processes.toml                how a piece is made, step by step
  products/first-piece.toml     what is made, a design in each
  channels.toml                 where it is sold, and what to ask
  refiners.toml                 what refiners pay for scrap
  doubts.toml                   how sure the figures are

{1} figures are guesses, each with its range in doubts.toml.

Next:
  troytag cost {0}         what it costs, and what to ask for it
  troytag page {0}         the same in a browser, to play with
  troytag study {0} doubt  which figures to measure first
  troytag add {0} product  the next design; alloy, process, channel too
  troytag check {0}        after every change
"""


@pytest.fixture(autouse=True)
def inside(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


def test_what_it_says(troytag):
    ran = troytag("start", "fern")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == NEW.format("fern", len(read_folder(Path("fern")).stated.doubts))


def test_whether_a_week_adds_up_is_asked_of_who_told_it(troytag, inside):
    (inside / "told.toml").write_text('pieces = "40 of 46"\n')
    said = troytag("start", "fern", "--answers", "told.toml").out
    assert "  troytag study fern week   whether it adds up to the week you told\n" in said
    assert troytag("study", "fern", "week").code == 0


@pytest.mark.parametrize("currency", ["GBP", "EUR", "JPY", "KWD"])
def test_the_new_folder_is_in_order_and_costed_without_a_note(troytag, currency):
    assert troytag("start", "fern", "--currency", currency, "--name", 'Fern "Hollow"').code == 0
    checked = troytag("check", "fern")
    assert (checked.code, checked.err) == (0, "")
    assert "2 variants" in checked.out
    said = json.loads(troytag("cost", "fern", "--json").out)
    assert (said["currency"], said["warnings"]) == (currency, [])
    assert {each["alloy"] for each in said["variants"]} == {"yellow-brass", "sterling"}
    assert all(prices["profit"] > 0 for each in said["variants"] for prices in each["prices"].values())
    assert read_folder(Path("fern")).stated.workshop.name == 'Fern "Hollow"'


def test_nothing_else_is_written_than_what_it_names(troytag, inside):
    troytag("start", "fern")
    found = {path.relative_to(inside / "fern").as_posix() for path in (inside / "fern").rglob("*") if path.is_file()}
    names = ("workshop", "alloys", "processes", "channels", "product", "refiners", "doubts")
    schemas = {f".schema/{name}.json" for name in names}
    assert found == {each.name.replace("*", "first-piece") for each in FILES} | schemas


def test_editors_find_the_schema_of_every_file_and_it_takes_them(troytag, inside):
    troytag("start", "fern")
    for path in sorted((inside / "fern").rglob("*.toml")):
        text = path.read_text(encoding="utf-8")
        line = text.split("\n")[0]
        assert line == editor_line(path.relative_to(inside / "fern").as_posix())
        found = json.loads((path.parent / line.removeprefix("#:schema ")).read_text(encoding="utf-8"))
        assert Draft7Validator(found).is_valid(tomllib.loads(text)), path.name
        kind = "product" if path.parent.name == "products" else path.stem
        assert found == schema(kind)


def test_every_key_is_explained_where_it_stands_first(inside):
    """By a remark behind it or right above it, or by its name in one of the file's remarks before it."""
    new_folder(inside / "fern", "Fern", "GBP", date(2026, 11, 20))
    for path in sorted((inside / "fern").rglob("*.toml")):
        seen: set[str] = set()
        remarks = above = ""
        for line in path.read_text(encoding="utf-8").splitlines():
            statement, _, remark = line.partition("#")
            key = statement.partition(" = ")[0]
            if " = " in statement and key not in seen and path.name != "doubts.toml":
                seen.add(key)
                assert remark or above.startswith("#") or key in remarks or key == "name", (path.name, line)
            remarks, above = remarks + remark, line


def test_lines_are_short_enough_to_be_read(inside):
    new_folder(inside / "fern", "Fern", "GBP", date(2026, 11, 20))
    for path in (inside / "fern").rglob("*.toml"):
        for line in path.read_text(encoding="utf-8").split("\n"):
            assert len(line) <= 120, (path.name, line)


def test_the_prices_are_of_today_and_the_folder_is_the_same_otherwise(inside):
    new_folder(inside / "one", "Fern", "GBP", date(2026, 11, 20))
    quotes = read_folder(inside / "one").stated.quotes
    assert {quote.date for quote in quotes} == {date(2026, 11, 20)}
    assert {quote.currency for quote in quotes} == {"GBP"}
    assert all(quote.source.startswith("A GUESS") for quote in quotes)


def test_it_can_be_written_back_to(inside):
    new_folder(inside / "one", "Fern", "GBP", date(2026, 11, 20))
    folder = read_folder(inside / "one")
    for file, hash_read in folder.hashes.items():
        if file.endswith(".toml"):
            assert (
                change_file(inside / "one", file, [Put((), folder.documents.by_file[file].values)], hash_read)
                == hash_read
            )


# ---- what it refuses


def test_nothing_is_overwritten(troytag, inside):
    (inside / "fern").mkdir()
    (inside / "fern" / "channels.toml").write_text("mine")
    ran = troytag("start", "fern")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == "fern/channels.toml stands already, and nothing was written. Name a new folder.\n"
    assert [path.name for path in (inside / "fern").rglob("*")] == ["channels.toml"]
    assert (inside / "fern" / "channels.toml").read_text() == "mine"


def test_a_folder_with_other_things_in_it_is_taken(troytag, inside):
    (inside / "fern" / "meshes").mkdir(parents=True)
    (inside / "fern" / "meshes" / "knob.stl").write_text("mine")
    assert troytag("start", "fern").code == 0
    assert (inside / "fern" / "meshes" / "knob.stl").read_text() == "mine"


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--currency", "gbp"), '"gbp" is no currency. Did you mean "GBP"?'),
        (("--currency", "Pounds"), '"Pounds" is no currency. Write its ISO 4217 code, such as "GBP".'),
        (("--name", " Fern"), "' Fern' is no name. Write 1 to 120 letters on one line, without blanks at its ends."),
        (("--name", ""), "'' is no name. Write 1 to 120 letters on one line, without blanks at its ends."),
        (("--name", "a\nb"), "'a\\nb' is no name. Write 1 to 120 letters on one line, without blanks at its ends."),
    ],
)
def test_words_that_are_off(troytag, inside, words, said):
    ran = troytag("start", "fern", *words)
    assert (ran.code, ran.out, ran.err) == (2, "", said + "\n")
    assert list(inside.iterdir()) == []


def test_a_file_of_that_name(troytag, inside):
    (inside / "fern").write_text("mine")
    assert troytag("start", "fern").err == "fern is a file. Name a folder.\n"


def test_a_full_disk_leaves_nothing_behind(troytag, inside, monkeypatch):
    written = []

    def full(handle):
        written.append(handle)
        if len(written) == 5:
            raise OSError(28, "No space left on device")

    monkeypatch.setattr("os.fsync", full)
    ran = troytag("start", "made/for/fern")
    assert ran.code == 2
    told = "cannot be written to (No space left on device), and nothing was. Name another folder."
    assert ran.err == f"{os.path.join('made', 'for', 'fern')} {told}\n"
    assert list(inside.iterdir()) == []


def test_a_name_from_the_folder(troytag):
    troytag("start", "tin-lane_works")
    assert read_folder(Path("tin-lane_works")).stated.workshop.name == "Tin Lane Works"


def test_a_path_with_a_blank_can_be_copied(troytag):
    out = troytag("start", "my shop").out
    assert "  troytag cost 'my shop'         what" in out
    for line in out.splitlines():
        assert len(line) <= 80
