"""All that lies in a folder, as one hash: what was worked out of a folder holds as long as this is the same.

What is read to work something out (files of the workshop, editions, the log, the drawer, meshes) counts by its
content; of all else (pictures, papers) it counts whether it is there, and its marks. Nothing is imported here that a
short command could do without.
"""

from __future__ import annotations

import hashlib
import json
import os
import stat
import time
from dataclasses import dataclass

from pricing.folder.kept import SETTLES_AFTER_NS
from pricing.reading import NotRead, read_file
from pricing.several_files import JOURNAL

#: Endings of what may be read to work something out, and the names of such files that have none.
BY_CONTENT = frozenset({".toml", ".csv", ".json", ".stl", ".obj", ".ply", ".3mf"})
NAMES_BY_CONTENT = frozenset({"HEAD"})
#: A folder with more in it is something else besides a workshop, and looking through it takes longer than it saves.
MOST_ENTRIES = 50_000
#: More than that to be read for its hash is left alone too.
MOST_BYTES = 2**29
#: Marks of one entry: its name relative to the folder, kind and rights, size, when it was written and changed, number.
Entry = tuple[str, int, int, int, int, int]


@dataclass(frozen=True)
class AsItLies:
    """What a folder holds: the marks of every entry in it, when they were looked at, and a hash of it all."""

    root: str
    entries: tuple[Entry, ...]
    looked_ns: int
    digest: str

    def has_stood(self) -> bool:
        """Whether nothing in the folder has been touched since, nor so shortly before that it might not show."""
        latest = max((max(written, changed) for _, _, _, written, changed, _ in self.entries), default=0)
        return latest + SETTLES_AFTER_NS < self.looked_ns and _entries(self.root) == self.entries


def as_it_lies(root: str | os.PathLike[str], least: int = 0) -> AsItLies | None:
    """What lies in a folder now; None of a folder of fewer than `least` files, and where it cannot be told.

    That is where a link leads elsewhere, something may not be read, an interrupted change is still to be finished, or
    there is too much.
    """
    place, looked = os.path.realpath(root), time.time_ns()
    entries = _entries(place)
    if entries is None or sum(stat.S_ISREG(mode) for _, mode, *_ in entries) < least:
        return None
    if sum(size for name, _, size, *_ in entries if _by_content(name)) > MOST_BYTES:
        return None
    try:
        told = [_told(place, entry, looked) for entry in entries]
        told.append((place, os.stat(place).st_dev))
    except (NotRead, OSError, _Unsettled):
        return None
    return AsItLies(place, entries, looked, hashlib.sha256(json.dumps(told).encode()).hexdigest())


class _Unsettled(Exception):
    """A file counts by its marks, and was written so lately that they tell nothing."""


def _told(root: str, entry: Entry, looked_ns: int) -> tuple[object, ...]:
    """What an entry adds to the hash."""
    name, mode, size, written, changed, _ = entry
    if stat.S_ISDIR(mode):
        return (name, mode)
    if _by_content(name):
        return (name, hashlib.sha256(read_file(f"{root}/{name}", size)).hexdigest())
    if max(written, changed) + SETTLES_AFTER_NS >= looked_ns:
        raise _Unsettled(name)
    return entry


def _by_content(name: str) -> bool:
    base = name.rpartition("/")[2]
    return os.path.splitext(base)[1].lower() in BY_CONTENT or base in NAMES_BY_CONTENT


def _entries(root: str) -> tuple[Entry, ...] | None:
    """All that lies in a folder and in those below it, by name; None where that cannot be told."""
    found: list[Entry] = []
    folders = [""]
    try:
        while folders:
            within = folders.pop()
            with os.scandir(f"{root}/{within}") as entries:
                for entry in entries:
                    name, marks = within + entry.name, entry.stat(follow_symlinks=False)
                    if stat.S_ISLNK(marks.st_mode) or entry.name == JOURNAL:
                        return None
                    if stat.S_ISDIR(marks.st_mode):  # it is what its entries are
                        folders.append(f"{name}/")
                        found.append((name, marks.st_mode, 0, 0, 0, 0))
                    else:
                        written, changed = marks.st_mtime_ns, marks.st_ctime_ns
                        found.append((name, marks.st_mode, marks.st_size, written, changed, marks.st_ino))
            if len(found) > MOST_ENTRIES:
                return None
    except OSError:
        return None
    return tuple(sorted(found))
