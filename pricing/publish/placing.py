"""Puts a finished file in its place: whole or not at all, and never over another one unasked."""

from __future__ import annotations

import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import NamedTemporaryFile

from pricing.errors import UsageFault


def check_free(path: Path, force: bool) -> None:
    """Raise UsageFault where a file would be overwritten unasked, or where there is no folder to put it into."""
    if path.is_dir():
        raise UsageFault(f"{path} is a folder. Name a file with --to.")
    if path.exists() and not force:
        raise UsageFault(f"{path} stands already. Name another file with --to, or overwrite it with --force.")
    if not path.absolute().parent.is_dir():
        raise UsageFault(f"{path.parent} is no folder. Make it, or name another with --to.")


@contextmanager
def placed(path: Path, force: bool = False) -> Iterator[Path]:
    """A path beside `path` to write to; it takes the place of `path` once all went well, else nothing is left.

    Raises UsageFault as `check_free` does, and where the folder cannot be written to.
    """
    check_free(path, force)
    parent = path.absolute().parent
    try:
        with NamedTemporaryFile(dir=parent, prefix=f".{path.stem}-", suffix=path.suffix, delete=False) as made:
            beside = Path(made.name)
    except OSError as fault:
        raise UsageFault(f"{parent} cannot be written to ({fault.strerror}). Name another place with --to.") from None
    try:
        yield beside
        _give_usual_rights(beside, path)
        _to_disk(beside)
        if force:
            os.replace(beside, path)
        else:
            _put_where_nothing_stands(beside, path)
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


def _give_usual_rights(beside: Path, path: Path) -> None:
    """A temporary file is its owner's alone; the finished one keeps the rights of what it replaces, or gets the usual ones."""
    if path.exists():
        mode = path.stat().st_mode & 0o777
    else:
        mask = os.umask(0)
        os.umask(mask)
        mode = 0o666 & ~mask
    os.chmod(beside, mode)


def _to_disk(path: Path) -> None:
    with path.open("rb+") as written:
        os.fsync(written.fileno())
