"""A file is read where it is a plain one of a bearable size; nothing else is waited for."""

from __future__ import annotations

import os
from datetime import date
from pathlib import Path

import pytest

from pricing.errors import visible
from pricing.reading import NotRead, read_file
from pricing.starting import new_folder
from tests.bounded import ran


def reason(path: Path, most: int = 1024) -> str:
    with pytest.raises(NotRead) as wrong:
        read_file(path, most)
    assert str(wrong.value) == visible(f"{path}: {wrong.value.problem}. {wrong.value.mend}")
    return wrong.value.reason


def test_a_plain_file_and_a_link_to_one(tmp_path):
    (tmp_path / "price").write_bytes(b"38.40")
    (tmp_path / "link").symlink_to("price")
    assert read_file(tmp_path / "price", 5) == read_file(tmp_path / "link", 5) == b"38.40"
    assert reason(tmp_path / "price", 4) == "too large"


def test_what_is_no_plain_file_is_not_opened(tmp_path):
    (tmp_path / "endless").symlink_to("/dev/zero")
    (tmp_path / "nowhere").symlink_to("none")
    (tmp_path / "circle").symlink_to("circle")
    assert reason(tmp_path) == "folder"
    assert reason(tmp_path / "endless") == "no file"
    assert reason(tmp_path / "none") == reason(tmp_path / "nowhere") == reason(tmp_path / "price" / "x") == "missing"
    assert reason(tmp_path / "circle") == "broken"
    assert reason(Path("a\0b")) == "broken"


def test_a_file_that_says_nothing_of_its_size(tmp_path):
    """Files of the system's own have the size 0 and hold something: what comes is counted."""
    told = Path("/proc/self/status")
    if not told.is_file():
        pytest.skip("this system has no such files")
    assert told.stat().st_size == 0
    assert read_file(told, 2**20).startswith(b"Name:")
    assert reason(told, 10) == "too large"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="this system has no pipes with a name")
@pytest.mark.parametrize(
    ("made", "words"),
    [
        ("piece.stl", ("measure", "piece.stl")),
        ("book.xlsx", ("import", "book.xlsx", "--into", "shop")),
        ("shop/editions/000001.json", ("check", "shop")),
        ("moves.csv", ("study", "shop", "band", "--history", "moves.csv")),
        ("columns.toml", ("export", "shop", "csv", "--columns", "columns.toml")),
        ("shop/workshop.toml", ("check", "shop")),
    ],
)
def test_a_pipe_keeps_no_command_waiting(tmp_path, made, words):
    new_folder(tmp_path / "shop", "Fernhollow Castings", "EUR", date.today())
    (tmp_path / "shop" / "editions").mkdir()
    (tmp_path / made).unlink(missing_ok=True)
    os.mkfifo(tmp_path / made)
    said = ran(*words, folder=tmp_path)  # a pipe without a writer makes whoever opens it wait for ever
    assert said.code in (1, 2) and b"Traceback" not in said.err
    assert b"no plain file" in said.out + said.err
