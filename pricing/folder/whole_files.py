"""Files of the folder put in their places whole or not at all, several of them all or none, by one writer at a time.

How it is done stands in `pricing.safe_files` and `pricing.several_files`; here it is told in the words of the folder.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from pricing.errors import Faults, no_folder
from pricing.folder.toml.text import content_hash, read_content, whole_file
from pricing.several_files import Meanwhile, only_change, put_all, sweep_all

#: Folders in which files are written, besides the workshop folder itself.
SWEPT = ("", "products", "meshes")


def hash_of(root: Path, file: str) -> str | None:
    """The content hash of a file of the folder as it lies there now; None where there is none."""
    return content_hash(read_content(root, file)) if (root / file).exists() else None


@contextmanager
def held(root: Path) -> Iterator[None]:
    """The only writer to this folder; waits for another one to end, and finishes what a killed one left.

    Raises UsageFault where there is no such folder, Faults where what was left cannot be finished.
    """
    if not root.is_dir():
        raise no_folder(root)
    with only_change(root):
        sweep_all(root, SWEPT)
        yield


def put_in_place(root: Path, file: str, content: bytes, expected: str | None) -> str:
    """Write a file whole, in the place of the one whose content hash is `expected` (None: of none); gives its hash.

    Raises Faults where another one lies there, and where it cannot be written; then nothing has changed.
    """
    put_in_places(root, {file: content}, {file: expected}, "")
    return content_hash(content)


def put_in_places(root: Path, contents: Mapping[str, bytes], expected: Mapping[str, str | None], what: str) -> None:
    """As `put_in_place` for several files, all or none; `what` is a word for the change."""
    try:
        put_all(root, contents, expected, what)
    except Meanwhile as changed:
        raise changed_meanwhile(changed.file) from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        mend = "See whether the disk is full or the folder may not be written to."
        problem = f"this file cannot be written ({reason}); nothing was changed"
        raise whole_file(", ".join(contents), problem, mend) from None


def changed_meanwhile(file: str) -> Faults:
    """The fault of a file that somebody else has written to."""
    problem = "this file was changed since it was read, and nothing was written"
    return whole_file(file, problem, "Look at it again, then repeat the change.")
