"""The one way in which a file is written: whole or not at all, and never over another one unasked.

It is written beside its place under a name that nobody reads, brought to the disk, and then put in its place by one
call of the system; the folder is brought to the disk, too. What a killed process leaves under such a name is swept
away by the next writer. A change of more than one file goes through `pricing.several_files`, which is made of these.

Between programs of this house a lock on the folder keeps order; it leaves nothing behind, also where a process is
killed. Where the system has no such lock, only the contents that a writer expects to find are left to go by.
"""

from __future__ import annotations

import errno
import hashlib
import os
import re
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from pathlib import Path

from pricing.errors import TroytagError, UsageFault

#: An unfinished file is swept away where its writer is gone, or where it is so many seconds old: nobody writes that
#: long. Only age tells where another machine has written it.
SWEPT_AFTER = 3600.0
#: Names of unfinished files: the place, the machine, the process, something at random.
_UNFINISHED = re.compile(r"\..+\.([0-9a-f]{6})-(\d+)-[0-9a-f]{8}\.unfinished", re.ASCII | re.DOTALL)
#: Names that an earlier release gave them; those tell no machine.
_UNFINISHED_BEFORE = re.compile(r"\.\d{6}-.*\.unfinished|\..+\.[a-z0-9_]{8}\.tmp", re.ASCII | re.DOTALL)
#: How the name of a lock file ends, and what stands in it.
_LOCK = ".placing"
_OWNER = re.compile(r"([0-9a-f]{6})-(\d+)", re.ASCII)
#: What a system says that links no files: FAT, exFAT, some network drives.
_NO_LINKS = frozenset(
    getattr(errno, name)
    for name in ("EPERM", "EACCES", "ENOTSUP", "EOPNOTSUPP", "ENOSYS", "EINVAL", "EMLINK", "ENOTTY")
    if hasattr(errno, name)
)
#: So many seconds one waits for another to put a file in place where no files are linked.
_PATIENCE = 5.0


def check_free(path: Path, force: bool) -> None:
    """Raise UsageFault where a file would be overwritten unasked, or where there is no folder to put it into."""
    try:
        is_folder, stands, parent_is_folder = path.is_dir(), path.exists(), path.absolute().parent.is_dir()
    except OSError as fault:
        raise UsageFault(f"{path} cannot be used ({fault.strerror}). Name another file with --to.") from None
    if is_folder:
        raise UsageFault(f"{path} is a folder. Name a file with --to.")
    if stands and not force:
        raise UsageFault(f"{path} stands already. Name another file with --to, or overwrite it with --force.")
    if not parent_is_folder:
        raise UsageFault(f"{path.parent} is no folder. Make it, or name another with --to.")


@contextmanager
def placed(path: Path, force: bool = False) -> Iterator[Path]:
    """A path beside `path` to write to; it takes the place of `path` once all went well, else nothing is left.

    A link stays a link. Raises UsageFault as `check_free` does, and TroytagError where it cannot be written.
    """
    check_free(path, force)
    target = path.resolve()
    try:
        sweep(target.parent, of=target.name)
        with unfinished(target) as beside:
            yield beside
            if force:
                put_over(beside, target)
            else:
                put_new(beside, target)
            sync_folder(target.parent)
    except FileExistsError:
        raise UsageFault(f"{path} has come into being meanwhile. Overwrite it with --force.") from None
    except OSError as fault:
        raise TroytagError(f"{path} cannot be written ({fault.strerror or fault}); nothing was changed.") from None


def write_whole(target: Path, content: bytes, synced: bool = True) -> None:
    """Put a file in the place of whatever file lies there. Raises OSError, and then nothing has changed.

    Without `synced` it is whole also after a crash of this process, though perhaps not of the machine.
    """
    with unfinished(target, content) as beside:
        if synced:
            put_over(beside, target)
            sync_folder(target.parent)
        else:
            os.replace(beside, target)


@contextmanager
def unfinished(target: Path, content: bytes = b"") -> Iterator[Path]:
    """A new file beside `target`, with the usual rights, and gone afterwards unless it was put in its place."""
    beside = unfinished_name(target)
    try:
        with beside.open("xb") as file:  # with the usual rights, unlike a file of `tempfile`
            file.write(content)
        yield beside
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)


def unfinished_name(target: Path) -> Path:
    """A name beside `target` that nobody reads, and that tells whose it is."""
    called = target.name.encode(errors="replace")[:100].decode(errors="ignore")
    return target.with_name(f".{called}.{machine()}-{os.getpid()}-{os.urandom(4).hex()}.unfinished")


def is_unfinished(name: str) -> bool:
    """Whether a file of this name is one that was not put in its place yet."""
    return bool(_UNFINISHED.fullmatch(name))


def put_over(beside: Path, target: Path) -> None:
    """Put a finished file in the place of another, or where none is; the rights of the other one stay."""
    keep_rights(beside, target)
    sync_file(beside)
    os.replace(beside, target)


