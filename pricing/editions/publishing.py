"""Publishing an edition: whole or not at all, and never over another.

It is written beside its place under a name that nobody reads, brought to the disk, and then *linked* into place: the
link fails where the number is taken, so of two who publish at once one is told. Only once the folder, too, is on
the disk is it called published.
"""

from __future__ import annotations

import os
import time
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any

from pricing.editions.canonical import canonical, digest
from pricing.editions.chain import FOLDER, FORM, Edition, file_of
from pricing.errors import TroytagError

#: What a killed process leaves is swept away when it is so many seconds old: nobody writes that long.
SWEPT_AFTER = 3600.0


def publish(root: Path, content: dict[str, Any], previous: Edition | None) -> Edition:
    """Publish what follows on `previous` (None: the first), and return it once it is on the disk.

    Raises TroytagError where another edition was published meanwhile, where the day lies before the one in force,
    and where the disk refuses; then nothing is published.
    """
    number = previous.number + 1 if previous else 1
    whole = {**content, "form": FORM, "number": number, "previous": previous.sha256 if previous else None}
    if previous and date.fromisoformat(whole["as_of"]) < previous.as_of:
        raise TroytagError(
            f"edition {previous.number} is of {previous.as_of}; an edition of {whole['as_of']} would come before it. "
            "Publish for a later day."
        )
    edition = Edition(number, digest(whole), whole)
    folder, name = root / FOLDER, root / file_of(number)
    beside = folder / f".{number:06d}-{os.getpid()}-{time.monotonic_ns()}.unfinished"
    content_bytes = canonical({"edition": whole, "sha256": edition.sha256})
    try:
        _place(folder, beside, name, content_bytes)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TroytagError(
            f"edition {number} could not be written ({reason}); nothing is published, and the editions before it are "
            "untouched. See whether the disk is full, may be written, and can link files."
        ) from None
    finally:
        with suppress(OSError):
            beside.unlink(missing_ok=True)
    try:
        _bring_to_disk(folder)
        _bring_to_disk(root)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TroytagError(
            f"edition {number} stands in {name}, but the disk did not confirm that it is kept ({reason}). "
            f"See whether the disk is sound, then look with: troytag editions {root} list."
        ) from None
    return edition


def _place(folder: Path, beside: Path, name: Path, content: bytes) -> None:
    """Write beside and link into place. Raises OSError, and TroytagError where the number is taken."""
    folder.mkdir(exist_ok=True)
    _sweep(folder)
    with beside.open("xb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    try:
        os.link(beside, name)
    except FileExistsError:
        raise TroytagError(
            f"another {name.name} was published meanwhile; nothing of yours is published. "
            f"Look at it (troytag editions {folder.parent} list) and reprice again."
        ) from None


def _bring_to_disk(folder: Path) -> None:
    if os.name == "nt":
        return  # a folder cannot be opened there
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def _sweep(folder: Path) -> None:
    """Take away what killed processes have left."""
    for path in folder.glob(".*.unfinished"):
        with suppress(OSError):
            if time.time() - path.stat().st_mtime > SWEPT_AFTER:
                path.unlink()
