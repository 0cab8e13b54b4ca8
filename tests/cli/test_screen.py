"""Tables, bars and signs on screens of every kind."""

from __future__ import annotations

import io
import json
import os
import re
import subprocess
import sys

import pytest
from rich.padding import Padding
from rich.text import Text

from pricing.cli.screens import screen
from pricing.cli.screens.stacking import Indented
from tests.bounded import ran
from tests.folders import tin_lane

COST = ["cost", str(tin_lane()), "--as-of", "2026-11-20"]


@pytest.fixture(autouse=True)
def usual(monkeypatch):
    for name in ("COLUMNS", "NO_COLOR"):
        monkeypatch.delenv(name, raising=False)


def printed(table, width=80, monkeypatch=None):
    stream = io.StringIO()
    console = screen._console(stream)
    console.width = width
    console.print(table)
    return stream.getvalue().splitlines()


def test_figures_are_never_cut_and_heads_are_broken():
    table = screen.table(("product", "the gallery on the corner"), [("knob", "205,145,403,247.00")])
    assert printed(table) == [
        "         the gallery on the",
        "product              corner",
        "knob     205,145,403,247.00",
    ]


@pytest.mark.parametrize(
    ("head", "lines"),
    [
        ("an hour of yours", ["an hour", "of yours"]),  # as few lines as at 12 places, and no wider than 8
        ("bought-in work", ["bought-in", "work"]),  # a word stays one
        ("margin", ["margin"]),
    ],
)
def test_heads_of_several_lines_are_no_wider_than_they_must_be(head, lines):
    assert [line.strip() for line in printed(screen.table(("", head), [("shop", "1.00")]))[:-1]] == lines


PIECES = [("knob-of-an-acorn-large",), ("  brass", "50.00", "21.07"), ("pin",), ("  bronze", "51.00", "21.58")]


@pytest.mark.parametrize("colours", [None, "standard"])
def test_a_piece_with_a_line_of_its_own_is_told_by_sku_and_name(colours):
    """The line runs over all columns, and the first is no wider than what stands beside figures."""
    taken = io.StringIO()
    console = screen.SafeConsole(file=taken, color_system=colours, force_terminal=bool(colours), width=40)
    console.print(screen.table(("piece", "price", "profit"), PIECES, strong=[0, 2], named={0: "Acorn knob", 2: ""}))
    said = taken.getvalue()
    assert ("\x1b[1mknob-of-an-acorn-large\x1b[0m  Acorn knob" in said) is bool(colours)
    assert [re.sub(r"\x1b\[[\d;]*m", "", line).rstrip() for line in said.splitlines()][1:] == [
        "knob-of-an-acorn-large  Acorn knob",
        "  brass         50.00   21.07",  # the first column has the 14 places that names have at least
        "pin",
        "  bronze        51.00   21.58",
    ]


def test_names_are_of_products_that_have_a_row_of_their_own():
    rows = [("pin", ""), ("  brass", "50.00"), ("clasp", "")]
    assert screen.names_of(rows, lambda sku, alloy: ({"pin": "A pin"}.get(sku, sku), alloy)) == {0: "A pin", 2: ""}


def test_a_name_for_which_there_is_no_room_is_left_out_and_its_sku_never():
    table = screen.table(("piece", "price", "profit"), PIECES, named={0: "Acorn knob of a tall door", 2: "Pin"})
    assert [line for line in printed(table, 40) if line[:1] in "kp"][1:] == ["knob-of-an-acorn-large", "pin  Pin"]
    narrow = printed(table, 25)  # the columns stand below each other, the first in each part
    assert narrow.count("pin  Pin") == 2 and "knob-of-an-acorn-large" in narrow


def test_the_first_column_is_folded_not_lost():
    lines = printed(screen.table(("product", "cost"), [("a-very-long-name-indeed", "1.00")]), width=20)
    assert "".join(line[:14].strip() for line in lines[1:]).startswith("a-very-long-n")
    assert any("1.00" in line for line in lines)


def test_a_bar_goes_by_eighths():
    assert screen.bar(0.5, 4) == "██"
    assert screen.bar(0.28125, 4) == "█▏"  # 4 places × 8 eighths × 0.28125 = 9 eighths
    assert screen.bar(0, 4) == ""
    assert screen.bar(7, 4) == "████"


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1"])
def test_a_screen_without_our_signs_gets_plainer_ones(encoding):
    said = ran(*COST, "--sku", "lantern-studs", PYTHONIOENCODING=encoding)
    assert said.code == 0
    text = said.out.decode(encoding)
    assert "labour" in text and "#" in text
    assert b"Traceback" not in said.err


def test_json_is_whole_on_any_screen():
    plain = json.loads(ran(*COST, "--json", PYTHONIOENCODING="ascii").out)
    assert plain == json.loads(ran(*COST, "--json", PYTHONIOENCODING="utf-8").out)


