"""A file is put in its place whole or not at all, and several files of a folder all or none."""

from __future__ import annotations

import errno
import json
import os
import subprocess
import sys
import time
from hashlib import sha256
from pathlib import Path

import pytest

from pricing import several_files
from pricing.errors import Faults, TroytagError, UsageFault
from pricing.safe_files import SWEPT_AFTER, machine, placed, put_new, sweep, unfinished, unfinished_name, write_whole
from pricing.several_files import JOURNAL, HalfDone, Meanwhile, finish, only_change, place_all, put_all

OLD = {"workshop.toml": b"old workshop\n", "products/knob.toml": b"old knob\n"}
NEW = {"workshop.toml": b"new workshop\n", "products/knob.toml": b"new knob\n", "meshes/knob.stl": b"solid\n"}


@pytest.fixture
def root(tmp_path):
    for file, content in OLD.items():
        (tmp_path / file).parent.mkdir(exist_ok=True)
        (tmp_path / file).write_bytes(content)
    return tmp_path


def everything(root: Path) -> dict[str, bytes]:
    return {path.relative_to(root).as_posix(): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def hash_of(content: bytes | None) -> str | None:
    return None if content is None else sha256(content).hexdigest()


def change(root: Path) -> None:
    with only_change(root):
        put_all(root, NEW, {file: hash_of(OLD.get(file)) for file in NEW}, "a test")


def killed_after(monkeypatch, root: Path, puts: int) -> None:
    """The change broken off after so many files stand in their places, nothing tidied up, as a kill leaves it."""
    put, done = several_files._put, []

    def counted(*words):
        if len(done) == puts:
            os._exit(9)
        done.append(put(*words))

    process = os.fork()
    if process == 0:
        monkeypatch.setattr(several_files, "_put", counted)
        change(root)
        os._exit(0)
    assert os.waitstatus_to_exitcode(os.waitpid(process, 0)[1]) == 9
    assert (root / JOURNAL).exists()


# ---- one file


def test_a_file_keeps_its_rights_and_nothing_lies_beside_it(root):
    (root / "workshop.toml").chmod(0o640)
    write_whole(root / "workshop.toml", b"new")
    assert (root / "workshop.toml").stat().st_mode & 0o777 == 0o640
    assert everything(root) == {**OLD, "workshop.toml": b"new"}


@pytest.mark.parametrize("call", ["fsync", "replace"])
def test_a_full_disk_leaves_the_file_as_it_was(root, monkeypatch, call):
    monkeypatch.setattr(os, call, refused(errno.ENOSPC))
    with pytest.raises(OSError, match="No space left"):
        write_whole(root / "workshop.toml", b"new")
    assert everything(root) == OLD


def refused(number: int):
    def refusing(*_, **__):
        raise OSError(number, os.strerror(number))

    return refusing


def test_unfinished_files_are_swept_once_their_writers_are_gone(root):
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    gone = root / f".workshop.toml.{machine()}-{ended.pid}-0123abcd.unfinished"
    mine = unfinished_name(root / "workshop.toml")
    elsewhere = root / f".workshop.toml.{'0' * 6}-{ended.pid}-0123abcd.unfinished"
    old = root / f".workshop.toml.{'1' * 6}-{ended.pid}-0123abcd.unfinished"
    of_before = root / ".workshop.toml.a1b2c3d4.tmp"
    of_others = [root / name for name in ("notes.tmp", ".notes.unfinished", ".hidden", ".x.placing")]
    for path in (gone, mine, elsewhere, old, of_before, *of_others):
        path.write_bytes(b"half")
    then = time.time() - SWEPT_AFTER - 1
    for path in (old, of_before, *of_others):
        os.utime(path, (then, then))
    sweep(root)
    left = {path.name for path in root.iterdir()} - {"workshop.toml", "products"}
    assert left == {mine.name, elsewhere.name, *(path.name for path in of_others)}


def test_an_export_sweeps_what_a_killed_one_of_the_same_name_left(root):
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    left = [root / f".{name}.{machine()}-{ended.pid}-0123abcd.unfinished" for name in ("list.pdf", "other.pdf")]
    for path in left:
        path.write_bytes(b"half")
    with placed(root / "list.pdf") as beside:
        beside.write_bytes(b"whole")
    assert (root / "list.pdf").read_bytes() == b"whole"
    assert [path.exists() for path in left] == [False, True]


@pytest.mark.parametrize("number", [errno.EPERM, errno.EOPNOTSUPP, errno.ENOSYS])
def test_without_hard_links_a_lock_file_keeps_others_away(root, monkeypatch, number):
    monkeypatch.setattr(os, "link", refused(number))
    with unfinished(root / "new.toml", b"new") as beside:
        assert put_new(beside, root / "new.toml") is False
    with unfinished(root / "workshop.toml", b"new") as beside, pytest.raises(FileExistsError):
        put_new(beside, root / "workshop.toml")
    assert everything(root) == {**OLD, "new.toml": b"new"}


def test_without_hard_links_a_lock_that_is_held_is_waited_for_and_one_that_was_left_is_not(root, monkeypatch):
    monkeypatch.setattr(os, "link", refused(errno.EPERM))
    monkeypatch.setattr("pricing.safe_files._PATIENCE", 0.1)
    lock = root / ".new.toml.placing"
    lock.write_text(f"{machine()}-{os.getpid()}")
    with unfinished(root / "new.toml", b"new") as beside, pytest.raises(BlockingIOError):
        put_new(beside, root / "new.toml")
    ended = subprocess.Popen([sys.executable, "-c", ""])
    ended.wait()
    lock.write_text(f"{machine()}-{ended.pid}")
    with unfinished(root / "new.toml", b"new") as beside:
        put_new(beside, root / "new.toml")
    assert everything(root) == {**OLD, "new.toml": b"new"}


def test_a_disk_that_is_full_is_no_drive_without_links(root, monkeypatch):
    monkeypatch.setattr(os, "link", refused(errno.ENOSPC))
    with unfinished(root / "new.toml", b"new") as beside, pytest.raises(OSError, match="No space left"):
        put_new(beside, root / "new.toml")
    assert everything(root) == OLD


# ---- several files


def test_all_files_stand_and_nothing_else(root):
    change(root)
    assert everything(root) == {**OLD, **NEW}
    assert finish(root) == ()


def test_where_one_is_another_by_now_none_is_written(root):
    (root / "products/knob.toml").write_bytes(b"typed meanwhile\n")
    with pytest.raises(Meanwhile) as caught:
        change(root)
    assert caught.value.file == "products/knob.toml"
    assert everything(root) == {**OLD, "products/knob.toml": b"typed meanwhile\n"}
    assert not (root / "meshes").exists()


@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EROFS])
@pytest.mark.parametrize("call", ["fsync", "replace", "link"])
def test_at_whatever_call_the_disk_refuses_none_is_written(root, monkeypatch, call, number):
    """The first call that fails, then the second, and so on to the end: every one of them is taken back."""
    real, failed = getattr(os, call), 0
    for place in range(40):
        calls = iter(range(1000))

        def now_and_then(*words, calls=calls, place=place):
            if next(calls) == place:
                raise OSError(number, os.strerror(number))
            return real(*words)

        monkeypatch.setattr(os, call, now_and_then)
        try:
            change(root)
        except OSError:
            failed += 1
            assert everything(root) == OLD, place
        else:
            break
        finally:
            monkeypatch.setattr(os, call, real)
    assert everything(root) == {**OLD, **NEW}
    # files written beside: 3, the journal: 1; replaced: 2; linked: the new one and the journal
    assert failed >= {"fsync": 4, "replace": 2, "link": 2}[call]


