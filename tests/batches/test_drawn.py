"""A batch and what it takes from the drawer are one change; the command line writes cards down."""

from __future__ import annotations

import json
import os
import tomllib
from concurrent.futures import ThreadPoolExecutor
from datetime import date
from shutil import copytree

import pytest

from pricing.batches.adding import casting_masses, computed_on, metal_of_the_day, told_apart, write_batch
from pricing.batches.model import Card, Flask, Metal, Pieces
from pricing.batches.read import LOG, read_log
from pricing.drawer.adding import write_entry
from pricing.drawer.model import Entry, Line
from pricing.drawer.on_hand import OnHand, on_hand, read_drawer
from pricing.drawer.read import STOCK, read_every_entry
from pricing.errors import TroytagError, UsageFault
from pricing.folder.read import read_folder
from pricing.kept.chain import chain_faults
from tests.batches.test_cards import CARD
from tests.cli.conftest import troytag
from tests.folder.workshops import Change, changed, write

__all__ = ["troytag"]
DAY = date(2026, 11, 20)
METAL = {"sterling": Metal(buy_price_per_g=1.2, lemel_price_per_g=0.6, melt_loss=0.01)}


def card(**more) -> Card:
    flask = Flask(alloy="sterling", fresh_g=100.0, back_g=40.0, castings_g=53.0, rejected_g=6.0, lemel_g=2.5)
    return Card(**{"day": DAY, "flasks": (flask,), **more})


@pytest.fixture
def root(tmp_path):
    """A drawer with 250 g that had cost 250."""
    line = Line(what="bought", alloy="sterling", form="fresh", grams=250.0, money=250.0)
    write_entry(tmp_path, Entry(day=DAY, lines=(line,), currency="GBP"))
    return tmp_path


def test_a_batch_draws_on_the_drawer_and_brings_back(root):
    batch, entry = write_batch(root, card(), "GBP", METAL, draws=True)
    assert (batch.number, entry.number, entry.batch) == (1, 2, 1)
    assert on_hand(root) == {"sterling": OnHand(150.0, 46.0, 2.5)}
    lemel = read_drawer(root).of("sterling", "lemel")
    assert lemel.cost_paid == pytest.approx(2.5 * 0.6)
    assert read_drawer(root).of("sterling", "returned").cost_paid == pytest.approx(46)  # at 1.00 a gram
    assert chain_faults(root, LOG) == chain_faults(root, STOCK) == []


def test_what_a_batch_took_is_corrected_by_the_batch_alone(root):
    write_batch(root, card(), "GBP", METAL, draws=True)
    taken = read_every_entry(root)[-1].number
    before = on_hand(root)
    with pytest.raises(UsageFault, match=f"entry {taken} belongs to batch 1 of the log. Correct that one"):
        write_entry(root, Entry(day=DAY, currency="GBP", corrects=taken))
    assert on_hand(root) == before


def test_a_corrected_batch_corrects_what_it_took_and_a_struck_out_one_takes_nothing(root):
    write_batch(root, card(), "GBP", METAL, draws=True)
    flask = card().flasks[0].model_copy(update={"fresh_g": 120.0, "back_g": 60.0})
    write_batch(root, card(flasks=(flask,), corrects=1), "GBP", METAL, draws=True)
    assert on_hand(root) == {"sterling": OnHand(130.0, 66.0, 2.5)}
    assert [batch.number for batch in read_log(root)] == [2]
    write_batch(root, Card(day=DAY, corrects=2), "GBP", {}, draws=False)
    assert on_hand(root) == {"sterling": OnHand(250.0, 0.0, 0.0)} and read_log(root) == ()
    with pytest.raises(UsageFault, match="batch 1 was corrected by 2 already. Correct that one"):
        write_batch(root, card(corrects=1), "GBP", METAL, draws=True)


def test_log_and_drawer_that_were_not_brought_over_together_are_told(root, tmp_path_factory):
    write_batch(root, card(), "GBP", METAL, draws=False)
    write_batch(root, card(), "GBP", METAL, draws=True)
    write_batch(root, card(), "GBP", METAL, draws=True)
    write_batch(root, card(note="again", corrects=2), "GBP", METAL, draws=True)
    write_batch(root, Card(day=DAY, corrects=3), "GBP", METAL, draws=True)
    assert told_apart(root) == []
    parts = {}
    for folder in ("log", "stock"):
        parts[folder] = tmp_path_factory.mktemp(folder)
        copytree(root / folder, parts[folder] / folder)
    (batch,), (entry,) = told_apart(parts["log"]), told_apart(parts["stock"])
    assert (batch.place.file, batch.problem.split(",")[0]) == (
        "log/000004.json", "batch 4 took its metal from the drawer"
    )  # fmt: skip
    assert "entry 4 is what batch 4 took, and the log has no such batch" in entry.problem