@pytest.mark.parametrize("number", [0.0, 1e-5, 9.99e-5, -2.5e-5, 0.0001, 10.00001, 1e15, 1e16, -1.5e300, 5e-324, 0.1])
def test_numbers_are_written_as_python_writes_them(capsys, number):
    document = {"a": [number, {"b": number}], "t": ["0.00001", "1e5", "NaN"], "1e5": "1e5", "e": {}, "q": 'é"\n\t\x1f'}
    screen.print_json(document)
    assert capsys.readouterr().out == json.dumps(document, ensure_ascii=False, indent=1) + "\n"


@pytest.mark.parametrize("number", [float("nan"), float("-inf")])
def test_what_is_no_number_is_no_json(number):
    with pytest.raises(ValueError):
        screen.print_json([number])


def rendered(made, by_the_library, width=80, places=None, colours=None):
    """What a console prints, by our own lines or by the library's."""
    taken = io.StringIO()
    console = screen.SafeConsole(file=taken, color_system=colours, force_terminal=bool(colours), width=width,
                                 highlight=False, emoji=False, markup=False)  # fmt: skip
    if by_the_library:
        made.plain_widths = list
    console.print(made if places is None else Indented(made, places))
    return [line if colours else line.rstrip() for line in taken.getvalue().splitlines()]


def test_plain_tables_are_what_the_library_makes_of_them():
    heads = ["product, alloy", "g as it is finished", "cost", "[b]shop", "Laden für Silber und Gold"]
    rows = [("acorn-knob", "", "", "", ""), ("  sterling", "12.40", "1,234.50", "99.90*", "7"),
            ("  Rotgold 銀", "0.5", "3", "10.00 ", "12\n13"), ("", "", "", "", " ")]  # fmt: skip
    for gap in (1, 2):
        quick, slow = (rendered(screen.table(heads, rows, gap=gap), by_the_library) for by_the_library in (False, True))
        assert quick == slow and "  Rotgold 銀" in quick[-3]
        for strong in ([], [0, 1], [2]):  # the last one is of two lines
            quick, slow = (
                rendered(screen.table(heads, rows, gap=gap, strong=strong), by_the_library, colours="standard")
                for by_the_library in (False, True)
            )
            assert quick == slow and "\x1b[2m" in quick[0] and bool(strong) == any("\x1b[1m" in line for line in quick)


@pytest.mark.parametrize("width", [16, 25, 30, 37, 44, 45, 52, 60, 80])
def test_sentences_in_the_last_column_are_broken_as_the_library_breaks_them(width):
    rows = [("shop", "120.00", Text("raise", style="bold"), "below 5 %; +27.00 owing"), ("銀 stall", "9.00", "", ""),
            ("abroad, USD", "1,135.50", Text("hold"), "averylongwordwithoutanyblank in it, and more")]  # fmt: skip

    def made():
        table = screen.table(("", "in force", "", ""), rows)
        table.columns[2].justify = table.columns[3].justify = "left"
        table.columns[3].no_wrap = False
        table.columns[0].min_width = 12
        return table

    for places in (None, 2):
        for colours in (None, "standard", "truecolor"):
            asked = width, places, colours
            assert rendered(made(), False, *asked) == rendered(made(), True, *asked)
    narrow, _ = made()._fielded(width)
    first, least = 12 + 2, 12 + 2 + 8 + 2 + 5 + 2  # below the width of the first, both are narrowed
    assert bool(narrow) == (width >= least + first)


def test_lines_further_in_are_what_the_library_makes_of_them():
    texts = [
        Text("one line"),
        Text("a sentence that is too long for so narrow a screen"),
        Text("Rotgold 銀", style="bold"),
    ]
    for text in (*texts, Text.assemble(("strong", "bold"), "  not")):
        for colours in (None, "standard"):
            taken = [io.StringIO(), io.StringIO()]
            for file, shown in zip(taken, (Indented(text), Padding(text, (0, 0, 0, 2), expand=False)), strict=True):
                console = screen.SafeConsole(file=file, color_system=colours, force_terminal=bool(colours), width=30)
                console.print(shown)
            assert taken[0].getvalue() == taken[1].getvalue()


@pytest.mark.parametrize("columns", ["0", "-5"])
def test_a_screen_of_no_width_is_taken_for_a_usual_one(columns):
    said = ran(*COST, COLUMNS=columns).out
    assert said and said == ran(*COST, COLUMNS="80").out


def test_what_does_not_fit_is_named():
    lines = ran(*COST, COLUMNS="44").out.decode().splitlines()
    assert "harbour-set" in lines
    assert "No room here for stall, online: ask with" in lines


