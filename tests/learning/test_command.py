"""An autumn at Harbour Lane: ten pours logged, learned from, written, and repriced by them."""

from __future__ import annotations

import json

from tests.cli.conftest import troytag as troytag  # the fixture
from tests.learning.harbour import write_folder, write_log

DAY = ("--as-of", "2026-11-20")


def test_a_makers_autumn(troytag, tmp_path):
    root = write_folder(tmp_path)
    write_log(root)
    assert troytag("reprice", root, "--publish", *DAY).code == 0

    said = json.loads(troytag("log", root, "learn", "--json", *DAY).out)
    assert not (root / "doubts.toml").exists()
    minutes = next(each for each in said["figures"] if each["figure"] == "processes.cast.file.minutes")
    assert (minutes["stated"], minutes["batches"], minutes["proposed"]) == (5, 9, 6.7)

    assert minutes["words"] == "cast, file: minutes each time"
    named = troytag("log", root, "learn", "--only", minutes["words"], *DAY).out
    assert f"{minutes['words']}\n  {minutes['figure']}\n  stated 5;" in named

    applied = troytag("log", root, "learn", "--apply", *DAY)
    assert applied.code == 0 and "stated 5; seen 7 in 9 batches; now 6.7" in applied.out
    assert "processes.cast[2].minutes  5 -> 6.7" in applied.out
    assert "5 -> 6.7\n    (cast, file: minutes each time, for 2 products that take it from here)\n" in applied.out
    assert "(Book clasp: sprues to a gram of castings)" in applied.out
    assert "Written: alloys.toml, processes.toml, products/clasp.toml, doubts.toml." in applied.err
    assert "minutes = 6.7" in (root / "processes.toml").read_text()
    again = troytag("log", root, "learn", *DAY)
    assert "Of 7 figures it says nothing that was not learned before." in again.out

    repriced = troytag("reprice", root, *DAY)
    assert "4 prices: 4 to raise." in repriced.out
    assert "labour +" in repriced.out and "fractions good +" in repriced.out


def test_words_that_are_off(troytag, tmp_path):
    root = write_folder(tmp_path)
    nothing = troytag("log", root, "learn", *DAY)
    assert nothing.code == 0 and "Nothing in it speaks of a figure" in nothing.out
    assert troytag("log", root, "learn", "--half-life", "0").code == 2
    unknown = troytag("log", root, "learn", "--only", "processes.cast.pour.good")
    assert unknown.code == 2 and 'the log says nothing new of "processes.cast.pour.good"' in unknown.err
