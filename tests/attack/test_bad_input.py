"""Input spoilt as people, editors, sync tools and spreadsheets spoil it: told in words, all at once, and no traceback.

What a slip in one table is told as stands in `tests/folder`; here whole files and whole runs are attacked.
"""

from __future__ import annotations

import os
import shutil
from datetime import date
from pathlib import Path

import pytest

from tests.attack.spoiling import (
    ALLOYS,
    CHANNELS,
    HEADER,
    ON,
    PIN,
    PRICES,
    PROCESSES,
    STUDS,
    WORKSHOP,
    add_links,
    quoted,
    replace,
)
from tests.bounded import ran
from tests.folders import tin_lane

ROOT = Path(__file__).parents[2]


def told(ran) -> list[str]:
    """The first line of every fault that `check` told, without the lines that show where."""
    assert ran.code == 1, ran
    assert "Traceback" not in ran.out + ran.err
    *lines, count = ran.out.splitlines()
    heads = [line for line in lines if not line.startswith("  ")]
    assert count.split()[0] == str(len(heads))
    return heads


# ---- figures that no one can count with


def test_a_number_of_four_hundred_digits(troytag, lane):
    """TOML has whole numbers of any length; a float ends at 1.8e308."""
    replace(lane, WORKSHOP, "rate = 21.35", "rate = " + "9" * 400)
    assert told(troytag("check", lane)) == [
        "workshop.toml:6:8 labour.bench.rate: this number has too many digits. Write a shorter one."
    ]


def test_a_price_too_small_to_be_told_from_nothing(troytag, lane):
    replace(lane, PRICES, "49.385", "1e-999")
    assert told(troytag("check", lane)) == ["metal_prices.csv:3:15 price: 0 is not above 0. State a number above 0."]


def test_all_fractions_as_percentages_are_told_at_once(troytag, lane):
    replace(lane, PROCESSES, "good = 0.91", "good = 91")
    replace(lane, CHANNELS, "rate = 0.19", "rate = 19")
    replace(lane, ALLOYS, "melt_loss = 0.031", "melt_loss = 3.1")
    assert told(troytag("check", lane)) == [
        "alloys.toml:38:13 alloys.brass.melt_loss: 3.1 is more than 1. "
        "Write a fraction, not a percentage: 3.1 % is 0.031.",
        "channels.toml:13:16 channels.stall.tax.rate: 19 is more than 1. "
        "Write a fraction, not a percentage: 19 % is 0.19.",
        "channels.toml:24:16 channels.online.tax.rate: 19 is more than 1. "
        "Write a fraction, not a percentage: 19 % is 0.19.",
        "processes.toml:50:8 processes.cast[6].good: 91 is more than 1. "
        "Write a fraction, not a percentage: 91 % is 0.91.",
    ]  # fmt: skip


def test_a_margin_so_near_to_all_that_the_fees_have_no_room(troytag, lane):
    """Of each 1.00 of list price 0.97 / 1.19 is net, × 1e-12 kept; the card takes 0.0175 × 0.97."""
    replace(lane, CHANNELS, "margin = 0.22", "margin = 0.999999999999")
    assert told(troytag("check", lane, *ON)) == [
        "channels.toml:20:10 stall: no price of harbour-set in brass (and 3 more) can pay: of each 1.00 of list price "
        "the policy leaves 0.0000 and the fees take 0.0170. Ask a smaller margin, or leave out a fee."
    ]


# ---- days


def test_before_all_quotes_every_metal_is_told_at_once(troytag):
    heads = told(troytag("check", tin_lane(), "--as-of", "1900-01-01"))
    assert [head.split(";")[0] for head in heads] == [
        f"metal_prices.csv {metal}: there is no quote on or before 1900-01-01 (the first is of {first})"
        for metal, first in (
            ("brass-grain", "2026-11-12"), ("Ag", "2026-10-30"), ("Cu", "2026-11-18"), ("Au", "2026-11-18"),
        )
    ]  # fmt: skip


