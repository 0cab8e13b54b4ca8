"""The page's temporary folder: swept away when the page ends, or at the next start where it could not be.

A page that is killed sweeps nothing. So each folder holds a file that its page keeps locked (where the system has
locks; elsewhere an open file cannot be taken away): a folder whose file is free has no page any more.
"""

from __future__ import annotations

import os
import shutil
import tempfile
import time
from contextlib import suppress
from pathlib import Path

PREFIX = "troytag-page-"
LOCK = "page.lock"
#: Seconds for which a folder is left alone: its page may be just starting.
YOUNG = 60.0


class Scratch:
    """A temporary folder that is this process's own while it is open."""

    def __init__(self) -> None:
        self.path = Path(tempfile.mkdtemp(prefix=PREFIX))
        self._held = (self.path / LOCK).open("wb")
        _lock(self._held.fileno())

    def close(self) -> None:
        """Sweep it away."""
        self._held.close()
        shutil.rmtree(self.path, ignore_errors=True)


def sweep(where: Path | None = None, now: float | None = None) -> list[Path]:
    """Take away the folders of pages that ended without doing so themselves; gives what was taken away."""
    where = where or Path(tempfile.gettempdir())
    now = time.time() if now is None else now
    return [folder for folder in sorted(where.glob(f"{PREFIX}*")) if _is_left_over(folder, now) and _taken_away(folder)]


def _is_left_over(folder: Path, now: float) -> bool:
    try:
        told = folder.lstat()
    except OSError:
        return False
    mine = not hasattr(os, "getuid") or told.st_uid == os.getuid()
    return mine and folder.is_dir() and not folder.is_symlink() and now - told.st_mtime > YOUNG


def _taken_away(folder: Path) -> bool:
    try:
        with (folder / LOCK).open("r+b") as file:
            if not _lock(file.fileno()):
                return False
        (folder / LOCK).unlink()
    except OSError:
        return False
    shutil.rmtree(folder, ignore_errors=True)
    return not folder.exists()


def _lock(handle: int) -> bool:
    """Whether it is locked now, without waiting; where there are no such locks, an open file stays by itself."""
    try:
        import fcntl
    except ImportError:
        return True
    with suppress(OSError):
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        return True
    return False