def test_where_it_cannot_be_taken_back_either_the_next_reader_finishes_it(root, monkeypatch):
    replace, calls = os.replace, iter(range(100))

    def breaks_down(*words):
        if next(calls) > 0:
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        replace(*words)

    monkeypatch.setattr(os, "replace", breaks_down)
    with pytest.raises(HalfDone, match="the next command on this folder finishes it"):
        change(root)
    monkeypatch.undo()
    (note,) = finish(root)
    assert note.problem.startswith("a change of 3 files (a test, ") and note.problem.endswith(
        "was interrupted and is finished now: workshop.toml, products/knob.toml, meshes/knob.stl"
    )
    assert everything(root) == {**OLD, **NEW}


@pytest.mark.parametrize("puts", [0, 1, 2, 3])
def test_what_a_kill_left_half_done_is_finished_by_the_next_reader(root, monkeypatch, puts):
    if puts == 3:  # all stand, and the journal was not taken away yet
        unlink = Path.unlink
        monkeypatch.setattr(
            Path, "unlink", lambda path, **how: os._exit(9) if path.name == JOURNAL else unlink(path, **how)
        )
    killed_after(monkeypatch, root, puts)
    monkeypatch.undo()
    assert len(finish(root)) == 1
    assert everything(root) == {**OLD, **NEW}
    assert finish(root) == ()


def test_what_was_killed_before_its_journal_stood_is_swept_away(root, monkeypatch):
    process = os.fork()
    if process == 0:
        monkeypatch.setattr(several_files, "_write_journal", lambda *_: os._exit(9))
        change(root)
    os.waitpid(process, 0)
    assert len(everything(root)) == len(OLD) + len(NEW)
    assert finish(root) == ()
    with only_change(root):
        several_files.sweep_all(root, ("", "products", "meshes"))
    assert everything(root) == OLD


def test_a_file_that_somebody_changed_since_is_told_and_nothing_is_touched(root, monkeypatch):
    killed_after(monkeypatch, root, 1)
    (root / "products/knob.toml").write_bytes(b"typed after the kill\n")
    before = everything(root)
    with pytest.raises(Faults, match="interrupted, and products/knob.toml was changed by somebody else since"):
        finish(root)
    with pytest.raises(Faults, match="put right what is not, then delete .unfinished-change.json"):
        change(root)
    assert everything(root) == before


