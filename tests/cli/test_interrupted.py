"""An import that was killed half-way: whatever command comes next finishes it first and says so."""

from __future__ import annotations

import errno
import json
import os
import shutil

import pytest

from pricing import several_files
from pricing.folder.read import read_folder
from pricing.page.workspace import Workspace
from pricing.several_files import JOURNAL
from pricing.workbook.back.proposal import Proposal
from pricing.workbook.back.writing import write
from tests.folders import tin_lane

FILES = ("workshop.toml", "alloys.toml", "channels.toml")
DAY = ("--as-of", "2026-11-20")
FINISHED = "was interrupted and is finished now: workshop.toml, alloys.toml, channels.toml"

pytestmark = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a process that can be killed")


@pytest.fixture
def folder(tmp_path, monkeypatch):
    """A folder with one of three files of an import in its place, and its writer gone."""
    monkeypatch.chdir(tmp_path)
    root = shutil.copytree(tin_lane(), tmp_path / "tin-lane").relative_to(tmp_path)
    hashes = read_folder(root).hashes
    process = os.fork()
    if process == 0:
        put, done = several_files._put, []

        def second_kills(*words):
            if done:
                os._exit(9)
            done.append(put(*words))

        several_files._put = second_kills
        files = {file: (root / file).read_bytes() + b"# imported\n" for file in FILES}
        write(Proposal(root, files=files, expected={file: hashes[file] for file in FILES}))
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]) == 9
    assert [(root / file).read_bytes().endswith(b"# imported\n") for file in FILES] == [True, False, False]
    return root


def is_finished(folder) -> bool:
    left = [path.name for path in folder.rglob(".*") if path.is_file()]
    return left == [] and all((folder / file).read_bytes().endswith(b"# imported\n") for file in FILES)


@pytest.mark.parametrize(
    "words",
    [
        ("check", "tin-lane", *DAY),
        ("cost", "tin-lane", *DAY),
        ("metal", "tin-lane", "list", *DAY),
        ("metal", "tin-lane", "add", "Ag", "40.00", "--date", "2026-11-20", "--yes"),
        ("reprice", "tin-lane", *DAY),
        ("editions", "tin-lane"),
        ("study", "tin-lane", "breakeven", *DAY),
        ("export", "tin-lane", "xlsx", *DAY, "--to", "book.xlsx"),
    ],
    ids=lambda words: " ".join(words[:3]),
)
def test_every_command_finishes_it_and_says_so(folder, troytag, words):
    ran = troytag(*words)
    assert ran.code == 0, ran.err
    assert FINISHED in " ".join(ran.err.split())
    assert is_finished(folder)
    assert "interrupted" not in troytag(*words[:3]).err


def test_in_json_it_is_among_the_warnings(folder, troytag):
    told = json.loads(troytag("check", folder, *DAY, "--json").out)
    assert [each["file"] for each in told["warnings"]][:1] == [JOURNAL]


def test_the_page_finishes_it_and_says_so(folder):
    workspace = Workspace(folder)
    workspace.look()
    assert FINISHED in workspace.noted()
    assert is_finished(folder)


def test_in_a_folder_that_may_not_be_written_to_it_is_told_and_nothing_is_reckoned_from_half(
    folder, troytag, monkeypatch
):
    def refused(*_, **__):
        raise OSError(errno.EROFS, os.strerror(errno.EROFS))

    monkeypatch.setattr(os, "replace", refused)
    for words in (("check", folder, *DAY), ("cost", folder, *DAY), ("metal", folder, "list"), ("editions", folder)):
        ran = troytag(*words)
        told = " ".join((ran.out + ran.err).split())
        assert ran.code == 1 and "cannot be finished (Read-only file system), so half of it stands here" in told
