"""A folder of prices is replaced so that a kill at any moment leaves the older or the newer one, and settles."""

from __future__ import annotations

import errno
import json
import os
import shutil
from pathlib import Path

import pytest

from pricing.errors import TroytagError
from pricing.many.exchange import JOURNAL, MADE, aside_of, folder_of, put_in, settle, which
from tests.many.conftest import put

OLD, NEW = {"part-000000.parquet": b"old", "part-000001.parquet": b"old"}, {"part-000000.parquet": b"new"}


class Killed(BaseException):
    """What ends an exchange here in place of a kill: nothing is put right behind it."""


@pytest.fixture
def target(tmp_path):
    put(folder_of(tmp_path / "prices"), {**NEW, JOURNAL: b"{}"})
    return put(tmp_path / "prices", OLD)


def held(folder: Path) -> dict[str, bytes]:
    return {each.name: each.read_bytes() for each in folder.iterdir()}


def planted(monkeypatch, kill_at: int) -> list[str]:
    """Counts all that changes folders, and kills instead of the one of this number."""
    done: list[str] = []

    def plant(owner, name):
        real = getattr(owner, name)

        def instead(*given, **named):
            if len(done) == kill_at:
                raise Killed
            done.append(name)
            return real(*given, **named)

        monkeypatch.setattr(owner, name, instead)

    for owner, name in ((os, "rename"), (shutil, "rmtree"), (Path, "unlink")):
        plant(owner, name)
    return done


@pytest.mark.parametrize("kill_at", range(4))
@pytest.mark.parametrize("again", [False, True])
def test_a_kill_between_any_two_steps_leaves_one_of_the_two(target, monkeypatch, kill_at, again):
    """Before the older one is put aside, the new one put in, the older one swept, the journal taken away.

    `again`: the run that settles is killed, too, before its first step.
    """
    with monkeypatch.context() as patched:
        planted(patched, kill_at)
        with pytest.raises(Killed):
            put_in(folder_of(target), target, True)
    if again:
        with monkeypatch.context() as patched:
            planted(patched, 0)
            try:
                settle(target)
            except Killed:
                pass
    told = settle(target)
    assert not aside_of(target).exists()
    if kill_at < 2:  # what was made by then is there to be continued
        assert held(target) == OLD and held(folder_of(target)) == {**NEW, JOURNAL: b"{}"}
        assert "was to replace stand there again" in told or kill_at == 0
    else:
        assert told == f"A run before was stopped at {target}: its prices are whole, and what it replaced is swept."
        assert held(target) == NEW and not folder_of(target).exists()


def test_it_has_four_steps(target, monkeypatch):
    """So that a fifth one is not forgotten above; and nothing is left of them."""
    steps = planted(monkeypatch, -1)
    put_in(folder_of(target), target, True)
    assert steps == ["rename", "rename", "rmtree", "unlink"] and held(target) == NEW and settle(target) == ""
    assert [each.name for each in target.parent.iterdir()] == ["prices"]


def test_the_parts_of_a_file_that_is_whole_are_swept_and_that_is_told(tmp_path):
    file = tmp_path / "prices.parquet"
    file.write_bytes(b"prices")
    put(folder_of(file), {"part-000000.parquet": b"a part", JOURNAL: json.dumps({MADE: which(file)}).encode()})
    swept = "its prices are whole, and the parts that they were made of are swept"
    assert settle(file) == f"A run before was stopped at {file}: {swept}."
    assert [each.name for each in tmp_path.iterdir()] == [file.name] and settle(file) == ""


def test_a_sweep_that_is_killed_halfway_is_completed(target, monkeypatch):
    def half(folder):
        next(iter(sorted(folder.iterdir()))).unlink()
        raise Killed

    with monkeypatch.context() as patched:
        patched.setattr(shutil, "rmtree", half)
        with pytest.raises(Killed):
            put_in(folder_of(target), target, True)
    settle(target)
    assert held(target) == NEW and not aside_of(target).exists()


def test_where_the_system_refuses_the_older_one_goes_back(target, monkeypatch):
    real = os.rename

    def refuses(source, goal):
        if source == folder_of(target):
            raise OSError(errno.EACCES, "refused")
        real(source, goal)

    monkeypatch.setattr(os, "rename", refuses)
    with pytest.raises(TroytagError, match=r"prices cannot be written \(refused\)"):
        put_in(folder_of(target), target, True)
    assert held(target) == OLD and not aside_of(target).exists() and JOURNAL in held(folder_of(target))


def test_what_was_put_there_after_a_kill_stays(target, monkeypatch):
    """Somebody makes a folder of the name while the older one lies aside: neither is touched unasked."""
    with monkeypatch.context() as patched:
        planted(patched, 1)
        with pytest.raises(Killed):
            put_in(folder_of(target), target, True)
    put(target, {"part-000000.parquet": b"other"})
    settle(target)
    assert held(target) == {"part-000000.parquet": b"other"} and held(aside_of(target)) == OLD
    put_in(folder_of(target), target, True)
    assert held(target) == NEW and not aside_of(target).exists()


def test_a_link_to_a_folder_stays_one(target):
    link = target.parent / "link"
    link.symlink_to(target)
    assert folder_of(link) == folder_of(target)
    put_in(folder_of(link), link, True)
    assert link.is_symlink() and held(target) == NEW
