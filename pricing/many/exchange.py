"""Puts a finished folder of prices in the place of an older one, so that at every moment one of the two is whole.

And knows of one file that was put together of its parts and put in its place, so that what a kill leaves is swept.

The older one is put aside, the new one put in, and the older one swept; the new one's journal goes last of all and
says until then that sweeping is not done. What a kill leaves between two of these is put right by `settle`: with
nothing in the place the older one goes back, and the run that was killed is continued; else what is left is swept.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Mapping
from contextlib import suppress
from pathlib import Path
from typing import Any

from pricing.errors import TroytagError
from pricing.safe_files import only_writer, sync_folder

#: Says what a run is of. Whoever reads a folder of Parquet files passes over names that begin with a dot.
JOURNAL = ".journal.json"
#: Under this it says which file was made of all parts, before that is put in its place.
MADE = "made"


def folder_of(target: Path) -> Path:
    """Where the parts of a run lie until all are there; beside what a link leads to."""
    place = target.resolve()
    return place.with_name(f".{place.name}.unfinished-run")


def aside_of(target: Path) -> Path:
    """Where the older folder lies while it is replaced."""
    place = target.resolve()
    return place.with_name(f".{place.name}.replaced-run")


def said(work: Path) -> Mapping[str, Any]:
    """What the journal of a run says; nothing where there is none that can be read."""
    try:
        with (work / JOURNAL).open("rb") as file:
            held = json.loads(file.read(2**16))
    except (OSError, ValueError, RecursionError):
        return {}
    return held if isinstance(held, dict) else {}


def which(file: Path) -> list[int]:
    """What tells a file from others, also when it is put elsewhere."""
    held = file.stat()
    return [held.st_ino, held.st_size, held.st_mtime_ns]


def put_in(work: Path, target: Path, force: bool) -> None:
    """Make the folder of parts the one that was asked for; with `force` in the place of an older one.

    Raises TroytagError where the system refuses, and then the older one stands where it stood.
    """
    place, aside = target.resolve(), aside_of(target)
    with only_writer(place.parent):
        try:
            if force and place.is_dir():
                _clear(aside)  # of an exchange that was never made: what stands there now came later
                os.rename(place, aside)
                sync_folder(place.parent)
            os.rename(work, place)
        except OSError as fault:
            _settle(place, aside)
            raise TroytagError(f"{target} cannot be written ({fault.strerror or fault}).") from None
        sync_folder(place.parent)
        _settle(place, aside)


def settle(target: Path) -> str:
    """Complete, or undo, an exchange that was broken off; what was done, in a sentence, "" where there was none."""
    place, aside = target.resolve(), aside_of(target)
    done = ""
    if aside.is_dir() or (place / JOURNAL).is_file():
        with only_writer(place.parent):  # another process may be in the midst of one
            done = _settle(place, aside)
    work = folder_of(target)
    if place.is_file() and said(work).get(MADE) == which(place):
        with suppress(FileNotFoundError), only_writer(work):
            if said(work).get(MADE) == which(place):  # and not of a run that was begun there meanwhile
                shutil.rmtree(work)
                done = "its prices are whole, and the parts that they were made of are swept"
    return f"A run before was stopped at {target}: {done}." if done else ""


def _settle(place: Path, aside: Path) -> str:
    if (place / JOURNAL).is_file():
        _clear(aside)
        (place / JOURNAL).unlink()
        done = "its prices are whole, and what it replaced is swept"
    elif aside.is_dir() and not os.path.lexists(place):
        os.rename(aside, place)
        done = "the prices that it was to replace stand there again"
    else:
        return ""
    sync_folder(place.parent)
    return done


def _clear(folder: Path) -> None:
    if folder.is_dir():
        shutil.rmtree(folder)
