"""The one way in which a file is opened to be read: a plain file, of at most so many bytes, without waiting.

A pipe, a device or a link to one would keep a reader waiting or never end; the kind of a file is asked before it is
opened and once more of what was opened. What is read is held in memory whole, so nobody can shorten it meanwhile.
"""

from __future__ import annotations

import os
import stat
from pathlib import Path
from typing import Literal

from pricing.errors import TroytagError, visible

#: Why a file is not read: it is not there, is a folder, is a pipe or a device, is too large, is forbidden, or the disk
#: fails.
Reason = Literal["missing", "folder", "no file", "too large", "forbidden", "broken"]

#: Opened so, a pipe nobody writes to is no wait, and a terminal does not become ours. Not every system has all of them.
_FLAGS = os.O_RDONLY
for _name in ("O_NONBLOCK", "O_CLOEXEC", "O_NOCTTY", "O_BINARY"):
    _FLAGS |= getattr(os, _name, 0)
_CHUNK = 2**20


class NotRead(TroytagError):
    """A file that is not read: `problem` is a sentence without a full stop about "it", `mend` what to do."""

    def __init__(self, path: Path | str, reason: Reason, problem: str, mend: str):
        super().__init__(visible(f"{path}: {problem}. {mend}"))
        self.reason, self.problem, self.mend = reason, problem, mend


def read_file(path: Path | str, most: int) -> bytes:
    """The bytes of a plain file, or of one that a link leads to. Raises NotRead, also where there are more than `most`.

    A file that grows while it is read is counted by what really comes.
    """
    try:
        _check_kind(path, os.stat(path))
        handle = os.open(path, _FLAGS)
        try:
            found = os.fstat(handle)
            _check_kind(path, found)
            if found.st_size > most:
                raise _too_large(path, most)
            return _content(path, handle, found.st_size, most)
        finally:
            os.close(handle)
    except (FileNotFoundError, NotADirectoryError):
        raise NotRead(path, "missing", "there is no such file", "Check the name and the folder.") from None
    except PermissionError:
        raise NotRead(path, "forbidden", "this file may not be read", "Give yourself leave to read it.") from None
    except OSError as error:
        problem = f"this file cannot be read ({error.strerror or type(error).__name__})"
        raise NotRead(path, "broken", problem, "See whether the disk is there.") from None
    except ValueError:  # a zero stands in it
        raise NotRead(path, "broken", "no file can have this name", "Check the name.") from None


def _check_kind(path: Path | str, found: os.stat_result) -> None:
    if stat.S_ISDIR(found.st_mode):
        raise NotRead(path, "folder", "this is a folder, and a file belongs here", "Name the file inside it.")
    if not stat.S_ISREG(found.st_mode):
        mend = "A pipe or a device is not read: put the file itself there."
        raise NotRead(path, "no file", "this is no plain file", mend)


def _content(path: Path | str, handle: int, told: int, most: int) -> bytes:
    """All of it; `told` is its size as the system tells it, so that an honest file is held in memory once."""
    chunks, size, wanted = [], 0, told + 1
    while chunk := os.read(handle, min(wanted, most + 1)):
        size += len(chunk)
        if size > most:
            raise _too_large(path, most)
        chunks.append(chunk)
        if size == told:  # more was asked for, and there is no more
            break
        wanted = _CHUNK
    return b"".join(chunks)


def _too_large(path: Path | str, most: int) -> NotRead:
    return NotRead(
        path, "too large", f"this file has more than {bytes_in_words(most)}", "See whether it is the right one."
    )


def bytes_in_words(count: int) -> str:
    """`256 KiB`, `64 MiB`."""
    return f"{count / 2**20:,.0f} MiB" if count >= 2**20 else f"{count / 2**10:,.0f} KiB"
