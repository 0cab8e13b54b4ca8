"""The log: what is written down is read again, corrections take the place of what they correct, damage is told."""

from __future__ import annotations

import json
import os
from datetime import date

import pytest

from pricing.batches.adding import write_card
from pricing.batches.model import Card, Flask, Metal, Pieces
from pricing.batches.read import log_faults, read_every_batch, read_log
from pricing.errors import Faults, TroytagError, UsageFault
from pricing.kept.canonical import canonical, digest


def card(day: str = "2026-11-20", **more) -> Card:
    pieces = Pieces(sku="acorn-knob", started=18, good=16, rejected={"pour": 2}, minutes={"fit": 40.0})
    flask = Flask(alloy="sterling", fresh_g=100.0, returned_g=60.0, back_g=70.5, castings_g=78.0, rejected_g=9.5,
                  pieces=(pieces,))  # fmt: skip
    return Card(day=date.fromisoformat(day), **{"flasks": (flask,), "minutes": {"pour": 12.0}, **more})


@pytest.fixture
def log(tmp_path):
    """Three batches; the second was corrected by the third, which is of another day."""
    metal = {"sterling": Metal(buy_price_per_g=0.8, melt_loss=0.01)}
    write_card(tmp_path, card("2026-11-20"), "GBP", metal)
    write_card(tmp_path, card("2026-11-22"), "GBP", metal)
    write_card(tmp_path, card("2026-11-18", corrects=2, note="the day was wrong"), "GBP", metal)
    return tmp_path


def path_of(root, number):
    return root / "log" / f"{number:06d}.json"


def told(root) -> list[str]:
    return [f"{fault.place}: {fault.problem}" for fault in log_faults(root)]


def test_what_is_written_down_is_read_again_by_day_and_corrections_count(log):
    assert [(batch.number, batch.day.day, batch.corrects) for batch in read_log(log)] == [(3, 18, 2), (1, 20, None)]
    assert [batch.number for batch in read_every_batch(log)] == [1, 2, 3]
    batch = read_log(log)[1]
    assert batch.flasks == card().flasks and batch.minutes == {"pour": 12.0}
    assert batch.metal["sterling"].buy_price_per_g == 0.8 and batch.currency == "GBP"
    assert sorted(path.name for path in (log / "log").iterdir()) == [
        "000001.json",
        "000002.json",
        "000003.json",
        "HEAD",
    ]
    assert told(log) == []


def test_a_batch_that_is_struck_out_does_not_count(log):
    write_card(log, Card(day=date(2026, 11, 23), corrects=3), "GBP")
    assert [batch.number for batch in read_log(log)] == [1]


def test_no_log_is_an_empty_log(tmp_path):
    assert read_log(tmp_path) == () and told(tmp_path) == []


@pytest.mark.parametrize(
    ("damage", "problem"),
    [
        (lambda path: path.write_bytes(path.read_bytes()[:100]), "log/000002.json: this batch is torn or is none"),
        (lambda path: path.write_bytes(path.read_bytes().replace(b"70.5", b"71.5")),
         "log/000002.json: this batch is not as it was written"),
        (lambda path: path.unlink(), "log: batch 2 is missing"),
        (lambda path: path.write_bytes(b"{" * 5_000_000),
         "log/000002.json: this batch cannot be read: this file has more than 4 MiB"),
        (lambda path: (path.unlink(), os.mkfifo(path)),
         "log/000002.json: this batch cannot be read: this is no plain file"),
        (lambda path: (path.unlink(), path.symlink_to("/dev/zero")),
         "log/000002.json: this batch cannot be read: this is no plain file"),
        (lambda path: path.with_name("000002 (copy).json").write_bytes(path.read_bytes()),
         "log/000002 (copy).json: this is batch 2 once more, the same in every byte"),
    ],
)  # fmt: skip
def test_damage_is_told_and_nothing_is_added_to_it(log, damage, problem):
    damage(path_of(log, 2))
    assert problem in told(log)
    with pytest.raises(Faults, match=problem.partition(": ")[2]):
        read_log(log)


def test_a_batch_hashed_anew_by_somebody_who_knows_how_is_told_with_the_place(log):
    said = json.loads(path_of(log, 3).read_bytes())["batch"]
    said["flasks"][0]["back_g"] = "much"
    path_of(log, 3).write_bytes(canonical({"batch": said, "sha256": digest(said)}))
    (log / "log" / "HEAD").unlink()  # else that tells already
    (fault,) = log_faults(log)
    assert (fault.key, fault.problem) == (
        "flasks[0].back_g",
        "its hash is right, and no program of ours has written this",
    )


def test_over_a_gap_it_goes_on_only_where_it_shall(log):
    path_of(log, 3).unlink()
    with pytest.raises(TroytagError, match="batch 3 is missing.*\n.*Nothing is added"):
        write_card(log, card(), "GBP")
    assert write_card(log, card(), "GBP", over_gap=True).number == 4
    assert told(log) == []


def test_a_head_that_is_behind_is_written_anew_with_the_next_batch(log):
    """As where a synced drive has brought an older one; who adds holds the folder, and must not wait for himself."""
    behind = json.loads(path_of(log, 2).read_bytes())["sha256"]
    (log / "log" / "HEAD").write_bytes(canonical({"number": 2, "sha256": behind}))
    assert write_card(log, card(), "GBP").number == 4
    assert json.loads((log / "log" / "HEAD").read_bytes())["number"] == 4 and told(log) == []


def test_a_torn_head_is_told_and_written_anew(log):
    (log / "log" / "HEAD").write_bytes(b"{")
    assert told(log) == ["log/HEAD: this file is torn; it names the newest batch"]
    write_card(log, card(), "GBP")
    assert told(log) == []


def test_without_a_folder_nothing_is_written(tmp_path):
    with pytest.raises(UsageFault, match="there is no such folder"):
        write_card(tmp_path / "none", card(), "GBP")


@pytest.mark.parametrize(
    ("wrong", "problem"),
    [
        ({"started": 17}, "17 were started, and good and rejected add up to 18"),
        ({"started": 0, "good": 0, "rejected": {}}, "nothing was begun with"),
    ],
)
def test_counts_that_do_not_add_up_are_told(wrong, problem):
    with pytest.raises(ValueError, match=problem):
        Pieces(**{"sku": "acorn-knob", "started": 18, "good": 16, "rejected": {"pour": 2}, **wrong})