def test_a_batch_that_takes_nothing_leaves_the_drawer_alone(root):
    assert write_batch(root, card(), "GBP", METAL, draws=False)[1] is None
    assert on_hand(root)["sterling"].fresh_g == 250


@pytest.mark.parametrize("refused", range(4))
def test_where_the_disk_refuses_half_way_neither_stands(root, monkeypatch, refused):
    """Four files: the batch, the entry, and the HEAD of each; the disk refuses to put one of them in place."""
    before = {path.name: path.read_bytes() for path in sorted(root.rglob("*")) if path.is_file()}
    link, replace, done = os.link, os.replace, []

    def counting(put):
        def put_or_refuse(source, target, **more):
            if not str(target).endswith(".unfinished-change.json") and not str(source).endswith(".json"):
                done.append(target)
                if len(done) == refused + 1:
                    raise OSError(5, os.strerror(5))
            return put(source, target, **more)

        return put_or_refuse

    monkeypatch.setattr(os, "link", counting(link))
    monkeypatch.setattr(os, "replace", counting(replace))
    with pytest.raises(TroytagError, match="a batch could not be written .*nothing is added"):
        write_batch(root, card(), "GBP", METAL, draws=True)
    monkeypatch.undo()
    assert len(done) > refused
    assert {path.name: path.read_bytes() for path in sorted(root.rglob("*")) if path.is_file()} == before
    write_batch(root, card(), "GBP", METAL, draws=True)
    assert chain_faults(root, LOG) == chain_faults(root, STOCK) == []


def test_two_writers_who_meet_both_stand(root, monkeypatch):
    """Another program, where there are no locks, writes between our look and our writing: ours is refused."""
    import pricing.kept.writing as writing

    look_over, met = writing.look_over, []

    def meanwhile(folder, series):
        chain = look_over(folder, series)
        if not met:
            met.append(True)
            monkeypatch.setattr("pricing.several_files.only_writer", lambda _: __import__("contextlib").nullcontext())
            write_batch(root, card(note="theirs"), "GBP", METAL, draws=False)
        return chain

    monkeypatch.setattr(writing, "look_over", meanwhile)
    monkeypatch.setattr("pricing.several_files.only_writer", lambda _: __import__("contextlib").nullcontext())
    with pytest.raises(TroytagError, match="log/000001.json was written meanwhile by another program"):
        write_batch(root, card(note="ours"), "GBP", METAL, draws=True)
    write_batch(root, card(note="ours"), "GBP", METAL, draws=True)
    assert [batch.note for batch in read_log(root)] == ["theirs", "ours"]
    assert on_hand(root)["sterling"].fresh_g == 150


def test_of_four_who_write_at_once_every_batch_stands_with_what_it_took(root):
    with ThreadPoolExecutor(4) as writers:
        done = list(writers.map(lambda note: write_batch(root, card(note=note), "GBP", METAL, draws=True), "abcdefgh"))
    assert sorted(batch.number for batch, _ in done) == list(range(1, 9))
    assert {batch.note: batch.number for batch, _ in done} == {batch.note: batch.number for batch in read_log(root)}
    assert [entry.batch for entry in read_every_entry(root)[1:]] == list(range(1, 9))
    assert chain_faults(root, LOG) == chain_faults(root, STOCK) == []


def test_of_four_who_correct_one_batch_at_once_one_does(root):
    write_batch(root, card(), "GBP", METAL, draws=True)

    def corrected(note: str) -> str:
        try:
            return str(write_batch(root, card(note=note, corrects=1), "GBP", METAL, draws=True)[0].number)
        except UsageFault as told:
            return str(told)

    with ThreadPoolExecutor(4) as writers:
        said = sorted(writers.map(corrected, "abcd"))
    assert said == ["2", *["batch 1 was corrected by 2 already. Correct that one."] * 3]
    assert len(read_log(root)) == 1 and on_hand(root)["sterling"].fresh_g == 150


