"""Every kind of write on a real disk that is full or read-only: `python -m tests.benchmarks.full_disk [KIND…]`.

Needs the rights to mount: each kind is written to a small disk in memory, which is left less and less room, to nothing,
then made read-only. Prints how often it was refused and how often it went well; ends with an error where something is
torn, lost, half-written or left behind, or where it is not told what to do.
"""

from __future__ import annotations

import argparse
import os
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from tests.crash.killing import unfinished
from tests.crash.kinds import KINDS
from tests.crash.test_refusals import MENDS, once

#: A disk in memory gives room by pages of so many bytes.
PAGE = 4096
#: So many pages are left free at first; what is written takes fewer.
ROOM = 40
#: Bytes of the whole disk: a new workshop, and what is written until it is full.
DISK = 4 * 2**20


@contextmanager
def small_disk() -> Iterator[Path]:
    """An empty disk in memory. Raises CalledProcessError where nothing may be mounted."""
    with tempfile.TemporaryDirectory() as name:
        subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={DISK}", "tmpfs", name], check=True)
        try:
            yield Path(name)
        finally:
            subprocess.run(["umount", "--lazy", name], check=True)


def fill(disk: Path, pages: int) -> None:
    """Take all the room of a disk but for so many pages."""
    (disk / "filling").unlink(missing_ok=True)
    with (disk / "filling").open("wb", buffering=0) as filling:
        with suppress(OSError):
            while True:
                filling.write(b"x" * PAGE)
        filling.truncate(max(0, filling.tell() - pages * PAGE))


def tried(name: str) -> Counter[str]:
    """One kind of write with ever less room, then read-only; what came of it."""
    found: Counter[str] = Counter()
    with small_disk() as disk:
        kind, root = KINDS[name](), disk / "workshop"
        kind.prepare(root)
        for pages in range(ROOM, -1, -1):
            found[one(kind, root, lambda pages=pages: fill(disk, pages), "No space left on device")] += 1
            (disk / "filling").unlink(missing_ok=True)
        before = kind.look(root)
        read_only = ["mount", "-o", "remount,ro", str(disk)]
        told = once(kind, root, lambda: subprocess.run(read_only, check=True))
        subprocess.run(["mount", "-o", "remount,rw", str(disk)], check=True)
        assert "Read-only file system" in told and MENDS.search(told), told
        assert kind.look(root) == before and unfinished(root) == []
        found["read-only: refused"] += 1
    return found


def one(kind, root: Path, armed, reason: str) -> str:
    """One write; raises AssertionError where the folder is neither as before nor one write further."""
    before = kind.look(root)
    told = once(kind, root, armed)
    with suppress(OSError):
        (root.parent / "filling").unlink()
    after = kind.look(root)
    assert after in (before, [*before, len(before) + 1]), told
    assert unfinished(root) == [], told
    assert not told or (reason in told and MENDS.search(told)), told
    assert told or after != before
    return "full: refused" if told else "with room: written"


def main() -> None:
    asked = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    asked.add_argument("kinds", nargs="*", metavar="KIND", help=f"what is written: {', '.join(KINDS)}; all if left out")
    os.environ["TROYTAG_CACHE"] = "off"
    for name in asked.parse_args().kinds or [name for name in KINDS if name != "publish-without-links"]:
        found = tried(name)
        print(f"{name}: " + ", ".join(f"{word} {count}" for word, count in sorted(found.items())), flush=True)


if __name__ == "__main__":
    try:
        main()
    except subprocess.CalledProcessError as refused:
        sys.exit(f"nothing may be mounted here: {refused}")
