"""What the commands say where editions are lost, forged, or of a day that is still to come."""

from __future__ import annotations

import json
import shutil
from datetime import date, timedelta

import pytest

from pricing.costing import asked_for, cost
from pricing.editions.chain import read
from pricing.kept.canonical import canonical, digest
from pricing.studies.publishing.new_edition import publish_prices
from pricing.studies.repricing.reprice import reprice
from tests.folders import tin_lane

DAY = ("--as-of", "2026-11-20")
LATER = ("--as-of", "2026-11-21")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return shutil.copytree(tin_lane(), tmp_path / "tin-lane").relative_to(tmp_path)


@pytest.fixture(scope="module")
def of_both_days(tmp_path_factory):
    """The workshop with two editions: of the 20th, and of the 21st with silver at 60 USD/ozt."""
    root = shutil.copytree(tin_lane(), tmp_path_factory.mktemp("both") / "tin-lane")
    first = publish_prices(reprice(cost(root, asked_for(date(2026, 11, 20))), None))
    with (root / "metal_prices.csv").open("a") as prices:
        prices.write("2026-11-21,Ag,60.00,ozt,USD,a test\n")
    words = {("reed-pin", "silver-925", None): "accept"}
    publish_prices(reprice(cost(root, asked_for(date(2026, 11, 21))), first, words))
    return root


@pytest.fixture
def published(folder, of_both_days):
    """The same, to be spoilt."""
    shutil.copytree(of_both_days, folder, dirs_exist_ok=True)
    return folder


def forge(folder, number: int, change, form: int) -> None:
    """An edition of that form, changed and hashed anew by somebody who knows how."""
    path = folder / "editions" / f"{number:06d}.json"
    whole = json.loads(path.read_bytes())["edition"]
    if form == 1:  # all in words, figures of no use
        whole = {**read(folder, number).content, "figures": dict.fromkeys(whole["figures"], [None]), "form": 1}
    change(whole)
    path.write_bytes(canonical({"edition": whole, "sha256": digest(whole)}))
    (folder / "editions" / "HEAD").unlink(missing_ok=True)


def test_a_day_to_come_is_published_only_when_it_is_said(folder, troytag):
    """A year that was mistyped would keep every later publishing from being done."""
    ahead = date.today() + timedelta(days=400)
    ran = troytag("reprice", folder, "--as-of", ahead, "--publish")
    assert ran.code == 1 and f"{ahead} lies 400 days ahead" in ran.err and "add --ahead" in ran.err
    tomorrow = date.today() + timedelta(days=1)
    ran = troytag("reprice", folder, "--as-of", tomorrow, "--publish")
    assert ran.code == 1 and f"{tomorrow} lies 1 day ahead" in ran.err
    assert not (folder / "editions").exists()
    assert troytag("reprice", folder, "--as-of", date.today(), "--publish").code == 0
    assert troytag("reprice", folder, "--as-of", ahead, "--publish", "--ahead").code == 0


def test_a_lost_newest_edition_is_told_by_every_command(published, troytag):
    (published / "editions" / "000002.json").unlink()
    for words in (
        ("check", published, *LATER),
        ("editions", published),
        ("editions", published, "show"),
        ("editions", published, "on", "2026-11-25"),
        ("reprice", published, *LATER),
        ("reprice", published, *LATER, "--publish"),
        ("study", published, "breakeven", *LATER),
        ("export", published, "list", *LATER, "--to", "list.html"),
    ):
        ran = troytag(*words)
        assert ran.code == 1, words
        assert "edition 2 is missing, and HEAD names 2 as the newest" in " ".join((ran.out + ran.err).split()), words
    # Of which day it was is lost with it: it may have been of the 20th, too.
    assert troytag("editions", published, "on", "2026-11-20").code == 1
    ran = troytag("editions", published, "show", "1")
    assert ran.code == 0 and "Edition 1, in force from 2026-11-20" in ran.out and "edition 2 is missing" in ran.err


def test_over_a_gap_it_is_published_when_it_is_said(published, troytag):
    (published / "editions" / "000002.json").unlink()
    ran = troytag("reprice", published, *LATER, "--accept", "reed-pin:silver-925", "--publish", "--over-gap")
    assert ran.code == 0, ran.err
    kept = read(published, 3).content
    assert {price["set_in"] for price in kept["prices"] if price["verdict"] != "hold"} == {3}
    ran = troytag("check", published, *LATER)
    assert ran.code == 0 and "edition 2 is missing; 3 was published over the gap" in " ".join(ran.err.split())


def test_a_gap_in_the_midst_does_not_stand_in_the_way_of_looking(published, troytag):
    (published / "editions" / "000001.json").unlink()
    ran = troytag("reprice", published, *LATER)
    assert ran.code == 0 and "edition 1 is missing" in ran.err
    assert troytag("editions", published, "list").code == 1
    assert troytag("editions", published, "show", "2").code == 0
    assert "edition 1 is missing" in troytag("editions", published, "on", "2026-11-20").err


@pytest.mark.parametrize(
    ("what", "change"),
    [
        ("a formula that is none", lambda said: said["formulas"][0].update(formula="1 +* 2")),
        ("a formula nested deeply", lambda said: said["formulas"][0].update(formula="(" * 5000 + ")" * 5000)),
        ("needs that are none", lambda said: said["formulas"][5].update(needs=[["a"]])),
        ("a path to nowhere", lambda said: said["formulas"][5].update(needs=[["a", "b", "c", "d", None, None]])),
        ("no figures", lambda said: said.update(figures={})),
        ("figures of another length", lambda said: said.update(figures=dict.fromkeys(said["figures"], [1.0]))),
        ("figures that are words", lambda said: said.update(figures=dict.fromkeys(said["figures"], ["dear"]))),
        ("tables without rows", lambda said: [each.update(rows=[]) for each in said["inputs"]["tables"].values()]),
        ("tables of something else", lambda said: said["inputs"].update(tables=[])),
        ("heads of something else", lambda said: said["inputs"].update(rows={"variants": 3})),
        ("variants that nobody made", lambda said: said["variants"][0].update(sku="moon", prices={})),
        ("packed numbers that are too few", lambda said: said["numbers"].update(count=7)),
        ("packed prices of a channel that is none", lambda said: said["prices"].update(channels=[])),
    ],
)
def test_a_forged_edition_is_told_and_no_command_breaks(published, troytag, what, change):
    forge(published, 2, change, 2 if what.startswith("packed") else 1)
    for words in (
        ("check", published, *LATER),
        ("editions", published, "list"),
        ("editions", published, "show"),
        ("editions", published, "show", "2", "--show-work"),
        ("editions", published, "show", "2", "--json"),
        ("editions", published, "show", "2", "--csv"),
        ("editions", published, "compare", "1", "2"),
        ("editions", published, "compare", "2", "1"),
        ("reprice", published, *LATER, "--all", "--json"),
        ("study", published, "breakeven", *LATER),
        ("export", published, "list", *LATER, "--to", "list.html", "--force"),
    ):
        ran = troytag(*words)  # it raises whatever the command line would end with as a traceback
        assert ran.code in (0, 1, 2), (what, words)
    ran = troytag("editions", published, "show", "2", "--show-work")
    assert "editions/000002.json" in ran.err or ran.code == 0