def test_check_reads_the_log_and_the_drawer(troytag, tmp_path):
    folder = write(tmp_path / "shop", changed(Change("alloys.toml", 'mark = "925"', 'mark = "925"\nunpriced = ["Cu"]')))
    write_batch(folder, card(), "GBP", METAL, draws=True)
    sound = troytag("check", folder)
    assert sound.code == 0 and "of fresh sterling 100.00 g more were taken" in " ".join(sound.err.split())
    (folder / "log" / "000001.json").write_text("{}")
    told = troytag("check", folder)
    assert told.code == 1 and "log/000001.json this batch is torn or is none" in told.out


def test_the_metal_of_the_day_is_what_the_history_said_then(tmp_path):
    """Silver at 38.40 USD an ounce, a dollar at 0.79 GBP, on 2026-11-20; before that day nothing was quoted."""
    unpriced = Change("alloys.toml", 'mark = "925"', 'mark = "925"\nunpriced = ["Cu"]')
    folder = read_folder(write(tmp_path, changed(unpriced)))
    found = metal_of_the_day(card(), folder.stated, computed_on(folder, DAY))["sterling"]
    assert found.buy_price_per_g == pytest.approx(0.925 * 38.40 / 31.1034768 * 0.79)
    assert found.melt_loss == 0.01
    assert computed_on(folder, date(2026, 11, 19)) is None
    assert metal_of_the_day(card(), folder.stated, None)["sterling"].buy_price_per_g is None
    # two knobs of 2.31 cm3 at 10.36 g/cm3 a pair
    assert casting_masses(computed_on(folder, DAY))["acorn-knob", "sterling"] == pytest.approx(2.31 * 10.36)


def test_the_command_line_writes_a_card_down(troytag, tmp_path):
    folder = write(tmp_path / "shop", changed())
    (tmp_path / "card.toml").write_text(CARD)
    said = troytag("log", folder, "add", tmp_path / "card.toml")
    assert said.code == 0 and "sterling: 2.00 g of 160.00 g are missing" in said.out
    assert "as was expected" in " ".join(said.out.split())  # 12 g of 400 g of brass, at a melt loss of 3 %
    refused = troytag("log", folder, "add", "--alloy", "sterling", "--fresh", "100", "--back", "40", "--castings", "20",
                      "--piece", "acorn-knob=18", "--reject", "acorn-knob:pour=2")  # fmt: skip
    missing = "40.00 g of the 100.00 g of the charge are missing. If it is right, add --yes"
    assert refused.code == 2 and missing in " ".join(refused.err.split())
    short = " ".join(troytag("log", folder, "add", "--alloy", "sterlin", "--fresh=-1", "--castings", "20").err.split())
    assert "--fresh: -1 is below 0" in short and "--back: back_g is missing" in short and "flasks[0]" not in short
    assert json.loads(troytag("log", folder, "list", "--json").out)[0]["balance"][0]["missing_g"] == pytest.approx(2)
    assert "18 started" not in troytag("log", folder, "show", "1").out and read_every_entry(folder) == ()
    assert troytag("log", folder, "strike", "1").out == "Batch 1 is struck out.\n"
    assert "No batch is written down" in troytag("log", folder).out


def test_what_cannot_be_is_asked_again_so_that_nothing_typed_is_lost(tmp_path, monkeypatch):
    from pricing.cli.commands import log_asked

    answers = iter(
        ["2026-11-32", "2026-11-20", "sterlin", "sterling", "16,5", "110", "50", "70.5", "78", "9.5", "0", "acorn-kno",
         "acorn-knob", "0", "18", "por", "pour", "19", "2", "", "", "pour", "12", "", "cold"]
    )  # fmt: skip
    said: list[str] = []
    monkeypatch.setattr(log_asked.typer, "prompt", lambda *_, **__: next(answers))
    monkeypatch.setattr(log_asked.typer, "echo", said.append)
    typed = log_asked.asked(read_folder(write(tmp_path, changed())).stated, None)
    assert next(answers, None) is None
    assert said == [
        '"2026-11-32" is no date. Write it as 2026-11-20.'.replace("2026-11-20", date.today().isoformat()),
        'Did you mean "sterling"?', "Write a number, with a point.", 'Did you mean "acorn-knob"?',
        "Write a number from 1 to 100000.", 'Did you mean "pour"?', "Write a number from 0 to 18.",
    ]  # fmt: skip
    assert (typed.pieces, typed.rejects, typed.minutes) == (["acorn-knob=18"], ["acorn-knob:pour=2"], ["pour=12"])


