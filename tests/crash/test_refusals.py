"""A disk that is full or may not be written to: wherever it refuses, that is told, and nothing is torn or lost."""

from __future__ import annotations

import errno
import io
import os
from pathlib import Path

import pytest

from pricing.errors import TroytagError
from tests.crash.killing import READY, unfinished
from tests.crash.kinds import KINDS

pytestmark = pytest.mark.slow

WRITES = ("publish", "import", "save", "metal-add", "start")
#: No write makes so many calls of one kind.
MOST_CALLS = 40


class Written(Exception):
    """One write went well."""


def once(kind, root: Path, armed) -> str:
    """One write under a disk that refuses from when it is ready; what was told where it failed, "" where it did not."""

    def tell(word: object) -> None:
        if word == READY:
            armed()
        else:
            raise Written

    try:
        kind.work(root, tell)
    except Written:
        return ""
    except TroytagError as told:
        return str(told)
    raise AssertionError("it ends with one or the other")


def refusing(monkeypatch, call: str, number: int, place: int, for_good: bool):
    """Makes a call of the system refuse at its `place`, and from then on if it is for good."""
    real, calls = getattr(os, call), iter(range(10_000))

    def perhaps(*words, **more):
        now = next(calls)
        if now == place or (for_good and now > place):
            raise OSError(number, os.strerror(number))
        return real(*words, **more)

    def armed() -> None:
        monkeypatch.setattr(os, call, perhaps)

    return armed


@pytest.mark.parametrize("for_good", [False, True], ids=["once", "for good"])
@pytest.mark.parametrize("call", ["fsync", "replace", "link"])
@pytest.mark.parametrize("name", WRITES)
def test_a_disk_that_is_full(name, call, for_good, tmp_path, monkeypatch):
    """The first call fails, then the second, and so on until none is left to fail."""
    kind, root, failed, went_well = KINDS[name](), tmp_path / "workshop", 0, 0
    kind.prepare(root)
    for place in range(0, MOST_CALLS, 6 if name == "start" else 1):  # a new folder takes its time
        before = kind.look(root)
        with monkeypatch.context() as patched:
            told = once(kind, root, refusing(patched, call, errno.ENOSPC, place, for_good))
        failed += bool(told)
        after = kind.look(root)  # as the next command: it finishes what it must, and finds nothing torn
        assert after in (before, [*before, len(before) + 1]), (place, told)
        if not told:
            assert after != before
        assert "No space left on device" in told or not told
        assert unfinished(root) == []
        went_well = 0 if told else went_well + 1
        if went_well == 2:
            break
    uses_no_link = name == "metal-add" and call == "link"
    uses_no_replace = name in ("publish", "start") and call == "replace"
    assert failed > 0 or uses_no_link or uses_no_replace


@pytest.mark.parametrize("name", WRITES)
def test_a_folder_that_may_not_be_written_to(name, tmp_path, monkeypatch):
    """Monkeypatched: these tests may run as one whom no right stops. Every way to write refuses, from the first on."""
    kind, root = KINDS[name](), tmp_path / "workshop"
    kind.prepare(root)
    before = kind.look(root)
    number = errno.EROFS
    with monkeypatch.context() as patched:
        real_open = io.open

        def no_writing(file, mode="r", *words, **more):
            if set(mode) & set("wxa+"):
                raise OSError(number, os.strerror(number), str(file))
            return real_open(file, mode, *words, **more)

        def armed() -> None:
            patched.setattr(io, "open", no_writing)
            for call in ("link", "replace", "rename", "mkdir", "unlink"):
                patched.setattr(os, call, lambda *_, **__: no_writing("", "w"))

        told = once(kind, root, armed)
    assert "Read-only file system" in told
    assert kind.look(root) == before and unfinished(root) == []
