"""Publishing an edition: whole or not at all, and never over another.

It is written beside its place under a name that nobody reads, brought to the disk, and then *linked* into place: the
link fails where the number is taken, so of two who publish at once one is told. Only once the folder, too, is on
the disk is it called published. Then `HEAD` names it as the newest.
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any

from pricing.editions.chain import EDITIONS, FOLDER, Edition, look_over, said
from pricing.editions.packed import packed
from pricing.errors import TroytagError
from pricing.kept.document import Link, bytes_of
from pricing.kept.head import write_head
from pricing.kept.writing import nothing_written_over, whole_of
from pricing.safe_files import put_new, sweep, sync_folder, unfinished
from pricing.several_files import only_change

NO_LINKS = (
    "this drive cannot link files, so edition {number} was put in place under a lock file and read back. Two machines "
    "that publish at the same moment are not told apart here."
)


def next_number(root: Path, previous: Edition | None, over_gap: bool = False) -> int:
    """The number of what is published on `previous`; over a gap one that no lost edition has had."""
    after = previous.number + 1 if previous else 1
    return max(after, look_over(root).next_number) if over_gap else after


def publish(root: Path, content: Mapping[str, Any], previous: Edition | None, over_gap: bool = False) -> Edition:
    """Publish what follows on `previous` (None: the first), and return it once it is on the disk.

    Raises TroytagError where another edition was published meanwhile, where the day lies before the one in force,
    where something is wrong with the editions before it (unless it shall go `over_gap`), and where the disk refuses;
    then nothing is published.
    """
    with only_change(root):
        return _publish(root, content, previous, over_gap)


def _publish(root: Path, content: Mapping[str, Any], previous: Edition | None, over_gap: bool) -> Edition:
    chain = look_over(root)
    number = previous.number + 1 if previous else 1
    if over_gap:
        number = max(number, chain.next_number)
    if chain.next_number > number:
        raise _taken(root, number)
    if not over_gap:
        nothing_written_over(chain, "Nothing is published. To publish on what stands all the same, add --over-gap.")
    if previous and date.fromisoformat(content["as_of"]) < previous.as_of:
        raise TroytagError(
            f"edition {previous.number} is of {previous.as_of}; an edition of {content['as_of']} would come before it. "
            "Publish for a later day."
        )
    whole, sha256 = whole_of(EDITIONS, packed(content), number, previous.sha256 if previous else None)
    folder, name = root / FOLDER, root / EDITIONS.file_of(number)
    try:
        folder.mkdir(exist_ok=True)
        sweep(folder)
        with unfinished(name, bytes_of(EDITIONS, whole, sha256)) as beside:
            is_linked = put_new(beside, name)
    except FileExistsError:
        raise _taken(root, number) from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TroytagError(
            f"edition {number} could not be written ({reason}); nothing is published, and the editions before it are "
            "untouched. See whether the disk is full and may be written."
        ) from None
    try:
        sync_folder(folder, confirmed=True)
        sync_folder(root, confirmed=True)
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TroytagError(
            f"edition {number} stands in {name}, but the disk did not confirm that it is kept ({reason}). "
            f"See whether the disk is sound, then look with: troytag editions {root} list."
        ) from None
    with suppress(OSError):  # it is published; whoever reads next names it
        write_head(root, EDITIONS, Link(number, sha256, whole["previous"], date.fromisoformat(whole["as_of"])))
    return Edition(number, sha256, said(number, whole), () if is_linked else (NO_LINKS.format(number=number),))


def _taken(root: Path, number: int) -> TroytagError:
    return TroytagError(
        f"another {number:06d}.json was published meanwhile; nothing of yours is published. "
        f"Look at it (troytag editions {root} list) and reprice again."
    )