def keep_rights(beside: Path, target: Path) -> None:
    """Give a file the rights of the one that it shall replace, if there is one."""
    with suppress(FileNotFoundError):
        wanted = target.stat().st_mode & 0o777
        if beside.stat().st_mode & 0o777 != wanted:  # where rights mean nothing, setting them may be refused
            os.chmod(beside, wanted)


def put_new(beside: Path, target: Path) -> bool:
    """Put a finished file where none is. Raises FileExistsError where one has come into being meanwhile.

    Gives False where the system links no files: then a lock file beside it keeps other programs of this house away,
    and what lies there in the end was read back.
    """
    sync_file(beside)
    try:
        os.link(beside, target)
        return True
    except FileExistsError:
        raise
    except OSError as refused:
        if refused.errno not in _NO_LINKS:
            raise
    with _lock_file(target):
        if os.path.lexists(target):
            raise FileExistsError(errno.EEXIST, os.strerror(errno.EEXIST), str(target))
        meant = beside.read_bytes()
        os.rename(beside, target)
        if target.read_bytes() != meant:
            raise FileExistsError(errno.EEXIST, "another one was put there at the same time", str(target))
    return False


@contextmanager
def _lock_file(target: Path) -> Iterator[None]:
    """Whoever makes this file first goes on, others wait; one that a killed process left is taken away."""
    lock, until = target.with_name(f".{target.name}{_LOCK}"), time.monotonic() + _PATIENCE
    while True:
        try:
            with lock.open("x", encoding="ascii") as file:
                file.write(f"{machine()}-{os.getpid()}")
            break
        except FileExistsError:
            if _is_left_lock(lock):
                lock.unlink(missing_ok=True)
            elif time.monotonic() > until:
                raise BlockingIOError(errno.EAGAIN, f"{lock.name} stands in the way", str(lock)) from None
            else:
                time.sleep(0.02)
    try:
        yield
    finally:
        with suppress(OSError):
            lock.unlink(missing_ok=True)


def _is_left_lock(lock: Path) -> bool:
    """Whether the writer that made a lock file is gone."""
    try:
        with lock.open("rb") as file:
            said = file.read(40).decode("ascii", errors="replace")
        age = time.time() - lock.stat().st_mtime
    except OSError:
        return False
    ours = _OWNER.fullmatch(said)
    return bool(ours or not said) and (age > SWEPT_AFTER or (ours is not None and _is_gone(ours[1], int(ours[2]))))


@contextmanager
def only_writer(folder: Path) -> Iterator[None]:
    """The only writer to this folder among the programs of this house; waits for another one to end."""
    try:
        import fcntl
    except ImportError:  # no such locks on this system
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        with suppress(OSError):  # a file system without locks
            fcntl.flock(handle, fcntl.LOCK_EX)
        yield
    finally:
        os.close(handle)


def sweep(folder: Path, of: str = "") -> None:
    """Take away the unfinished files in a folder whose writers are gone; with `of` only those of that file."""
    with suppress(OSError):
        for entry in [each for each in os.scandir(folder) if each.name.startswith(f".{of}")]:
            if entry.is_file(follow_symlinks=False) and _is_left(entry):
                with suppress(OSError):
                    os.unlink(entry.path)


def _is_left(entry: os.DirEntry[str]) -> bool:
    """Whether this is an unfinished file, or the lock of a writer, that nobody is at any more."""
    if entry.name.endswith(_LOCK):
        return _is_left_lock(Path(entry.path))
    ours = _UNFINISHED.fullmatch(entry.name)
    if not ours and not _UNFINISHED_BEFORE.fullmatch(entry.name):
        return False
    is_old = time.time() - entry.stat(follow_symlinks=False).st_mtime > SWEPT_AFTER
    return is_old or (ours is not None and _is_gone(ours[1], int(ours[2])))


def _is_gone(whose: str, process: int) -> bool:
    """Whether that process of that machine has ended, as far as can be told from here."""
    if whose != machine() or os.name == "nt":  # there, asking a process may end it
        return False
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return True
    except (OSError, OverflowError):
        return False
    return False


@cache
def machine() -> str:
    """A few letters for this machine, and within it for the room in which processes have their numbers."""
    try:
        room = os.readlink("/proc/self/ns/pid")
    except OSError:
        room = ""
    name = os.uname().nodename if hasattr(os, "uname") else os.environ.get("COMPUTERNAME", "")
    return hashlib.sha256(f"{name} {room}".encode()).hexdigest()[:6]


def sync_file(path: Path) -> None:
    """Return once a file's content is on the disk. Raises OSError where the disk refuses."""
    with path.open("rb+") as written:
        os.fsync(written.fileno())


def sync_folder(folder: Path, confirmed: bool = False) -> None:
    """Return once the names in a folder are on the disk; raises OSError only where that must be `confirmed`."""
    try:
        handle = os.open(folder, os.O_RDONLY)
    except OSError:  # not every system opens folders
        if confirmed and os.name != "nt":
            raise
        return
    try:
        os.fsync(handle)
    except OSError:
        if confirmed:
            raise
    finally:
        os.close(handle)
