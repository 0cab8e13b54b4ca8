"""Reading the editions of a workshop folder, and whether they are as they were published: a chain of hashes.

Every edition holds the hash of the one it was published on, and `editions/HEAD` number and hash of the newest. So
one that was changed, put in the place of another or lost is noticed by whoever reads any of them; see `look_over`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pricing.editions.document import FOLDER, FORM, NAME, RESTORE, Edition, Link, edition_of, file_of, link_of
from pricing.editions.head import HEAD, Head, read_head, write_head
from pricing.errors import Fault, Faults, Place, UsageFault, did_you_mean
from pricing.reading import NotRead, read_file
from pricing.several_files import only_change

__all__ = ["FOLDER", "FORM", "NAME", "RESTORE", "Chain", "ChainFault", "Edition", "Link", "chain_faults", "file_of",
           "in_force_on", "look_over", "newest", "numbers", "read"]  # fmt: skip

#: Most bytes of an edition: one of ten thousand variants has some 60 million.
MOST_BYTES = 256 * 2**20
#: Said of whatever is missing where a drive may be synced, and where it is not.
MISSING = (
    "Put it back from a backup; a synced drive may need a while. If it is lost for good, "
    "troytag reprice {root} --publish --over-gap goes on from what stands and notes the gap."
)
#: A file that is, by its name, a copy of an edition or of HEAD: as synced drives, file managers and editors call them.
_COPY = re.compile(r"(\d{6})\D.*\.json.*|(\d{6})\.json.+|HEAD.+", re.ASCII | re.DOTALL)


@dataclass(frozen=True)
class ChainFault:
    """What is wrong with the editions, and of which numbers it makes one doubt."""

    fault: Fault
    numbers: range


@dataclass(frozen=True)
class Chain:
    """The editions of a folder as they stand: the sound ones, what is wrong, and what is only to be told.

    `next_number` is the number of the next edition: above every one that was ever published, as far as it is known.
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
        """What is wrong with any edition of these numbers, and gaps among them that were published over."""
        return [each.fault for each in (*self.wrong, *self.notes) if _meet(each.numbers, numbers)]


def numbers(root: Path) -> list[int]:
    """The numbers of the editions that lie in a workshop folder, ascending."""
    folder = root / FOLDER
    found = [NAME.fullmatch(path.name) for path in folder.iterdir()] if folder.is_dir() else []
    return sorted(int(match[1]) for match in found if match)


def read(root: Path, number: int) -> Edition:
    """The edition of that number. Raises UsageFault where there is none, Faults where it is not as it was published."""
    known = numbers(root)
    if number not in known:
        none_yet = f"Publish one: troytag reprice {root} --publish."
        mend = did_you_mean(str(number), map(str, known)) if known else none_yet
        raise UsageFault(f"there is no edition {number}. {mend}")
    return edition_of(number, _content(root, number))


def newest(root: Path, over_gap: bool = False, chain: Chain | None = None) -> Edition | None:
    """The last edition; None where none is published yet. `chain` is that of `look_over`, where it is known already.

    Raises Faults where it is spoilt, lost, or another than was published; with `over_gap` the last sound one is taken.
    """
    chain = chain or look_over(root)
    last = chain.links[-1].number if chain.links else 0
    wrong = chain.about(range(max(last, 1), chain.next_number))
    if wrong and not over_gap:
        raise Faults(wrong)
    if chain.links and not chain.wrong and chain.head is not None and chain.head.number < last:
        _mend_head(root)
    return read(root, last) if last else None


def in_force_on(root: Path, day: date) -> Edition | None:
    """The edition whose prices were in force on a day; None before the first.

    Raises Faults where one that is spoilt, missing or doubtful may have been the one.
    """
    chain = look_over(root)
    before = [link for link in chain.links if link.as_of <= day]
    later = [link.number for link in chain.links if link.as_of > day]
    found = max((link.number for link in before), default=0)
    # Whatever has a number above the last one before that day, and below the first one after it, may be the one.
    until = min((number for number in later if number > found), default=chain.next_number)
    if wrong := chain.about(range(max(found, 1), until)):
        raise Faults(wrong)
    return read(root, found) if found else None


def chain_faults(root: Path) -> list[Fault]:
    """Everything that is wrong with the editions of a workshop folder: torn, changed, missing, out of the chain.

    Each is read as a whole, so also one that has the right hash and makes no sense is told.
    """
    chain = look_over(root)
    found = chain.faults
    for link in chain.links:
        try:
            read(root, link.number)
        except Faults as wrong:
            found += wrong.faults
    return sorted(found, key=lambda fault: fault.place.file)


def look_over(root: Path) -> Chain:
    """All editions of a folder as a chain: each by its hash, its place after the one before it, and HEAD."""
    folder = root / FOLDER
    if folder.exists() and not folder.is_dir():
        fault = Fault(Place(FOLDER), "", "a folder belongs here", "Move the file away.")
        return Chain((), (ChainFault(fault, range(1, 2)),), (), None, 1)
    links, wrong = {}, list(_strangers(root))
    known = numbers(root)
    for number in known:
        try:
            links[number] = link_of(number, _content(root, number))
        except Faults as spoilt:
            wrong += [ChainFault(fault, range(number, number + 1)) for fault in spoilt.faults]
    head: Head | None = None
    try:
        head = read_head(root)
    except Faults as spoilt:
        wrong += [ChainFault(fault, range(0)) for fault in spoilt.faults]
    gaps, notes = _gaps(root, known, links, head)
    wrong += gaps
    wrong += _breaks(links, head)
    last = max([*known, head.number if head else 0, 0])
    return Chain(tuple(links.values()), tuple(wrong), tuple(notes), head, last + 1)


