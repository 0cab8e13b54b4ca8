"""An edition is published whole or not at all, and never over another."""

from __future__ import annotations

import errno
import json
import os
import resource
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from pricing.editions.chain import chain_faults, newest, numbers, read
from pricing.editions.publishing import publish
from pricing.errors import TroytagError
from pricing.safe_files import SWEPT_AFTER
from tests.editions.small_editions import content
from tests.waiting import LONG

CHECKOUT = Path(__file__).parents[2]
PROCESS = (sys.executable, "-m", "tests.editions.publishing_process")


def files_in(root: Path) -> list[str]:
    return sorted(path.name for path in (root / "editions").iterdir())


def test_editions_are_numbered_and_chained(tmp_path):
    first = publish(tmp_path, content("2026-11-20"), None)
    second = publish(tmp_path, content("2026-11-21", "later"), first)
    assert files_in(tmp_path) == ["000001.json", "000002.json", "HEAD"]
    assert (first.content["previous"], second.content["previous"]) == (None, first.sha256)
    assert newest(tmp_path) == read(tmp_path, 2) == second
    assert chain_faults(tmp_path) == []


def test_what_is_read_is_what_was_published(tmp_path):
    said = content() | {"odd": [0.1 + 0.2, 1e-300, -0.0, 12345678901234567.0, "£ ☃", None, True]}
    assert publish(tmp_path, said, None).content == read(tmp_path, 1).content
    assert read(tmp_path, 1).content["odd"] == said["odd"]


def test_it_is_on_the_disk_before_it_has_its_name_and_the_name_before_it_is_told(tmp_path, monkeypatch):
    done = []
    fsync, link = os.fsync, os.link
    monkeypatch.setattr(os, "fsync", lambda handle: (done.append(kind_of(handle)), fsync(handle)))
    monkeypatch.setattr(os, "link", lambda beside, name: (done.append("link"), link(beside, name)))
    publish(tmp_path, content(), None)
    # The folder of editions, and the one it was made in; then HEAD, which is replaced and not linked.
    assert done == ["file", "link", "folder", "folder", "file", "folder"]


def kind_of(handle: int) -> str:
    return "folder" if os.path.isdir(f"/proc/self/fd/{handle}") else "file"


@pytest.mark.skipif(not Path("/proc/self/fd").exists(), reason="needs /proc")
def test_the_test_above_can_tell_files_from_folders(tmp_path):
    handle = os.open(tmp_path, os.O_RDONLY)
    assert kind_of(handle) == "folder"
    os.close(handle)


def test_a_taken_number_is_refused_and_nothing_is_left(tmp_path):
    first = publish(tmp_path, content(), None)
    with pytest.raises(TroytagError, match="another 000001.json was published meanwhile; nothing of yours"):
        publish(tmp_path, content(note="second thought"), None)
    assert files_in(tmp_path) == ["000001.json", "HEAD"]
    assert newest(tmp_path) == first


def test_a_day_before_the_edition_in_force_is_refused(tmp_path):
    first = publish(tmp_path, content("2026-11-20"), None)
    with pytest.raises(TroytagError, match="edition 1 is of 2026-11-20; an edition of 2026-11-19 would come before it"):
        publish(tmp_path, content("2026-11-19"), first)
    assert publish(tmp_path, content("2026-11-20"), first).number == 2


@pytest.mark.parametrize("name", ["fsync", "link"])
def test_a_write_error_publishes_nothing_and_is_told(tmp_path, monkeypatch, name):
    first = publish(tmp_path, content(), None)

    def full(*_):
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    monkeypatch.setattr(os, name, full)
    with pytest.raises(
        TroytagError, match="edition 2 could not be written .No space left on device.; nothing is publish"
    ):
        publish(tmp_path, content("2026-11-21"), first)
    monkeypatch.undo()
    assert files_in(tmp_path) == ["000001.json", "HEAD"]
    assert publish(tmp_path, content("2026-11-21"), first).number == 2


def test_an_edition_whose_folder_is_not_confirmed_is_not_told_as_published(tmp_path, monkeypatch):
    (tmp_path / "editions").mkdir()
    fsync = os.fsync

    def only_files(handle):
        if kind_of(handle) == "folder":
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        fsync(handle)

    monkeypatch.setattr(os, "fsync", only_files)
    with pytest.raises(TroytagError, match="the disk did not confirm that it is kept"):
        publish(tmp_path, content(), None)
    assert chain_faults(tmp_path) == []


@contextmanager
def no_file_grows_beyond(most: int) -> Iterator[None]:
    """The system refuses whoever writes on behind so many bytes of a file, this process too."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.mark.parametrize("most", [0, 1, 8192, 50_000])
def test_a_file_that_cannot_grow_is_told_and_leaves_nothing(tmp_path, most):
    """The system itself refuses to write on behind so many bytes; 2000 rows take more than 100,000."""
    first, second = publish(tmp_path, content(), None), content(rows=2000)
    with (
        no_file_grows_beyond(most),
        pytest.raises(TroytagError, match=r"^edition 2 could not be written \(File too large\)"),
    ):
        publish(tmp_path, second, first)
    assert files_in(tmp_path) == ["000001.json", "HEAD"]


def test_of_several_who_publish_at_once_one_has_the_number(tmp_path):
    words = [*PROCESS, str(tmp_path), "500", "waits"]
    pipes = {"stdin": subprocess.PIPE, "stdout": subprocess.PIPE, "text": True}
    processes = [subprocess.Popen(words, cwd=CHECKOUT, **pipes) for _ in range(4)]
    try:
        for process in processes:
            assert process.stdout.readline() == "ready\n"
        for number in range(1, 6):
            for process in processes:
                assert process.stdout.readline() == "looked\n"  # all have seen the same edition in force
            for process in processes:
                process.stdin.write("go\n")
                process.stdin.flush()
            told = sorted(process.stdout.readline().strip() for process in processes)
            assert told == [str(number), "refused", "refused", "refused"]
    finally:
        for process in processes:
            process.stdin.close()
            process.wait(timeout=LONG)
            process.stdout.close()
    assert numbers(tmp_path) == [1, 2, 3, 4, 5]
    assert chain_faults(tmp_path) == []


def test_what_a_killed_process_left_is_swept_away_when_it_is_old(tmp_path):
    (tmp_path / "editions").mkdir()
    old, new = (tmp_path / "editions" / f".000001-{name}.unfinished" for name in ("old", "new"))
    for path in (old, new):
        path.write_bytes(b"{")
    then = time.time() - SWEPT_AFTER - 1
    os.utime(old, (then, then))
    publish(tmp_path, content(), None)
    assert files_in(tmp_path) == [".000001-new.unfinished", "000001.json", "HEAD"]
    assert chain_faults(tmp_path) == []


def test_an_edition_can_be_compared_line_by_line(tmp_path):
    """The prices of a variant stand on one line: the file is a document that any program reads, too."""
    publish(tmp_path, content(), None)
    text = (tmp_path / "editions" / "000001.json").read_text(encoding="utf-8")
    assert '    ["piece-1", "tin", 0, 0.125, null, 0]' in text  # in the first channel, by the first decision
    said = json.loads(text)["edition"]["prices"]
    assert (said["channels"], said["decided"]) == (["shop"], [["2026-11-20", 1, "new", ""]])
    assert json.loads(text)["edition"]["whole"] == [[1.0, 2.5], [None, 0.1]]