def test_the_last_day_that_is_counted(troytag):
    ran = troytag("check", tin_lane(), "--as-of", "2200-12-31")
    newest, oldest = ((date(2200, 12, 31) - date(2026, 11, day)).days for day in (24, 12))
    assert ran.code == 0
    assert f"{newest} to {oldest} days old on 2200-12-31: brass-grain, " in " ".join(ran.err.split())


@pytest.mark.parametrize(
    "text", ["", "-1", "today", "2026-1-1", "2026-11-31", "0000-00-00", "2026-11-20T10:00", "２０２６-11-20"]
)
def test_what_is_no_day(troytag, text):
    ran = troytag("check", tin_lane(), f"--as-of={text}")
    assert (ran.code, ran.out) == (2, "")
    assert ran.err == f'"{text}" is no date. Write it as {date.today().isoformat()}.\n'


# ---- the price history as spreadsheets save it

NO_NAMES = "metal_prices.csv:1:1 the line with the names of the columns is missing."
COMMAS = f"{NO_NAMES} Put commas between the fields, and in the first line: {HEADER}"


@pytest.mark.parametrize(
    ("change", "heads"),
    [
        (lambda text: text.replace(",", ";"), [COMMAS]),
        (lambda text: text.replace(",", ";").replace(".", ","), [COMMAS]),
        (lambda text: text.replace(",", "\t"), [COMMAS]),
        (lambda text: text.replace("2026-11-18,A", "18/11/2026,A"), [
            f'metal_prices.csv:{line}:1 date: "18/11/2026" is no day. Write year, month, day as 2026-11-20.'
            for line in (3, 5)
        ]),
        (lambda text: text.replace("2026-11-18,Au", "########,Au"), [
            'metal_prices.csv:5:1 date: "########" is no day. Write year, month, day as 2026-11-20.'
        ]),
        (lambda text: text.replace("2026-11-18,Au", "46344,Au"), [
            'metal_prices.csv:5:1 date: "46344" is no day. Write year, month, day as 2026-11-20.'
        ]),
        (lambda text: quoted(text).replace("47.11", "47,11"), [
            'metal_prices.csv:2:19 price: "47,11" is no number. Write it with a point: 47.11.'
        ]),
    ],
    ids=["semicolons", "semicolons and decimal commas", "tabs", "days the other way round", "a column too narrow",
         "days as numbers", "a decimal comma in quotes"],
)  # fmt: skip
def test_a_spreadsheet_saved_it(troytag, lane, change, heads):
    (lane / PRICES).write_text(change((lane / PRICES).read_text(encoding="utf-8")), encoding="utf-8")
    assert told(troytag("check", lane)) == heads


# ---- files


def dangling(path: Path) -> None:
    path.symlink_to("nowhere")


def in_a_circle(path: Path) -> None:
    path.symlink_to(path.name)


def a_pipe(path: Path) -> None:
    os.mkfifo(path)


def a_device(path: Path) -> None:
    path.symlink_to(os.devnull)


MOVE = "Move it away and put the file in its place."


@pytest.mark.parametrize("file", [WORKSHOP, PRICES, PIN])
@pytest.mark.parametrize(
    ("put", "problem"),
    [
        (dangling, "this file is missing. Add {file} to the folder."),
        (in_a_circle, "this file cannot be read (Too many levels of symbolic links). See whether the disk is there."),
        (a_pipe, f"is no plain file. {MOVE}"),
        (a_device, f"is no plain file. {MOVE}"),
    ],
)
def test_what_is_no_file(troytag, lane, file, put, problem):
    (lane / file).unlink()
    put(lane / file)
    assert told(troytag("check", lane)) == [f"{file} {problem.format(file=file)}"]


