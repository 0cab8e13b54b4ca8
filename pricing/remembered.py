"""What was worked out before, in the user's cache folder, never in the workshop folder: the one way to it.

Nothing here may fail a command: what cannot be read is taken as absent, what cannot be written is left. What is kept
under a name is believed only where it is whole (its hash stands before it) and where nobody but this user can have
written it; who can write as this user can change the workshop folder itself, and so gains nothing here. It is data,
never something that is run when it is read.
"""

from __future__ import annotations

import hashlib
import os
import stat
import sys
import time
from contextlib import suppress
from functools import cache
from pathlib import Path
from typing import Literal

from pricing import __version__
from pricing.reading import NotRead, read_file
from pricing.safe_files import is_unfinished, sweep, unfinished

#: Names the cache folder, or `off` for none.
VARIABLE = "TROYTAG_CACHE"
#: What is kept: figures and pictures of meshes, files of workshop folders as they were parsed, what was found between
#: them, the rows that they come to, what names mean, compiled formulas, what whole commands said.
Kind = Literal["meshes", "parsed", "checked", "resolved", "words", "kernels", "answers"]
_HASH = 64
#: When this program was begun, in seconds: what of its sources is newer may be another program. A file that was written
#: so shortly before may be written again without looking any different: clocks go in steps, of 0.01 s at most where a
#: program is worked on.
_BEGUN, SETTLES_AFTER = time.time(), 0.1


def cache_folder(kind: Kind) -> Path | None:
    """Where things of a kind are kept, or None where the maker wants none."""
    chosen = os.environ.get(VARIABLE)
    if chosen == "off":
        return None
    if chosen:
        return Path(chosen) / kind
    from platformdirs import user_cache_path

    folder = user_cache_path("troytag", appauthor=False) / kind
    # Where there is no home it is a relative path, which could come to lie in the workshop folder.
    return folder if folder.is_absolute() else None


def recalled(kind: Kind, name: str, most: int) -> bytes | None:
    """What was kept under this name, of at most so many bytes; None where there is nothing that may be believed."""
    folder = cache_folder(kind)
    if folder is None:
        return None
    try:
        content = _written_by_oneself(folder, name, most + _HASH)
    except (NotRead, OSError):
        return None
    told, inside = content[:_HASH], content[_HASH:]
    return inside if told == _bound(name, inside) else None


def keep(kind: Kind, name: str, content: bytes) -> None:
    """Keep something under this name, whole or not at all, for nobody but this user to write to."""
    folder = cache_folder(kind)
    if folder is None:
        return
    with suppress(OSError):
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        if not _is_ones_own(os.stat(folder)):  # made by an earlier release, as open as other folders
            os.chmod(folder, 0o700)
        with unfinished(folder / name, _bound(name, content) + content) as beside:
            os.chmod(beside, 0o600)
            os.replace(beside, folder / name)


def sweep_kept(kind: Kind, most_bytes: int, most_files: int) -> None:
    """Forget what was kept first of a kind, until no more is left than so many bytes and files."""
    folder = cache_folder(kind)
    if folder is None:
        return
    sweep(folder)
    with suppress(OSError):
        with os.scandir(folder) as entries:
            found = [(each.stat(follow_symlinks=False), each.path) for each in entries if not is_unfinished(each.name)]
        total = 0
        for number, (marks, path) in enumerate(sorted(found, key=lambda each: -each[0].st_mtime_ns), start=1):
            total += marks.st_size
            if total > most_bytes or number > most_files:
                os.unlink(path)


@cache
def program() -> str | None:
    """What tells this program from every other, also in a checkout that is worked on: a hash of its sources' marks.

    None where nobody can say, since they are not there or were written to while it runs, or so shortly before that
    another content might look the same.
    """
    told: list[str] = [__version__, sys.version]
    folders = [os.fspath(Path(__file__).parent)]
    none_yet = len(told)
    latest = (_BEGUN - SETTLES_AFTER) * 1e9
    try:
        while folders:
            with os.scandir(folders.pop()) as entries:
                for entry in sorted(entries, key=lambda entry: entry.name):
                    if entry.name.endswith(".py"):
                        marks = entry.stat()
                        if max(marks.st_mtime_ns, marks.st_ctime_ns) >= latest:
                            return None
                        told.append(
                            f"{entry.path} {marks.st_size} {marks.st_mtime_ns} {marks.st_ctime_ns} {marks.st_ino}"
                        )
                    elif "." not in entry.name and entry.name != "__pycache__" and entry.is_dir():
                        folders.append(entry.path)
    except OSError:
        return None
    return hashlib.sha256("\n".join(told).encode()).hexdigest() if len(told) > none_yet else None


def is_same_program() -> bool:
    """Whether the sources still are those that `program` told: nobody has written to them while it ran."""
    return program() is not None and program.__wrapped__() == program()


def name_for(folder: Path) -> str:
    """The name under which something of a workshop folder is kept, by where it lies."""
    place = os.path.realpath(folder)
    return f"{hashlib.sha256(os.fsencode(place)).hexdigest()[:32]}.kept"


def _written_by_oneself(folder: Path, name: str, most: int) -> bytes:
    """A file of a folder that only this user can have written. Raises OSError or NotRead where there is none.

    The folder and the file are looked at through the very handles that are read from: nobody can put another one in
    the place of either in between.
    """
    if not hasattr(os, "geteuid"):
        return read_file(folder / name, most)
    there = os.open(folder, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        handle = os.open(name, os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC, dir_fd=there)
        with open(handle, "rb") as file:
            found = os.fstat(handle)
            own = _is_ones_own(os.fstat(there)) and _is_ones_own(found) and stat.S_ISREG(found.st_mode)
            if not own or found.st_size > most:
                raise PermissionError(f"{name} may be somebody else's, or is too large")
            return file.read(most)
    finally:
        os.close(there)


def _bound(name: str, content: bytes) -> bytes:
    """Ties what is kept to its name, so that what is half written or put under another name is not believed."""
    return hashlib.sha256(name.encode() + b" " + content).hexdigest().encode()


def _is_ones_own(found: os.stat_result) -> bool:
    """Whether only this user can have written there, as far as the system tells."""
    return not hasattr(os, "geteuid") or (found.st_uid == os.geteuid() and not found.st_mode & 0o022)
