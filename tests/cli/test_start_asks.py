"""`start` on a terminal, its file of answers, and `add`."""

from __future__ import annotations

import os
import select
import sys
import time

import pytest

from pricing.folder.read import read_folder

#: What is typed, question by question; "" is Enter.
TYPED = {
    "currency": "GBP",
    "tax": "0",
    "metals": "1, 8",
    "price-Ag": "31,5",  # told to be no number, and asked again
    "again": "31.5",
    "price-brass-grain": "?",
    "ways": "printed-and-cast",
    "assay": "no",
    "flask": "3",
    "machines": "kiln = 900, 5",
    "hours": "18",
    "pay": "17.50",
    "rent": "",
    "flasks": "2",
    "pieces": "40 of 46",
    "channels": "5",
    "piece": "Leaf hook",
    "piece-file": "",
    "piece-model": "2.4",
    "piece-of": "2",
    "finishing": "6",
    "parts": "",
    "sales": "200",
}


@pytest.mark.skipif(sys.platform == "win32", reason="there are no pseudo-terminals")
def test_questions_on_a_terminal(tmp_path):
    import pty

    child, terminal = pty.fork()
    if child == 0:
        os.chdir(tmp_path)
        words = [sys.executable, "-m", "pricing.cli.main", "start", "hooks"]
        os.execve(sys.executable, words, os.environ | {"COLUMNS": "80", "NO_COLOR": "1"})
    said, rest = "", list(TYPED.values())
    end = time.monotonic() + 60
    while time.monotonic() < end:
        if not select.select([terminal], [], [], 0.5)[0]:
            continue
        try:
            more = os.read(terminal, 65536).decode()
        except OSError:  # it has ended
            break
        said += more
        if said.endswith("> ") and rest:
            said += "\n"
            os.write(terminal, f"{rest.pop(0)}\n".encode())
    _, status = os.waitpid(child, 0)
    assert (os.waitstatus_to_exitcode(status), rest) == (0, []), said
    assert '"31,5" is no number. Write 31.5.' in said
    assert "Leaf hook · Yellow brass" in said and "one costs" in said
    assert "usual: 14 to 36 hours a week; if you don't know: 24" in said
    stated = read_folder(tmp_path / "hooks").stated
    assert list(stated.alloys) == ["yellow-brass", "sterling"]
    assert {quote.metal: quote.price for quote in stated.quotes}["Ag"] == 31.5
    assert (stated.workshop.machines["kiln"].purchase, "melting-furnace" in stated.workshop.machines) == (900, True)
    assert list(stated.channels) == ["stall"]
    hook = stated.products["leaf-hook"]
    assert (hook.castings[0].model_g, hook.castings[0].model_density, hook.expected_sales) == (2.4, 1.12, 200)
    assert all(len(line) <= 80 for line in said.replace("\r", "").split("\n"))


def test_a_file_of_answers_on_the_command_line(troytag, tmp_path):
    printed = troytag("start", "--questions")
    assert (printed.code, printed.err) == (0, "")
    (tmp_path / "answers.toml").write_text(printed.out + '\nmetals = ["pewter"]\nways = ["castings-bought"]\n')
    ran = troytag("start", tmp_path / "pewter", "--answers", tmp_path / "answers.toml", "--currency", "NOK")
    assert (ran.code, ran.err) == (0, "")
    assert "refiners.toml" not in ran.out
    stated = read_folder(tmp_path / "pewter").stated
    assert (stated.workshop.currency, list(stated.alloys)) == ("NOK", ["pewter"])
    (tmp_path / "answers.toml").write_text('metals = ["peuter"]\n')
    ran = troytag("start", tmp_path / "more", "--answers", tmp_path / "answers.toml")
    assert ran.code == 1 and 'answers.toml:1:10 metals: there is no "peuter" here. Did you mean "pewter"?' in ran.err
    assert troytag("start").err == "Name the folder that shall be: troytag start FOLDER.\n"


def test_one_more_on_the_command_line(troytag, tmp_path):
    troytag("start", tmp_path / "fern")
    ran = troytag("add", tmp_path / "fern", "alloy", "copper", "tin-bronze")
    assert (ran.code, ran.err) == (0, "")
    assert ran.out == "Added: copper, tin-bronze.\n  alloys.toml\n  metal_prices.csv\n  doubts.toml\n"
    assert troytag("add", tmp_path / "fern", "product", "Old", "key").out.startswith("Added: old-key.\n")
    assert troytag("add", tmp_path / "fern", "aloy").code == 2
    nobody = troytag("add", tmp_path / "fern", "channel")  # nobody sits before it, and which is no guess
    assert (nobody.code, nobody.out) == (2, "") and "channel NAME. Known: shop, marketplace, trade" in nobody.err
    assert troytag("add", tmp_path / "none", "alloy").code == 2
    assert not troytag("check", tmp_path / "fern").err