def test_a_copy_that_a_sync_tool_made(troytag, lane):
    copy = "products/reed-pin (conflicted copy 2026-11-20).toml"
    shutil.copy(lane / PIN, lane / copy)
    ran = troytag("check", lane)
    assert told(ran) == [
        f'{PIN}:1:7 sku: another product has the sku "reed-pin" already. '
        "One looks like a copy that a synced drive has put beside: compare them, then delete one."
    ]
    assert f"  and {copy}:1:7\n" in ran.out


def test_backup_copies_of_editors_are_not_read(troytag, lane):
    shutil.copy(lane / PIN, lane / "products/reed-pin.toml~")
    shutil.copy(lane / PIN, lane / "products/.reed-pin.toml.swp")
    assert "all in order. 4 products" in " ".join(troytag("check", lane, *ON).out.split())


def test_markers_of_a_merge_that_was_never_ended(troytag, lane):
    replace(lane, WORKSHOP, "currency", "<<<<<<< mine\ncurrency")
    (head,) = told(troytag("check", lane))
    assert head.startswith("workshop.toml:2:1 this is neither a key with a value nor a header.")


def test_folders_in_place_of_every_file(troytag, tmp_path):
    files = [ALLOYS, CHANNELS, PRICES, PROCESSES, WORKSHOP]
    for file in files:
        (tmp_path / file).mkdir()
    assert told(troytag("check", tmp_path)) == [
        f"{file} is a folder, and a file belongs here. {MOVE}" for file in files
    ]


def test_every_damaged_mesh_and_every_missing_price_at_once(troytag, lane):
    """1,000 bytes that say they hold 2**32 - 1 triangles of 50 bytes each, and hold (1000 - 84) / 50 = 18 and a bit."""
    (lane / "meshes").mkdir()
    (lane / "meshes/short.stl").write_bytes(b"\x00" * 80 + b"\xff" * 4 + b"\x00" * 916)
    (lane / "meshes/none.stl").write_bytes(b"")
    replace(lane, PIN, "volume_cm3 = 0.62", 'mesh = "meshes/short.stl"')
    replace(lane, STUDS, "volume_cm3 = 0.1873", 'mesh = "meshes/none.stl"')
    replace(lane, PRICES, "2026-11-12,brass-grain", "2026-12-12,brass-grain")
    text = troytag("check", lane, *ON).out
    for part in ("it says that it holds 4,294,967,295 triangles but holds 18 and a half", "the file is empty",
                 "brass-grain: there is no quote on or before 2026-11-20 (the first is of 2026-12-12)"):  # fmt: skip
        assert part in text


# ---- products that lean on each other


def test_a_circle_of_three_hundred_likes_is_one_fault(troytag, lane):
    add_links(lane, 300, "link-299")
    (head,) = told(troytag("check", lane))
    assert head.startswith("products/link-000.toml:3:8 like: it goes in a circle: link-000 -> link-299 -> link-298 -> ")


# ---- nothing there


def test_a_process_without_steps(troytag, lane):
    (lane / PROCESSES).write_text(
        (lane / PROCESSES).read_text(encoding="utf-8").partition("[[processes.sawn]]")[0], encoding="utf-8"
    )
    text = (lane / PROCESSES).read_text(encoding="utf-8")
    (lane / PROCESSES).write_text("processes.sawn = []\n" + text, encoding="utf-8")
    heads = told(troytag("check", lane))
    assert heads[0] == (
        "processes.toml:1:18 processes.sawn: no step brings the metal in. "
        'Write takes_metal = "pour", "cut" or "bought" on the step that does.'
    )


# ---- the other end of the line


@pytest.mark.parametrize(
    "words", [("cost",), ("cost", "--json"), ("cost", "--csv"), ("cost", "--show-work"), ("check",)]
)
def test_nobody_reads_what_is_printed(words):
    """As in `troytag cost … | head -1`: the reader is gone before the first word, and no traceback tells of it."""
    command, *rest = words
    reading, writing = os.pipe()
    os.close(reading)
    said = ran(command, tin_lane(), *ON, *rest, out=writing)
    os.close(writing)
    assert said.code == 1
    assert b"Traceback" not in said.err and b"Error" not in said.err
