"""Silver rises by 20 % overnight: the whole story through the command line, on a copy of the sample."""

from __future__ import annotations

import json
import os
import select
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from pricing.resources import sample_catalog
from tests.waiting import LONG

#: The sample's last quote of silver, 38.40 USD an ounce, times 1.2.
RISEN = "2026-11-21,Ag,46.08,ozt,USD,invented morning fix\n"


class Shell:
    """Runs `troytag` beside a folder, on a screen of 80 columns. What it says on stderr stays in `err`."""

    def __init__(self, folder: Path, troytag):
        self.folder, self.troytag = folder, troytag

    def __call__(self, *words: object, code: int = 0) -> str:
        ran = self.troytag(*words)
        assert ran.code == code, ran.err
        self.err = ran.err
        return ran.out


@pytest.fixture
def shell(tmp_path, monkeypatch, troytag) -> Shell:
    monkeypatch.chdir(tmp_path)
    return Shell(shutil.copytree(sample_catalog(), tmp_path / "fernhollow"), troytag)


def test_silver_rises_by_a_fifth_overnight(shell):
    # The prices of today become the first edition.
    said = shell("reprice", "fernhollow", "--as-of", "2026-11-20", "--publish")
    assert "No edition is published yet. 117 prices: 117 new." in said
    assert "Published: edition 1 of 2026-11-20." in said

    # Overnight silver rises.
    with (shell.folder / "metal_prices.csv").open("a", encoding="utf-8") as lines:
        lines.write(RISEN)
    told = json.loads(shell("reprice", "fernhollow", "--as-of", "2026-11-21", "--json"))
    assert told["edition_in_force"] == {"number": 1, "as_of": "2026-11-20"}
    assert told["published"] is None
    rows = {(row["sku"], row["alloy"], row["channel"]): row for row in told["rows"]}
    for (sku, alloy, _), row in rows.items():
        parts = {part["label"]: part["amount"] for part in row["unit_cost"]["because"]}
        change = row["unit_cost"]["after"] - row["unit_cost"]["before"]
        assert sum(parts.values()) == pytest.approx(change, abs=1e-9)
        holds_silver = alloy in ("sterling", "gold-9ct", "gold-14ct") or sku == "hare-pendant"
        assert set(parts) == ({"Silver (Ag)"} if holds_silver else set())
        if not parts:  # brass and bronze stay as they are
            assert (row["verdict"], row["price"]) == ("hold", row["in_force"])
    # Below its least margin of 12 % a price moves at once; the others wait for their 56 days to be over.
    knob = rows["acorn-knob", "sterling", "marketplace"]
    assert knob["margin_now"] < 0.12 and (knob["verdict"], knob["reason"]) == ("raise", "below_least")
    assert knob["in_force"] < knob["price"] <= knob["in_force"] * 1.12 + 1e-9
    waiting = rows["acorn-knob", "sterling", "shop"]
    assert waiting["margin_now"] < waiting["margin_asked"] - 0.04
    assert (waiting["verdict"], waiting["reason"]) == ("hold", "waits")

    # The maker decides one row otherwise, and publishes.
    said = shell(
        "reprice", "fernhollow", "--as-of", "2026-11-21", "--accept", "acorn-knob:sterling:shop", "--publish"
    )  # fmt: skip
    assert "a set costs" in said and ": Silver (Ag) +" in said
    assert "your word" in said
    assert "Published: edition 2 of 2026-11-21." in said
    assert [line.split()[:2] for line in shell("editions", "fernhollow").splitlines()[1:]] == [
        ["1", "2026-11-20"],
        ["2", "2026-11-21"],
    ]

    # Both editions stay, with their figures and their work.
    told = json.loads(shell("editions", "fernhollow", "compare", 1, 2, "--json"))
    moved = {
        (record["sku"], record["alloy"], price["channel"]): (price["before"], price["after"])
        for record in told["variants"]
        for price in record["prices"]
        if price["before"] != price["after"]
    }
    assert moved["acorn-knob", "sterling", "shop"] == (waiting["in_force"], waiting["asked"])
    assert moved["acorn-knob", "sterling", "marketplace"] == (knob["in_force"], knob["price"])
    first = json.loads(shell("editions", "fernhollow", "on", "2026-11-20", "--sku", "acorn-knob", "--json"))
    assert first["number"] == 1
    assert {price["price"] for price in first["prices"] if price["channel"] == "marketplace"} >= {knob["in_force"]}
    chosen = ("--sku", "acorn-knob", "--alloy", "sterling")
    work = shell("editions", "fernhollow", "show", 1, *chosen, "--show-work", "--of", "spot_per_g")
    assert "= 38.4 / 31.1035 * 0.79" in work
    assert "all in order" in shell("check", "fernhollow")

    # Nothing moves any more, and how far silver may go on rising is told.
    said = shell("reprice", "fernhollow", "--as-of", "2026-11-21", "--publish")
    assert "Nothing moves: edition 2 stays in force." in said or "Published: edition 3" in said
    said = shell("study", "fernhollow", "breakeven", "--as-of", "2026-11-21")
    assert "How far all metals may rise together" in said

    # The day of the first edition is changed by hand: both checks tell it, and nothing can be built on it unseen.
    path = shell.folder / "editions" / "000001.json"
    kept = path.read_text(encoding="utf-8")
    assert '"as_of": "2026-11-20"' in kept
    path.write_text(kept.replace('"as_of": "2026-11-20"', '"as_of": "2026-11-19"', 1), encoding="utf-8")
    assert "editions/000001.json this edition is not as it was published." in shell("check", "fernhollow", code=1)
    shell("editions", "fernhollow", "show", 1, code=1)
    assert "Put the file back from a backup" in shell.err


def test_a_price_is_decided_row_by_row_on_a_terminal(shell):
    """Enter takes the first as proposed, `h` holds the second, `q` leaves the rest as proposed, `y` publishes."""
    pty = pytest.importorskip("pty")
    shell("reprice", "fernhollow", "--as-of", "2026-11-20", "--publish")
    with (shell.folder / "metal_prices.csv").open("a", encoding="utf-8") as lines:
        lines.write(RISEN)
    ours, its = pty.openpty()
    words = ["reprice", "fernhollow", "--as-of", "2026-11-21", "--interactive", "--alloy", "sterling"]
    process = subprocess.Popen(
        [sys.executable, "-m", "pricing.cli.main", *words],
        cwd=shell.folder.parent, stdin=its, stdout=its, stderr=its,
        env={**os.environ, "COLUMNS": "80", "NO_COLOR": "1", "TERM": "dumb"},
    )  # fmt: skip
    os.close(its)
    said = b""
    try:
        for until, answer in (
            (b")? ", b"\n"),
            (b")? ", b"what\n"),
            (b"q or x.", b"h\n"),
            (b")? ", b"q\n"),
            (b"[y/N] ", b"y\n"),
        ):
            said += read_until(ours, until)
            os.write(ours, answer)
        said += read_until(ours, b"Published: edition 2")
        process.wait(timeout=LONG)
    finally:
        process.kill()
        os.close(ours)
    assert process.returncode == 0
    told = json.loads(shell("editions", "fernhollow", "show", "--json"))
    assert [price["reason"] for price in told["prices"] if price["reason"] == "kept"] == ["kept"]


def read_until(handle: int, end: bytes, seconds: float = LONG) -> bytes:
    """What is said until `end` has been; AssertionError where that does not come in time."""
    said = b""
    while end not in said:
        assert select.select([handle], [], [], seconds)[0], f"{end!r} did not come after {said!r}"
        said += os.read(handle, 1024)
    return said
