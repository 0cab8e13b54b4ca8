"""Files of the folder put in their place whole or not at all, by one writer at a time.

Between programs of this house a lock on the folder keeps order; it leaves nothing behind, also where a process is
killed. Everybody else (an editor, a synced drive) is noticed by the content hash of what lies there. Where the system
has no such lock, only the hash is left, and two writers within the same few milliseconds are not told apart.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

from pricing.errors import Faults, UsageFault
from pricing.folder.toml.text import content_hash, read_content, whole_file


def hash_of(root: Path, file: str) -> str | None:
    """The content hash of a file of the folder as it lies there now; None where there is none."""
    return content_hash(read_content(root, file)) if (root / file).exists() else None


@contextmanager
def held(root: Path) -> Iterator[None]:
    """The only writer to this folder; waits for another one to end. Raises UsageFault where there is no such folder."""
    if not root.is_dir():
        raise UsageFault(f"{root}: there is no such folder. Name a workshop folder, one with workshop.toml in it.")
    try:
        import fcntl
    except ImportError:  # no such locks on this system
        yield
        return
    folder = os.open(root, os.O_RDONLY)
    try:
        with suppress(OSError):  # a file system without locks
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def put_in_place(root: Path, file: str, content: bytes, expected: str | None) -> str:
    """Write a file whole, in the place of the one whose content hash is `expected` (None: of none); gives its hash.

    Raises Faults where another one lies there, and where it cannot be written; then nothing has changed.
    """
    path = (root / file).resolve()  # a link stays a link
    beside = ""
    try:
        path.parent.mkdir(exist_ok=True)
        handle, beside = tempfile.mkstemp(dir=path.parent, prefix=f".{path.name}.", suffix=".tmp")
        with open(handle, "wb") as written:
            written.write(content)
            written.flush()
            os.fsync(handle)
        os.chmod(beside, _mode(path))
        if hash_of(root, file) != expected:
            raise changed_meanwhile(file)
        if expected is None:
            _link(beside, path, file)
        else:
            os.replace(beside, path)
        _fsync_folder(path.parent)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        mend = "See whether the disk is full or the folder may not be written to."
        raise whole_file(file, f"this file cannot be written ({reason}); nothing was changed", mend) from None
    finally:
        if beside:
            Path(beside).unlink(missing_ok=True)
    return content_hash(content)


def changed_meanwhile(file: str) -> Faults:
    """The fault of a file that somebody else has written to."""
    problem = "this file was changed since it was read, and nothing was written"
    return whole_file(file, problem, "Look at it again, then repeat the change.")


def _link(beside: str, path: Path, file: str) -> None:
    """Put a new file in place where none is; one that has come into being meanwhile stays."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise changed_meanwhile(file) from None
    except OSError:  # a file system without hard links
        os.replace(beside, path)


def _mode(path: Path) -> int:
    """The rights of the file that is replaced; for a new one the usual ones."""
    if path.exists():
        return path.stat().st_mode & 0o777
    mask = os.umask(0)
    os.umask(mask)
    return 0o666 & ~mask


def _fsync_folder(folder: Path) -> None:
    with suppress(OSError):  # not every system opens folders
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
