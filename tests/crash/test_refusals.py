"""A disk that is full or may not be written to: wherever it refuses, that is told, and nothing is torn or lost."""

from __future__ import annotations

import errno
import io
import os
import re
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import pytest

from pricing.errors import TroytagError
from tests.crash.killing import READY, unfinished
from tests.crash.kinds import KINDS

pytestmark = pytest.mark.slow

WRITES = ("publish", "import", "save", "metal-add", "start", "stock", "log")
STRIDES: Mapping[str, int] = MappingProxyType({"start": 8, "save": 2, "import": 2})
#: Writing out a file, having it kept, and the two ways to put it in its place.
CALLS = ("write", "fsync", "replace", "link")
#: No write makes so many calls of one kind.
MOST_CALLS = 40


#: What to do is said each time: look at the disk, go somewhere else, or that the next command finishes it.
MENDS = re.compile(r"See whether the disk|Name another folder|next command on this folder finishes it")


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
    calls = iter(range(10_000))

    def may_refuse(real):
        def perhaps(*words, **more):
            now = next(calls)
            if now == place or (for_good and now > place):
                raise OSError(number, os.strerror(number))
            return real(*words, **more)

        return perhaps

    real_open = io.open

    def opened(file, mode="r", *words, **more):
        """A file whose `write` may refuse: what a full disk has no room for."""
        found = real_open(file, mode, *words, **more)
        return Watched(found, may_refuse(found.write)) if set(mode) & set("wxa+") else found

    def armed() -> None:
        if call == "write":
            monkeypatch.setattr(io, "open", opened)
        else:
            monkeypatch.setattr(os, call, may_refuse(getattr(os, call)))

    return armed


class Watched:
    """A file with another `write`."""

    def __init__(self, file, write):
        self.file, self.write = file, write

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.file.close()

    def __getattr__(self, name):
        return getattr(self.file, name)


@pytest.mark.parametrize("for_good", [False, True], ids=["once", "for good"])
@pytest.mark.parametrize(("name", "call"), [
    # New folders are put in their place as an import is, and take their time: one call is enough of them.
    (name, call) for name in WRITES for call in CALLS if name != "start" or call == "write"
])  # fmt: skip
def test_a_disk_that_is_full(name, call, for_good, tmp_path, monkeypatch):
    """The first call fails, then the second, and so on until none is left to fail.

    Of writes that take their time, odd ones fail once and even ones for good, or some of them.
    """
    kind, root, failed, went_well = KINDS[name](), tmp_path / "workshop", 0, 0
    kind.prepare(root)
    stride = STRIDES.get(name, 1) if call in ("write", "fsync") else 1
    for place in range(int(for_good and stride > 1), MOST_CALLS, stride):
        before = kind.look(root)
        with monkeypatch.context() as patched:
            told = once(kind, root, refusing(patched, call, errno.ENOSPC, place, for_good))
        failed += bool(told)
        after = kind.look(root)  # as the next command: it finishes what it must, and finds nothing torn
        assert after in (before, [*before, len(before) + 1]), (place, told)
        if not told:
            assert after != before
        assert not told or ("No space left on device" in told and MENDS.search(told)), told
        assert unfinished(root) == []
        went_well = 0 if told else went_well + 1
        if went_well == 2:
            break
    uses_no_link = name == "metal-add" and call == "link"
    uses_no_replace = name in ("publish", "stock") and call == "replace"
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
    assert "Read-only file system" in told and MENDS.search(told), told
    assert kind.look(root) == before and unfinished(root) == []