def test_a_change_whose_new_files_are_lost_is_taken_back_where_nothing_was_changed(root, monkeypatch):
    killed_after(monkeypatch, root, 0)
    next(root.glob(".workshop.toml.*.unfinished")).unlink()
    (note,) = finish(root)
    assert "was interrupted and is taken back now" in note.problem
    assert everything(root) == OLD


def test_a_change_whose_new_files_are_lost_is_told_where_something_was(root, monkeypatch):
    killed_after(monkeypatch, root, 1)
    next(root.glob("products/.knob.toml.*.unfinished")).unlink()
    before = everything(root)
    with pytest.raises(Faults, match="what products/knob.toml shall become is not here"):
        finish(root)
    assert everything(root) == before


def of_another_machine(root: Path, begun: str) -> None:
    """The journal as a synced drive would bring it from another machine."""
    journal = json.loads((root / JOURNAL).read_bytes())["change"] | {"machine": "ffffff", "begun": begun}
    body = json.dumps(journal, sort_keys=True).encode()
    (root / JOURNAL).write_text(json.dumps({"change": journal, "sha256": sha256(body).hexdigest()}))


def test_a_journal_of_another_machine_is_waited_for_and_later_finished(root, monkeypatch):
    from datetime import datetime

    killed_after(monkeypatch, root, 1)
    of_another_machine(root, datetime.now().astimezone().isoformat())
    before = everything(root)
    with pytest.raises(Faults, match="is being made from another machine"):
        finish(root)
    assert everything(root) == before
    of_another_machine(root, "2026-11-20T09:00:00+00:00")
    assert len(finish(root)) == 1
    assert everything(root) == {**OLD, **NEW}


def test_a_journal_of_another_machine_without_its_files_is_told_and_nothing_is_touched(root, monkeypatch):
    killed_after(monkeypatch, root, 0)
    of_another_machine(root, "2026-11-20T09:00:00+00:00")
    for path in [*root.rglob(".*.unfinished")]:
        path.unlink()
    before = everything(root)
    with pytest.raises(Faults, match="If the drive is synced, wait until it is in step"):
        finish(root)
    assert everything(root) == before


def test_a_folder_that_may_not_be_written_to_is_told(root, monkeypatch):
    """Monkeypatched: these tests may run as one whom no right stops."""
    killed_after(monkeypatch, root, 1)
    monkeypatch.setattr(os, "replace", refused(errno.EROFS))
    before = everything(root)
    with pytest.raises(Faults, match="cannot be finished .Read-only file system., so half of it stands here. Run the"):
        finish(root)
    assert everything(root) == before
    monkeypatch.undo()
    finish(root)
    assert everything(root) == {**OLD, **NEW}


@pytest.mark.parametrize(
    "content",
    [b"", b"{", b"[" * 200_000, b'{"change": {}}', b'{"change": [], "sha256": 3}', b"\xff\xfe", b"null"],
    ids=["empty", "torn", "deep", "no hash", "odd", "no text", "null"],
)
def test_a_journal_that_is_none_is_told_and_nothing_is_touched(root, content):
    (root / JOURNAL).write_bytes(content)
    with pytest.raises(Faults, match="written down here, and it cannot be read"):
        finish(root)
    assert everything(root) == {**OLD, JOURNAL: content}


def test_a_pipe_or_a_folder_in_place_of_the_journal_is_told(root):
    os.mkfifo(root / JOURNAL)
    with pytest.raises(Faults, match="it cannot be read"):
        finish(root)
    (root / JOURNAL).unlink()
    (root / JOURNAL).mkdir()
    with pytest.raises(Faults, match="it cannot be read"):
        finish(root)


@pytest.mark.parametrize("file", ["../outside.toml", "/tmp/outside.toml", "products/../../outside.toml", ""])
def test_a_journal_that_leads_out_of_the_folder_is_not_believed(root, file):
    beside = unfinished_name(root / "x").name
    body = {"form": 1, "what": "", "begun": "", "machine": machine()}
    body["files"] = [{"file": file, "before": None, "after": hash_of(b""), "beside": beside}]
    said = json.dumps(body, sort_keys=True).encode()
    (root / JOURNAL).write_text(json.dumps({"change": body, "sha256": sha256(said).hexdigest()}))
    with pytest.raises(Faults, match="it is torn"):
        finish(root)


def test_exports_of_several_files_are_all_or_none(root, monkeypatch):
    papers = {root / "list.html": b"<html>", root / "list.pdf": b"%PDF"}
    assert place_all(papers, False, "export") == ()
    with pytest.raises(UsageFault, match="list.html stands already"):
        place_all(papers, False, "export")
    real, calls = os.replace, iter(range(100))

    def second_fails(*words):
        if next(calls) == 1:
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(*words)

    monkeypatch.setattr(os, "replace", second_fails)
    with pytest.raises(TroytagError, match="list.html and list.pdf cannot be written .No space left on device."):
        place_all({path: content + b" again" for path, content in papers.items()}, True, "export")
    monkeypatch.undo()
    assert everything(root) == {**OLD, "list.html": b"<html>", "list.pdf": b"%PDF"}
