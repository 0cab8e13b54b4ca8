"""The commands that write lists, quotations, tags and upload sheets: where files go, and what never happens to them."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from pricing.cli.main import main
from tests.folders import small_sample

DAY = ("--as-of", "2026-11-20")
CHECKOUT = Path(__file__).parents[2]
#: Words of the command → a file name that it can write to.
KINDS = {
    ("list", "--no-pictures"): "list.html",
    ("list", "--for", "buyers", "--no-pictures"): "list.pdf",
    ("quote", "--sku", "acorn-knob", "--number", "7", "--no-pictures"): "quote.html",
    (
        "quote",
        "--sku",
        "acorn-knob",
        "--number",
        "7",
        "--quantity",
        "5",
        "--alloy",
        "sterling",
        "--no-pictures",
    ): "quote.pdf",
    ("tags",): "tags.pdf",
    ("tags", "--kind", "ring", "--sheet", "Letter"): "tags.pdf",
    ("tags", "--kind", "card", "--channel", "stall", "--hour", "30"): "tags.pdf",
    ("csv",): "upload.csv",
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """The sample by its name, with few of its products; nobody changes it."""
    return small_sample(tmp_path_factory.mktemp("few") / "sample_catalog")


@pytest.fixture
def troytag(monkeypatch, capsys, folder):
    """Run `troytag export SAMPLE …` here; gives exit code, stdout, stderr."""
    monkeypatch.setenv("LC_ALL", "C")

    def run(*words):
        monkeypatch.setattr(sys, "argv", ["troytag", "export", str(folder), *map(str, words)])
        try:
            main()
            code = 0
        except SystemExit as left:
            code = left.code or 0
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


@pytest.mark.parametrize(
    ("words", "name"), KINDS.items(), ids=lambda part: part[0] if isinstance(part, tuple) else part
)
def test_a_file_is_written_named_and_never_overwritten_unasked(troytag, tmp_path, words, name):
    target = tmp_path / name
    code, out, err = troytag(*words, *DAY, "--to", target)
    assert (code, out.strip()) == (0, str(target))
    written = target.read_bytes()
    assert written.startswith({".html": b"<!DOCTYPE html>", ".pdf": b"%PDF-", ".csv": b"Variant id,"}[target.suffix])
    target.write_bytes(b"mine")
    code, out, err = troytag(*words, *DAY, "--to", target)
    assert code == 2 and "stands already" in err and "--force" in err and out == ""
    assert target.read_bytes() == b"mine"
    assert troytag(*words, *DAY, "--to", target, "--force")[0] == 0
    assert target.read_bytes() == written
    assert list(tmp_path.iterdir()) == [target]


def test_without_a_place_it_goes_into_the_current_folder(troytag, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    for words in (("list", "--no-pictures"), ("quote", "--sku", "thimble", "--no-pictures"), ("tags",), ("csv",)):
        assert troytag(*words, *DAY)[0] == 0
    assert sorted(path.name for path in tmp_path.iterdir()) == [
        "sample_catalog-price-list-shops.html",
        "sample_catalog-quotation-thimble.html",
        "sample_catalog-swing-tags.pdf",
        "sample_catalog-upload.csv",
    ]


def test_two_places_get_both_forms(troytag, tmp_path):
    places = [tmp_path / "list.html", tmp_path / "list.pdf"]
    code, out, _ = troytag("list", "--no-pictures", *DAY, "--to", places[0], "--to", places[1])
    assert code == 0 and out.split() == [str(place) for place in places]
    assert all(place.is_file() for place in places)


def test_where_one_of_two_stands_neither_is_written(troytag, tmp_path):
    (tmp_path / "list.pdf").write_bytes(b"mine")
    code, _, err = troytag("list", *DAY, "--to", tmp_path / "list.html", "--to", tmp_path / "list.pdf")
    assert code == 2 and "list.pdf stands already" in err
    assert [path.name for path in tmp_path.iterdir()] == ["list.pdf"]


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("list", "--to", "list.docx"), 'ending in ".docx" is not written here. End its name in .html'),
        (("tags", "--to", "tags.html"), "End its name in .pdf"),
        (("list", "--to", "nowhere/list.html"), "is no folder"),
        (("list", "--paper", "A5"), 'no paper "A5"'),
        (("list", "--locale", "xx"), '"xx" is no locale'),
        (("list", "--for", "buyers", "--retail", "shop"), "--retail is for a list for shops"),
        (("list", "--sku", "thimbel"), 'no product "thimbel". Did you mean "thimble"?'),
        (("list", "--valid-until", "soon"), '"soon" is no date'),
        (("quote", "--sku", "acorn"), 'no product "acorn". Did you mean "acorn-knob"?'),
        (("quote", "--sku", "acorn-knob", "--alloy", "silver"), 'no alloy "silver"'),
        (("tags", "--sheet", "A9"), 'no sheet "A9"'),
        (("tags", "--channel", "stal"), 'no channel "stal". Did you mean "stall"?'),
        (("csv", "--channel", "stal"), 'no channel "stal". Did you mean "stall"?'),
        (("csv", "--columns", "none.toml"), "none.toml cannot be read"),
    ],
)
def test_slips_are_told_in_a_sentence(troytag, tmp_path, monkeypatch, words, said):
    monkeypatch.chdir(tmp_path)
    code, out, err = troytag(*words)
    assert code == 2 and said in err and "Traceback" not in err and out == ""
    assert list(tmp_path.iterdir()) == []


def test_the_built_in_columns_are_printed_and_work_as_a_file(troytag, tmp_path):
    code, out, _ = troytag("csv", "--show-columns")
    assert code == 0 and "[columns]" in out
    (tmp_path / "columns.toml").write_text(out, encoding="utf-8")
    for name, more in (("a.csv", ()), ("b.csv", ("--columns", tmp_path / "columns.toml"))):
        assert troytag("csv", *DAY, "--to", tmp_path / name, *more)[0] == 0
    assert (tmp_path / "a.csv").read_bytes() == (tmp_path / "b.csv").read_bytes()


KILLED = """
import os, signal, sys
def half(handle):
    os.ftruncate(handle, os.fstat(handle).st_size // 2)
    os.kill(os.getpid(), signal.SIGKILL)
os.fsync = half
from pricing.cli.main import main
sys.argv = ["troytag", *sys.argv[1:]]
main()
"""


@pytest.mark.parametrize("before", [None, b"the old list"])
def test_killed_in_the_middle_of_writing_no_torn_file_stands(folder, tmp_path, before):
    target = tmp_path / "list.html"
    if before is not None:
        target.write_bytes(before)
    command = ["export", str(folder), "list", "--no-pictures", *DAY, "--to", str(target), "--force"]
    ended = subprocess.run(
        [sys.executable, "-c", KILLED, *command], cwd=CHECKOUT, env=os.environ, capture_output=True, text=True
    )
    assert ended.returncode == -signal.SIGKILL, ended.stderr
    assert (target.read_bytes() if target.exists() else None) == before
    left = [path for path in tmp_path.iterdir() if path != target]
    assert all(path.name.startswith(".") for path in left)  # half a file, under a hidden name
