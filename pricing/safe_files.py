"""Puts a finished file in its place: whole or not at all, and never over another one unasked."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from secrets import token_hex

from pricing.errors import TroytagError, UsageFault


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
    beside = target.with_name(f".{target.stem[:80]}-{token_hex(4)}{target.suffix}")
    try:
        beside.touch(exist_ok=False)  # with the usual rights, unlike a file of `tempfile`
        yield beside
        if target.exists():
            os.chmod(beside, target.stat().st_mode & 0o777)
        _to_disk(beside)
        if force:
            os.replace(beside, target)
        else:
            _put_where_nothing_stands(beside, target)
    except OSError as fault:
        raise TroytagError(f"{path} cannot be written ({fault.strerror or fault}); nothing was changed.") from None
    finally:
        beside.unlink(missing_ok=True)


def _put_where_nothing_stands(beside: Path, path: Path) -> None:
    """As `os.replace`, but a file that has come into being meanwhile stays."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise UsageFault(f"{path} has come into being meanwhile. Overwrite it with --force.") from None
    except OSError:  # a file system without hard links
        check_free(path, False)
        os.replace(beside, path)


def _to_disk(path: Path) -> None:
    with path.open("rb+") as written:
        os.fsync(written.fileno())