def _gaps(
    root: Path, known: Sequence[int], links: dict[int, Link], head: Head | None
) -> tuple[list[ChainFault], list[ChainFault]]:
    """Numbers that are not there; apart from them those over which the next edition was published knowingly."""
    expected, before = 1, 0
    gaps, over, mend = [], [], MISSING.format(root=root)
    for number in known:
        if number != expected:
            missing = range(expected, number)
            link, last = links.get(number), links.get(before)
            if link is not None and link.previous == (last.sha256 if last else None):
                problem = f"{_named(missing)} missing; {number} was published over the gap"
                over.append(ChainFault(Fault(Place(FOLDER), "", problem, "Put it back if it is found."), missing))
            else:
                gaps.append(ChainFault(Fault(Place(FOLDER), "", f"{_named(missing)} missing", mend), missing))
        before, expected = number, number + 1
    if head and head.number >= expected:
        missing = range(expected, head.number + 1)
        problem = f"{_named(missing)} missing, and {HEAD} names {head.number} as the newest"
        gaps.append(ChainFault(Fault(Place(FOLDER), "", problem, mend), missing))
    return gaps, over


def _breaks(links: dict[int, Link], head: Head | None) -> Iterator[ChainFault]:
    """Editions that do not follow on the one before, and a newest one that is not the one that HEAD names."""
    for number, link in links.items():
        before = links.get(number - 1)
        if before is None and number > 1:
            continue  # a gap, or the one before is spoilt
        if link.previous != (before.sha256 if before else None):
            problem = f"it does not follow on edition {number - 1} as that one stands now"
            after = links.get(number + 1)
            is_sure = after.previous == link.sha256 if after else bool(head and head.sha256 == link.sha256)
            doubted = range(number - 1, number + (not is_sure))
            yield ChainFault(Fault(Place(file_of(number)), "previous", problem, RESTORE), doubted)
    named = links.get(head.number) if head else None
    if head and named and named.sha256 != head.sha256:
        problem = f"it is not the edition {head.number} that was published last on the machine that wrote {HEAD}"
        mend = "See whether a synced drive has put it beside under another name, or put it back from a backup."
        yield ChainFault(Fault(Place(file_of(head.number)), "", problem, mend), range(head.number, head.number + 1))


def _strangers(root: Path) -> Iterator[ChainFault]:
    """Files that have no business here: above all what a synced drive puts beside when two machines wrote one file."""
    folder = root / FOLDER
    for path in sorted(folder.iterdir()) if folder.is_dir() else ():
        name = path.name
        if name.startswith(".") or NAME.fullmatch(name) or name == HEAD:
            continue
        copy = _COPY.fullmatch(name)
        if not copy and path.suffix != ".json":
            continue
        problem, doubted = "this is not the name of an edition", range(0)
        mend = "Move it out of the folder; if it is a copy that a synced drive made, compare it first."
        number = int(copy[1] or copy[2] or 0) if copy else 0
        if number:
            problem, mend, doubted = _about_copy(root, name, number)
        elif copy:
            problem = f"this is a copy of {HEAD} from another machine"
            mend = "See whether all editions are here, then delete it."
        yield ChainFault(Fault(Place(f"{FOLDER}/{name}"), "", problem, mend), doubted)


def _about_copy(root: Path, name: str, number: int) -> tuple[str, str, range]:
    """What a copy of an edition under another name is: the same, another that was published too, or spoilt."""
    try:
        copied = read_file(root / FOLDER / name, MOST_BYTES)
        link = link_of(number, copied)
    except (NotRead, Faults):
        return f"this is a copy of edition {number}, and spoilt", "Move it out of the folder.", range(0)
    try:
        standing = link_of(number, _content(root, number)).sha256
    except Faults:
        mend = f"If {file_of(number)} is spoilt or missing, give this one its name."
        return f"this is edition {number} under another name", mend, range(number, number + 1)
    if standing == link.sha256:
        return f"this is edition {number} once more, the same in every byte", "Delete it.", range(0)
    problem = f"two machines have published an edition {number}: this one, of {link.as_of}, is not the one that stands"
    mend = (
        f"Both are whole. See which prices went out; keep one as {file_of(number)}, move the other out of the folder, "
        f"then publish again (troytag reprice {root} --publish --over-gap)."
    )
    return problem, mend, range(number, number + 1)


def _mend_head(root: Path) -> None:
    """HEAD behind editions that continue the chain: whoever published them was killed before it was written."""
    with suppress(OSError, Faults), only_change(root):
        chain = look_over(root)
        if chain.links and not chain.wrong:
            write_head(root, chain.links[-1])


def _content(root: Path, number: int) -> bytes:
    try:
        return read_file(root / file_of(number), MOST_BYTES)
    except NotRead as wrong:
        problem = f"this edition cannot be read: {wrong.problem}"
        raise Faults([Fault(Place(file_of(number)), "", problem, RESTORE)]) from None


def _meet(some: range, others: range) -> bool:
    return max(some.start, others.start) < min(some.stop, others.stop)


def _named(missing: range) -> str:
    """`edition 4 is`, `editions 4 to 6 are`."""
    if len(missing) == 1:
        return f"edition {missing[0]} is"
    return f"editions {missing[0]} to {missing[-1]} are"