def test_a_piece_is_typed_with_its_size_as_a_card_says_it(tmp_path, monkeypatch):
    from pricing.cli.commands import log_add, log_asked

    sizes = 'sold_in = ["shop", "trade"]\n[sizes]\nlengths = { S = 160, M = 175 }\nmaster = "M"'
    ring = Change("products/acorn-knob.toml", 'sold_in = ["shop", "trade"]', sizes)
    folder = read_folder(write(tmp_path, changed(ring)))
    answers = iter(
        ["2026-11-20", "sterling", "70.73 dwt", "0", "40", "65", "0", "0", "acorn-knob", "L", "M", "4", "pour", "1", "",
         "acorn-knob", "S", "2", "", "", "", ""]
    )  # fmt: skip
    monkeypatch.setattr(log_asked.typer, "prompt", lambda *_, **__: next(answers))
    monkeypatch.setattr(log_asked.typer, "echo", lambda _: None)
    typed = log_asked.asked(folder.stated, None)
    assert next(answers, None) is None
    assert (typed.pieces, typed.rejects) == (["acorn-knob:M=4", "acorn-knob:S=2"], ["acorn-knob:M:pour=1"])
    (flask,) = log_add._of_options(typed, folder).flasks
    assert [(each.size, each.started, each.good, each.rejected) for each in flask.pieces] == [
        ("M", 4, 3, {"pour": 1}), ("S", 2, 2, {})
    ]  # fmt: skip
    assert flask.fresh_g == pytest.approx(70.73 * 24 * 0.06479891)  # 24 grains a pennyweight


def test_the_command_line_sets_standard_against_actual_and_margins_at_what_was_paid(troytag, tmp_path):
    unpriced = Change("alloys.toml", 'mark = "925"', 'mark = "925"\nunpriced = ["Cu"]')
    folder = write(tmp_path / "shop", changed(unpriced))
    line = Line(what="bought", alloy="sterling", form="fresh", grams=1000.0, money=700.0)
    write_entry(folder, Entry(day=DAY, lines=(line,), currency="GBP"))
    pieces = Pieces(sku="acorn-knob", started=18, good=16, rejected={"pour": 2})
    flask = Flask(alloy="sterling", fresh_g=800.0, back_g=360.0, castings_g=382.0, rejected_g=48.0, pieces=(pieces,))
    write_batch(folder, Card(day=DAY, flasks=(flask,), minutes={"pour": 20.0}), "GBP", METAL, draws=True)
    found = json.loads(troytag("log", folder, "variance", "--json").out)
    assert sum(found["causes"].values()) == pytest.approx(found["actual"] - found["standard"], abs=1e-9)
    metal = next(each for each in found["lines"] if each["of"] == "sterling")
    assert metal["actual"] == pytest.approx((800 - 360 - 48) * 0.70)
    assert found["left_out"] == [] and {each["channel"] for each in found["margins"]} == {"shop", "trade"}
    shown = troytag("log", folder, "variance").out
    assert "in all" in shown and "really" in shown and max(map(len, shown.splitlines())) <= 80
    assert len(troytag("log", folder, "variance", "--csv").out.splitlines()) == 1 + 2
    paid = {
        (each["alloy"], each["channel"]): each for each in json.loads(troytag("stock", folder, "margins", "--json").out)
    }
    assert {alloy for alloy, _ in paid} == {"sterling"}  # of brass nothing lies there
    assert all(each["other_margin"] > each["margin"] for each in paid.values())  # paid 0.70, to be had at 0.90
    assert "No batch of that time" in troytag("log", folder, "variance", "--from", "2026-11-21").out


def test_the_card_of_a_planned_pour_is_filled_in_and_written_down(troytag, tmp_path):
    unpriced = Change("alloys.toml", 'mark = "925"', 'mark = "925"\nunpriced = ["Cu"]')
    folder = write(tmp_path / "shop", changed(unpriced))
    blank = troytag("log", folder, "blank", "--want", "acorn-knob:sterling=2").out
    said = tomllib.loads(blank)["flasks"][0]
    (pieces,) = said["pieces"]
    charge, made = said["fresh_g"] + said["returned_g"], pieces["started"]
    weight = made * 2.31 * 10.36  # as cast, by the sample's volume and density
    assert (pieces["sku"], said["alloy"]) == ("acorn-knob", "sterling") and made >= 4 and charge > weight
    filled = blank.replace("good = 0", f"good = {made}").replace("castings_g = 0.00", f"castings_g = {weight:.2f}")
    filled = filled.replace("back_g = 0.00", f"back_g = {0.99 * charge - weight:.2f}")
    (tmp_path / "card.toml").write_text(filled)
    assert "as was expected of the melt" in " ".join(troytag("log", folder, "add", tmp_path / "card.toml").out.split())