@pytest.mark.parametrize("words", [["--help"], ["words", "unit_cost"], ["check", str(tin_lane())], COST])
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_nobody_reads_on(words, unbuffered):
    """The reader is gone before the command begins: exit code 1, whether the words lie in a buffer or not."""
    reading, writing = os.pipe()
    os.close(reading)
    said = ran(*words, out=writing, PYTHONUNBUFFERED=unbuffered)
    os.close(writing)
    assert said.code == 1
    assert b"Error" not in said.err and b"ignored" not in said.err


@pytest.mark.parametrize("words", [["words", "unit_cost"], COST])
@pytest.mark.parametrize("unbuffered", ["", "1"])
def test_a_full_disk_is_told_once_without_a_traceback(words, unbuffered):
    with open("/dev/full", "w") as full:
        said = ran(*words, out=full.fileno(), PYTHONUNBUFFERED=unbuffered)
    assert said.code == 1
    assert said.err == b"no space left on device. Nothing else was done.\n"


def test_a_figure_too_large_is_told_where_it_stands(troytag, tmp_path):
    import shutil

    lane = shutil.copytree(tin_lane(), tmp_path / "lane")
    text = (lane / "workshop.toml").read_text(encoding="utf-8")
    (lane / "workshop.toml").write_text(text.replace("rate = 21.35", "rate = 1.7e308"), encoding="utf-8")
    ran = troytag("cost", lane, "--as-of", "2026-11-20")
    assert ran.code == 1
    assert "labour.bench.rate: 1.7e+308 is larger than anything in a workshop." in ran.err
    assert "Warning" not in ran.err


def test_two_forms_at_once_are_refused(troytag):
    assert troytag("cost", tin_lane(), "--json", "--csv").err == "--json and --csv: say which of the two.\n"
    assert (
        troytag("cost", tin_lane(), "--run", "many").err
        == '--run "many" is no number. Write it in digits, as in 2.5.\n'
    )


def test_the_steps_add_up_to_the_costs_of_the_card(troytag):
    said = json.loads(troytag("cost", tin_lane(), "--as-of", "2026-11-20", "--sku", "reed-pin", "--json").out)
    (variant,) = said["variants"]
    hands = variant["labour_cost"] + variant["overhead_cost"]
    ran = troytag("cost", tin_lane(), "--as-of", "2026-11-20", "--sku", "reed-pin", "--steps")
    (sums,) = [line.split() for line in ran.out.splitlines() if line.startswith("all steps")]
    assert float(sums[3]) == pytest.approx(hands, abs=0.005)


def test_the_demo_deletes_nothing(troytag, tmp_path):
    precious = tmp_path / "precious"
    precious.mkdir()
    (precious / "thesis.txt").write_text("years of work", encoding="utf-8")
    ran = troytag("demo", "--into", precious, "--force")
    assert ran.code == 2
    assert "stands already and is no workshop folder" in ran.err
    assert (precious / "thesis.txt").read_text(encoding="utf-8") == "years of work"


def test_the_demo_puts_the_samples_own_files_back(troytag, tmp_path):
    into = tmp_path / "fernhollow"
    assert troytag("demo", "--into", into).code == 0
    (into / "products" / "thimble.toml").write_text('sku = "oops"', encoding="utf-8")
    (into / "notes.txt").write_text("mine", encoding="utf-8")
    ran = troytag("demo", "--into", into, "--force")
    assert ran.code == 0
    assert (into / "notes.txt").read_text(encoding="utf-8") == "mine"
    for name in ("workbook.xlsx", "price-list.html", "price-list.pdf"):
        assert (into / name).stat().st_size > 10_000
        assert name in ran.out


def test_the_version_is_told(troytag):
    """As the package and the archives bear it: hatchling reads the same line."""
    import pricing

    ran = troytag("--version")
    assert (ran.code, ran.out, ran.err) == (0, f"troytag {pricing.__version__}\n", "")


def test_a_screen_without_blocks_has_plain_ones():
    """A line of the past year still rises and falls, and units are read as they are said."""
    words = "import sys; from pricing.cli.screens import signs; signs.make_printable(); print('▁▂▃▄▅▆▇█ cm³ cm² 2 × 3')"
    environment = {**os.environ, "PYTHONIOENCODING": "ascii"}
    said = subprocess.run([sys.executable, "-c", words], env=environment, capture_output=True).stdout.decode().split()
    assert said[0] == "_.-=+*%#" and len(set(said[0])) == 8
    assert said[1:] == ["cm3", "cm2", "2", "x", "3"]


def test_no_sign_of_ours_becomes_a_question_mark():
    """Every sign beyond ASCII that the terminal's modules hold has a plain form."""
    from pathlib import Path

    import pricing.cli
    from pricing.cli.screens.signs import PLAIN

    texts = [file.read_text(encoding="utf-8") for file in Path(pricing.cli.__file__).parent.rglob("*.py")]
    assert {sign for text in texts for sign in text if ord(sign) > 127} <= set(PLAIN)
