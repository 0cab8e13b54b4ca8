"""Reading the entries of a series, and whether they are as they were written: a chain of hashes.

Every entry holds the hash of the one it was written on, and `HEAD` number and hash of the newest. So one that was
changed, put in the place of another or lost is noticed by whoever reads any of them; see `look_over`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.kept.document import Entry, Link, entry_of, link_of
from pricing.kept.head import HEAD, Head, read_head, write_head
from pricing.kept.series import NAME, Series
from pricing.reading import NotRead, read_file
from pricing.several_files import only_change

#: Said of whatever is missing where a drive may be synced, and where it is not.
MISSING = (
    "Put it back from a backup; a synced drive may need a while. If it is lost for good, {over_gap} goes on from what "
    "stands and notes the gap."
)
#: A file that is, by its name, a copy of an entry or of HEAD: as synced drives, file managers and editors call them.
_COPY = re.compile(r"(\d{6})\D.*\.json.*|(\d{6})\.json.+|HEAD.+", re.ASCII | re.DOTALL)


@dataclass(frozen=True)
class ChainFault:
    """What is wrong with the entries, and of which numbers it makes one doubt."""

    fault: Fault
    numbers: range


@dataclass(frozen=True)
class Chain:
    """The entries of a series as they stand: the sound ones, what is wrong, and what is only to be told.

    `next_number` is the number of the next entry: above every one that was ever written, as far as it is known.
    """

    links: tuple[Link, ...]
    wrong: tuple[ChainFault, ...]
    notes: tuple[ChainFault, ...]
    head: Head | None
    next_number: int

    @property
    def faults(self) -> list[Fault]:
        return [each.fault for each in self.wrong]

    def about(self, numbers: range) -> list[Fault]:
        """What is wrong with any entry of these numbers, and gaps among them that were written over."""
        return [each.fault for each in (*self.wrong, *self.notes) if _meet(each.numbers, numbers)]


def numbers(root: Path, series: Series) -> list[int]:
    """The numbers of the entries that lie in a workshop folder, ascending."""
    folder = root / series.folder
    found = [NAME.fullmatch(path.name) for path in folder.iterdir()] if folder.is_dir() else []
    return sorted(int(match[1]) for match in found if match)


def read(root: Path, series: Series, number: int) -> Entry:
    """The entry of that number. Raises UsageFault where there is none, Faults where it is not as it was written."""
    known = numbers(root, series)
    if number not in known:
        mend = did_you_mean(str(number), map(str, known)) if known else "There is none yet."
        raise UsageFault(f"there is no {series.one} {number}. {mend}")
    return entry_of(series, number, _content(root, series, number))


def newest(root: Path, series: Series, over_gap: bool = False, chain: Chain | None = None) -> Link | None:
    """The last entry; None where none is written yet. `chain` is that of `look_over`, where it is known already.

    Raises Faults where it is spoilt, lost, or another than was written; with `over_gap` the last sound one is taken.
    """
    chain = chain or look_over(root, series)
    last = chain.links[-1].number if chain.links else 0
    wrong = chain.about(range(max(last, 1), chain.next_number))
    if wrong and not over_gap:
        raise Faults(wrong)
    if chain.links and not chain.wrong and chain.head is not None and chain.head.number < last:
        _mend_head(root, series)
    return chain.links[-1] if chain.links else None


def chain_faults(root: Path, series: Series, chain: Chain | None = None) -> list[Fault]:
    """Everything that is wrong with the entries of a series: torn, changed, missing, out of the chain.

    Each is read as a whole, so also one that has the right hash and makes no sense is told. `chain` is that of
    `look_over`, where it is known already.
    """
    return _whole(root, series, chain)[1]


def read_all(root: Path, series: Series) -> tuple[Entry, ...]:
    """Every entry of a series, by its number. Raises Faults with all that is wrong with any of them."""
    entries, faults = _whole(root, series)
    if faults:
        raise Faults(faults)
    return tuple(entries)


def _whole(root: Path, series: Series, chain: Chain | None = None) -> tuple[list[Entry], list[Fault]]:
    chain = chain or look_over(root, series)
    entries, found = [], chain.faults
    for link in chain.links:
        try:
            entries.append(entry_of(series, link.number, _content(root, series, link.number)))
        except Faults as wrong:
            found += wrong.faults
    return entries, sorted(found, key=lambda fault: fault.place.file)


def look_over(root: Path, series: Series) -> Chain:
    """All entries of a series as a chain: each by its hash, its place after the one before it, and HEAD."""
    folder = root / series.folder
    if folder.exists() and not folder.is_dir():
        fault = Fault(Place(series.folder), "", "a folder belongs here", "Move the file away.")
        return Chain((), (ChainFault(fault, range(1, 2)),), (), None, 1)
    links, wrong = {}, list(_strangers(root, series))
    known = numbers(root, series)
    for number in known:
        try:
            links[number] = link_of(series, number, _content(root, series, number))
        except Faults as spoilt:
            wrong += [ChainFault(fault, range(number, number + 1)) for fault in spoilt.faults]
    head: Head | None = None
    try:
        head = read_head(root, series)
    except Faults as spoilt:
        wrong += [ChainFault(fault, range(0)) for fault in spoilt.faults]
    gaps, notes = _gaps(root, series, known, links, head)
    wrong += gaps
    wrong += _breaks(series, links, head)
    last = max([*known, head.number if head else 0, 0])
    return Chain(tuple(links.values()), tuple(wrong), tuple(notes), head, last + 1)


def _gaps(
    root: Path, series: Series, known: Sequence[int], links: dict[int, Link], head: Head | None
) -> tuple[list[ChainFault], list[ChainFault]]:
    """Numbers that are not there; apart from them those over which the next entry was written knowingly."""
    expected, before, place = 1, 0, Place(series.folder)
    gaps, over, mend = [], [], MISSING.format(over_gap=series.over_gap.format(root=root))
    for number in known:
        if number != expected:
            missing = range(expected, number)
            link, last = links.get(number), links.get(before)
            problem = f"{_named(series, missing)} missing"
            if link is not None and link.previous == (last.sha256 if last else None):
                problem += f"; {number} was {series.added} over the gap"
                over.append(ChainFault(Fault(place, "", problem, "Put it back if it is found."), missing))
            else:
                gaps.append(ChainFault(Fault(place, "", problem, mend), missing))
        before, expected = number, number + 1
    if head and head.number >= expected:
        missing = range(expected, head.number + 1)
        problem = f"{_named(series, missing)} missing, and {HEAD} names {head.number} as the newest"
        gaps.append(ChainFault(Fault(place, "", problem, mend), missing))
    return gaps, over


def _breaks(series: Series, links: dict[int, Link], head: Head | None) -> Iterator[ChainFault]:
    """Entries that do not follow on the one before, and a newest one that is not the one that HEAD names."""
    for number, link in links.items():
        before = links.get(number - 1)
        if before is None and number > 1:
            continue  # a gap, or the one before is spoilt
        if link.previous != (before.sha256 if before else None):
            problem = f"it does not follow on {series.one} {number - 1} as that one stands now"
            after = links.get(number + 1)
            is_sure = after.previous == link.sha256 if after else bool(head and head.sha256 == link.sha256)
            doubted = range(number - 1, number + (not is_sure))
            yield ChainFault(Fault(Place(series.file_of(number)), "previous", problem, series.restore), doubted)
    named = links.get(head.number) if head else None
    if head and named and named.sha256 != head.sha256:
        problem = (
            f"it is not the {series.one} {head.number} that was {series.added} last on the machine that wrote {HEAD}"
        )
        mend = "See whether a synced drive has put it beside under another name, or put it back from a backup."
        yield ChainFault(
            Fault(Place(series.file_of(head.number)), "", problem, mend), range(head.number, head.number + 1)
        )


def _strangers(root: Path, series: Series) -> Iterator[ChainFault]:
    """Files that have no business here: above all what a synced drive puts beside when two machines wrote one file."""
    folder = root / series.folder
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        name = path.name
        if name.startswith(".") or NAME.fullmatch(name) or name == HEAD:
            continue
        copy = _COPY.fullmatch(name)
        if not copy and path.suffix != ".json":
            continue
        problem, doubted = f"this is not the name of {series.a}", range(0)
        mend = "Move it out of the folder; if it is a copy that a synced drive made, compare it first."
        number = int(copy[1] or copy[2] or 0) if copy else 0
        if number:
            problem, mend, doubted = _about_copy(root, series, name, number)
        elif copy:
            problem = f"this is a copy of {HEAD} from another machine"
            mend = f"See whether all {series.many} are here, then delete it."
        yield ChainFault(Fault(Place(f"{series.folder}/{name}"), "", problem, mend), doubted)


def _about_copy(root: Path, series: Series, name: str, number: int) -> tuple[str, str, range]:
    """What a copy of an entry under another name is: the same, another that was written too, or spoilt."""
    one = f"{series.one} {number}"
    try:
        copied = read_file(root / series.folder / name, series.most_bytes)
        link = link_of(series, number, copied)
    except (NotRead, Faults):
        return f"this is a copy of {one}, and spoilt", "Move it out of the folder.", range(0)
    try:
        standing = link_of(series, number, _content(root, series, number)).sha256
    except Faults:
        mend = f"If {series.file_of(number)} is spoilt or missing, give this one its name."
        return f"this is {one} under another name", mend, range(number, number + 1)
    if standing == link.sha256:
        return f"this is {one} once more, the same in every byte", "Delete it.", range(0)
    problem = (
        f"two machines have {series.added} {series.a} {number}: this one, of {link.day}, is not the one that stands"
    )
    mend = f"Both are whole. {series.both_whole.format(root=root, file=series.file_of(number))}"
    return problem, mend, range(number, number + 1)


def _mend_head(root: Path, series: Series) -> None:
    """HEAD behind entries that continue the chain: whoever wrote them was killed before it was written."""
    with suppress(OSError, Faults), only_change(root):
        chain = look_over(root, series)
        if chain.links and not chain.wrong:
            write_head(root, series, chain.links[-1])


def _content(root: Path, series: Series, number: int) -> bytes:
    try:
        return read_file(root / series.file_of(number), series.most_bytes)
    except NotRead as wrong:
        problem = f"this {series.one} cannot be read: {wrong.problem}"
        raise Faults([Fault(Place(series.file_of(number)), "", problem, series.restore)]) from None


def _meet(some: range, others: range) -> bool:
    return max(some.start, others.start) < min(some.stop, others.stop)


def _named(series: Series, missing: range) -> str:
    """`edition 4 is`, `editions 4 to 6 are`."""
    if len(missing) == 1:
        return f"{series.one} {missing[0]} is"
    return f"{series.many} {missing[0]} to {missing[-1]} are"
