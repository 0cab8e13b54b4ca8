"""Writing entries that are kept for good: whole or not at all, and never over another.

Several entries, of one series or of two, are one change of several files: a journal, each file put where nothing may
stand, and with them `HEAD` of every series that grows. So of a batch and what it took from the drawer both stand or
none, also where the process is killed half-way.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date
from pathlib import Path
from typing import Any

from pricing.errors import TroytagError, no_folder
from pricing.kept.canonical import digest
from pricing.kept.chain import Chain, look_over
from pricing.kept.document import Entry, Link, bytes_of
from pricing.kept.head import HEAD, head_bytes
from pricing.kept.series import Series
from pricing.several_files import Meanwhile, hash_at, only_change, put_all, sweep_all

#: What is to be added: to which series, and what it says. Who adds is given the numbers that his entries will have.
Wanted = Callable[[Callable[[Series], int]], Sequence[tuple[Series, dict[str, Any]]]]


def append(root: Path, wanted: Wanted, what: str, over_gap: bool = False) -> tuple[Entry, ...]:
    """Add entries, all or none, and return them once they are on the disk; `what` is a word for the change.

    `wanted` is called when nobody else writes to the folder any more, so what it reads is what it adds to; it is given
    a function that says which number the next entry of a series will have.

    Raises UsageFault where there is no such folder, TroytagError where something is wrong with the entries before
    (unless it shall go `over_gap`) and where the disk refuses; then nothing is added.
    """
    if not root.is_dir():
        raise no_folder(root)
    try:
        with only_change(root):
            return _append(root, wanted, what, over_gap)
    except Meanwhile as changed:
        raise TroytagError(f"{changed.file} was written meanwhile by another program; add it again.") from None
    except OSError as error:
        reason = error.strerror or type(error).__name__
        raise TroytagError(
            f"{what} could not be written ({reason}); nothing is added, and what stands is untouched. See whether the "
            "disk is full and may be written."
        ) from None


def _append(root: Path, wanted: Wanted, what: str, over_gap: bool) -> tuple[Entry, ...]:
    ends: dict[str, _End] = {}

    def end_of(series: Series) -> _End:
        if series.folder not in ends:
            ends[series.folder] = _End(root, series, over_gap)
        return ends[series.folder]

    files: dict[str, bytes] = {}
    expected: dict[str, str | None] = {}
    added, links = [], {}
    for series, content in wanted(lambda series: end_of(series).number):
        end = end_of(series)
        whole, sha256 = whole_of(series, content, end.number, end.last)
        file = series.file_of(end.number)
        files[file], expected[file] = bytes_of(series, whole, sha256), None
        links[series.folder] = Link(end.number, sha256, end.last, date.fromisoformat(whole[series.day]))
        added.append(Entry(end.number, sha256, whole))
        end.number, end.last = end.number + 1, sha256
    for folder, link in links.items():
        head = f"{folder}/{HEAD}"
        files[head], expected[head] = head_bytes(link), hash_at(root / head)
    if files:
        sweep_all(root, ("", *links))
        put_all(root, files, expected, what)
    return tuple(added)


class _End:
    """Where a series goes on: the next number and the hash of the last entry."""

    def __init__(self, root: Path, series: Series, over_gap: bool):
        chain = look_over(root, series)
        if not over_gap:
            go_on = series.over_gap.format(root=root)
            nothing_written_over(chain, f"Nothing is added. To go on from what stands all the same: {go_on}.")
        self.number = chain.next_number
        self.last = chain.links[-1].sha256 if chain.links else None


def whole_of(series: Series, content: dict[str, Any], number: int, previous: str | None) -> tuple[dict[str, Any], str]:
    """What an entry says with its place in the chain, and the hash of that."""
    whole = {**content, "form": series.form, "number": number, "previous": previous}
    return whole, digest(whole)


def nothing_written_over(chain: Chain, told: str) -> None:
    """Raises TroytagError where something is wrong with the entries; `told` says what that means."""
    wrong = [each.fault for each in chain.wrong if each.numbers]
    if wrong:
        raise TroytagError("\n".join([*(fault.headline() for fault in wrong), told]))
