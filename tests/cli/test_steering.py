"""No text of a maker, a mesh or a source steers the terminal, on a screen with colours as in a pipe."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys

import pytest

from pricing.cli.screens import screen
from pricing.cli.screens.signs import Printed, unsteered
from tests.folder.workshops import changed, write
from tests.meshes.boxes import box, stl
from tests.waiting import LONG

#: Renames the window; up a line and wipe it; begins a command for the terminal (C1); turns the line round.
HOSTILE = "fix\x1b]0;owned\x07\x1b[1A\x1b[2K\x9b31m\u202e"
#: What rich sends by itself: colours and weights, and hiding and showing the cursor.
OURS = re.compile(r"\x1b\[[\d;]*m|\x1b\[\?25[lh]|\r")


@pytest.fixture
def shop(tmp_path):
    """A workshop whose silver has a hostile source."""
    write(tmp_path / "shop", changed())
    prices = tmp_path / "shop" / "metal_prices.csv"
    prices.write_text(re.sub(r"(?m)^(\d{4}-\d\d-\d\d,Ag,.*),[^,\n]*$", rf"\1,{HOSTILE}", prices.read_text()))
    assert HOSTILE in prices.read_text()
    return tmp_path / "shop"


def on_a_terminal(*words: str) -> str:
    """What a command writes to a terminal with colours."""
    pty = pytest.importorskip("pty")
    ours, theirs = pty.openpty()
    kept = {name: value for name, value in os.environ.items() if name != "NO_COLOR"}
    ran = subprocess.Popen(
        [sys.executable, "-m", "pricing.cli.main", *words],
        stdin=subprocess.DEVNULL, stdout=theirs, stderr=theirs, env={**kept, "TERM": "xterm-256color", "COLUMNS": "80"},
    )  # fmt: skip
    os.close(theirs)
    said = b""
    try:
        while chunk := os.read(ours, 65536):
            said += chunk
    except OSError:  # the other side is closed
        pass
    os.close(ours)
    assert ran.wait(LONG) in (0, 1)
    return said.decode()


def steers(text: str) -> str:
    """What is left in it that would steer a terminal, once our own codes are taken out."""
    return "".join(re.findall("[\x00-\x08\x0b-\x1f\x7f-\x9f\u202a-\u202e]", OURS.sub("", text)))


def test_a_source_on_a_screen_with_colours_and_in_a_pipe(shop, troytag):
    shown = on_a_terminal("metal", str(shop), "list", "Ag", "--as-of", "2026-11-20")
    assert "\x1b[" in shown and r"\x1b]0;owned" in shown
    assert steers(shown) == ""
    piped = troytag("metal", shop, "list", "Ag", "--as-of", "2026-11-20")
    assert piped.code == 0 and r"\x1b]0;owned" in piped.out
    assert steers(piped.out + piped.err) == ""


def test_a_source_in_json_is_the_same_text(shop, troytag):
    ran = troytag("metal", shop, "list", "Ag", "--as-of", "2026-11-20", "--json")
    assert steers(ran.out) == ""
    assert HOSTILE in [line["source"] for line in json.loads(ran.out)[0]["history"]]


def test_the_name_of_a_mesh(tmp_path, troytag):
    mesh = str(stl(tmp_path, box(10), name="a\x1b[7Jb.stl"))
    for said in (on_a_terminal("measure", mesh), troytag("measure", mesh).out):
        assert r"a\x1b[7Jb.stl" in said and "\x1b[7J" not in said


def test_the_name_of_a_folder(tmp_path, troytag):
    ran = troytag("check", tmp_path / "x\x1b]0;y\x07")
    assert ran.code == 2 and r"x\x1b]0;y\x07: there is no such folder" in ran.err


def test_money_of_other_countries_keeps_its_blanks():
    """No-break blanks, marks of direction and joined signs are no commands."""
    text = "1\u202f234,50\u00a0€ \u200eabc\u200d\ttab\n"
    assert unsteered(text) == text


def test_what_passes_the_stream_keeps_its_length_and_its_lines():
    stream = io.StringIO()
    printed = Printed(stream)
    assert printed.write("a\x1bb\n") == 4
    printed.writelines(["c\n", "\x07"])
    assert stream.getvalue() == "a\\x1bb\nc\n\\x07"
    assert printed.getvalue() == stream.getvalue()


def test_records_as_csv_hold_no_formula_and_numbers_stay(capsys):
    screen.print_csv([{"sku": "=cmd()", "@name": "\tx", "change": -1.5, "none": None, "plain": "a=b"}])
    lines = capsys.readouterr().out.split("\n")
    assert lines[0] == "sku,'@name,change,none,plain"
    assert lines[1] == "'=cmd(),'\tx,-1.5,,a=b"
