"""The compiled parser of TOML says what the standard library's says, and where it is missing that one reads all."""

from __future__ import annotations

import random
import sys
import time
import tomllib
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Any

import pytest

from pricing.errors import Faults
from pricing.folder import product_files
from pricing.folder.read import read_folder
from pricing.folder.toml import quickly, syntax
from pricing.resources import sample_catalog
from tests.folders import small_sample

#: Signs and words that a slip may put anywhere into a file.
SLIPS = (
    *"\"'[]{}=.,\n\r\t #-+_eE019\\",
    *("\r\n", '"""', "'''", "\\e", "\\x41", "\\u0041", "\\ud800", "\x00", "\x7f", "é", "\u2028", "\ufeff"),
    *(
        "inf",
        "nan",
        "true",
        "1e400",
        "-0.0",
        "1_000",
        "0x8000000000000000",
        "9223372036854775808",
        "07:32",
        "1979-05-27",
    ),
    *("1979-05-27", "1979-05-27T07:32:00.123456789-00:00", "9999-12-31 23:59:59+23:59", "{a=1,}", "[[a]]", "a.b"),
)


@pytest.fixture
def workshop(tmp_path):
    return small_sample(tmp_path / "workshop")


def said(loads: Callable[[str], Any], text: str) -> str:
    """What comes of a text, to the kind of every value, or why nothing does."""
    try:
        return repr(loads(text))
    except RecursionError:  # at which of its calls it came to that hangs on who called
        return "RecursionError"
    except ValueError as wrong:
        return f"{type(wrong)}: {wrong}"


@pytest.mark.parametrize(
    "text",
    [
        "a = 1\n[b.c]\nd = 1e3\ne = [1, 2.5, 'x', { f = true }]\n[[g]]\nh = 2026-11-20\n[[g]]\ni = 07:32:00\n",
        '"k 1".m = """\nü\\u00e9 \\\n   more"""\nn = 0xff\no = inf\np = -0.0\n',
        "a = { b = 1, }",  # the next three are TOML 1.1, which makers' other programs may not read
        "a = {\n b = 1 }",
        'a = "\\e"',
        "a = 07:32",
        "a = 1\na = 2",
        "a = 1,5",
        "a = " + "[" * 150 + "]" * 150,
        "a = " + "[" * 5000 + "]" * 5000,
        "a = " + "[" * 40 + "]" * 40,
        "a = " + "{b=" * 60 + "1" + "}" * 60,
        "a = " + "1_0" * 2000,
        "a = 0x" + "9" * 5000,
        "a = 0." + "9" * 5000,
        "\ufeffa = 1",
        "a = 1979-05-27T07:32:00-00:00\nb = 9999-12-31 23:59:59.999999999+23:59\nc = 23:59:60",
        "a = +nan\nb = -nan\nc = 1e400\nd = 5e-324\ne = 9007199254740993\nf = -9223372036854775809",
        "a.b = 1\n[a]\nc = 2",
        "[a.b]\n[a]\nc.d = 1\n[a.c]",
        "a = []\n[[a]]",
        "a = 'x\r\n'",
        'a = """\r\nx\r\n"""\r\n',
        'a = "\x7f"',
        "# \x01",
        "a = " + "9" * 5000,
        "a = [" + "[1], " * 300 + "]",
        "a = [ # [[[\n" + '[\'[["\', "]\'\\"["], ' * 300 + "]",
        "a = [" + "']]', \"]]\", " * 400 + "[" * 900 + "]" * 901,  # brackets in texts close nothing
        "a = [ # " + "]" * 1500 + "\n" + "[" * 900 + "]" * 901,
        'a = """\n"' + "]" * 1500 + '"""\nb = ' + "[" * 900 + "]" * 900,
        "a = '" + "[" * 300,
    ],
)
def test_the_compiled_parser_says_what_the_plain_one_does(text):
    assert said(quickly.loads, text) == said(tomllib.loads, text)


def test_no_slip_in_a_file_is_taken_for_something_else():
    drawn = random.Random(20261127)
    files = [path.read_text(encoding="utf-8").split("\n") for path in sorted(sample_catalog().rglob("*.toml"))]
    agreed = 0
    for _ in range(3000):
        lines = drawn.choice(files)
        at = drawn.randrange(len(lines))
        text = "\n".join(lines[at : at + 5])
        for _ in range(drawn.randint(1, 2)):
            at = drawn.randint(0, len(text))
            text = text[:at] + drawn.choice(SLIPS) + text[at + drawn.choice((0, 0, 1, 3)) :]
        expected = said(tomllib.loads, text)
        assert said(quickly.loads, text) == expected, text
        agreed += expected.startswith("{")
    assert 500 < agreed < 2500  # of both there are many


def test_every_file_of_a_workshop_is_plain():
    files = list(sample_catalog().rglob("*.toml"))
    assert len(files) > 20
    for path in files:
        text = path.read_text(encoding="utf-8")
        assert quickly.is_in_plain_forms(text) and quickly.is_in_plain_forms(text.replace("\n", "\r\n")), path


@pytest.mark.parametrize(
    "text",
    [  # each of these ends, as it is or repeated, the process of a parser that reads on, or passes it unrefused
        "=" * 20_000,
        "a=" + "-+" * 36_000,
        "a = " + "]" * 60_000 + "\nb = " + "[" * 50_000,
        "x = " + "[}" * 60_000,
        "a=" + "[#\r" * 20_000,
        "a=" + '["\\"' * 20_000,
        "a=" + '["\x0b' * 20_000,
        "[[b.b]]\n[b]\nb.y.z = 1",
        "a = " + "[" * 100_000 + "]" * 100_000,
        "a = " + "{b=" * 100_000 + "}" * 100_000,
        "a = [[[[1]]]]",
        "a = " + "9" * 5000,
        'a = "\\u0041"',
        "\ufeffa = 1",
        "a = 1\rb = 2",
        "a = 1 b = 2",
        "a = [1,,2]",
        "a = { b = 1, }",
        "a = {b = 1,\n c = 2}",
        "a = 1_000",
        "a = 01",
        "a = .5",
        "a = 1.",
        "a = 'x\ny'",
        'a = """x""""',
        "a.b.c = 1",
        "[a",
        "[[a]",
        "[ ]",
        "= 1",
    ],
)
def test_what_is_not_surely_sound_is_no_plain_form(text):
    assert not quickly.is_in_plain_forms(text)
    assert said(quickly.loads, text) == said(tomllib.loads, text)


def test_no_text_keeps_the_look_at_its_forms_busy():
    """Half a million signs, wrong at their very end; a second is thirty times what it takes."""
    most = 2**19
    for begun, again, end in (
        ("a = [", "1, ", "?"),
        ("a = [", "[[1], {b = 'c'}], ", "?"),
        ('a = """', "x\r\n", "?"),
        ("", "a = 1 # b\n", "?"),
        ("a = {", "b = [1, 2], ", "?"),
        ("a = ", "9", "?"),
        ("", "[a.b.'c d']\r\n", "?"),
        ("a = [", "# b\n \t", "?"),
    ):
        text = begun + again * ((most - 10) // len(again)) + end
        begins = time.process_time()
        assert not quickly.is_in_plain_forms(text)
        assert time.process_time() - begins < 1


def test_many_tables_are_read_by_the_compiled_parser(monkeypatch):
    """The processes of a workshop have some two hundred brackets, of which hardly three stand in each other."""
    if quickly._compiled_parser() is None:
        pytest.skip("needs the compiled parser")
    text = "[[steps]]\nname = 'pour'\nuses = [{ material = \"wax [hard]\", quantity = 1 }]\n" * 100
    expected = tomllib.loads(text)
    monkeypatch.setattr(tomllib, "loads", lambda _: pytest.fail("asked of the slow one"))
    assert quickly.loads(text) == expected


def test_only_the_first_thread_loads_the_compiled_parser(monkeypatch):
    """Loaded by one that has ended it ends the process at the next reading, as the page's threads found."""
    monkeypatch.delitem(sys.modules, "toml_rs", raising=False)
    monkeypatch.setattr(quickly, "_loaded", lambda: pytest.fail("loaded in a thread"))
    with ThreadPoolExecutor(1) as others:
        assert others.submit(quickly.loads, "a = 1").result() == {"a": 1}


def test_a_page_has_the_parser_ready_before_its_threads_begin(monkeypatch, tmp_path):
    app = pytest.importorskip("pricing.page.server.app")
    begun = []
    monkeypatch.setattr(app, "are_many", lambda _: True)
    monkeypatch.setattr(app, "make_ready", lambda: begun.append("parser"))
    monkeypatch.setattr(app, "Workspace", lambda *_: begun.append("workspace"))
    app.page_of(tmp_path, keys=None)
    assert begun == ["parser", "workspace"]


def test_files_are_read_without_the_compiled_parser(monkeypatch, workshop):
    monkeypatch.setattr(product_files, "LEAST_REMEMBERED", 0)
    quick = read_folder(workshop).stated
    monkeypatch.setattr(quickly, "_compiled_parser", lambda: None)
    assert read_folder(workshop).stated == quick


def test_a_key_of_33_parts_is_too_many_and_points_on_other_lines_are_none():
    fine = ".".join("k" * 32)
    assert syntax.document("f.toml", f"{fine} = 1.5\nx = 1.5\n").values["x"] == 1.5
    with pytest.raises(Faults, match="f.toml:2:1 this key has too many parts"):
        syntax.document("f.toml", f"x = 1\n{fine}.k = 1")
