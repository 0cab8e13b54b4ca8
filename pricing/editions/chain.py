"""Reading the editions of a workshop folder, and whether they are as they were published.

How they are kept and chained stands in `pricing.kept`; here is what is an edition's own: its day is the one from which
its prices are in force.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import date
from functools import partial
from operator import itemgetter
from pathlib import Path
from typing import Any

from pricing.editions.packed import FORM, Published, Unpacked
from pricing.editions.shape import FORGED, misshapen
from pricing.errors import Fault, Faults, Place, UsageFault
from pricing.kept import chain as kept
from pricing.kept.chain import Chain
from pricing.kept.document import Entry, Link
from pricing.kept.series import Series

__all__ = ["EDITIONS", "FOLDER", "Chain", "Edition", "Link", "chain_faults", "in_force_on", "look_over", "newest",
           "numbers", "read"]  # fmt: skip

FOLDER = "editions"
_OVER_GAP = "troytag reprice {root} --publish --over-gap"
EDITIONS = Series(
    folder=FOLDER,
    key="edition",
    one="edition",
    many="editions",
    day="as_of",
    added="published",
    misshapen=misshapen,
    over_gap=_OVER_GAP,
    both_whole="See which prices went out; keep one as {file}, move the other out of the folder, then publish again "
    f"({_OVER_GAP}).",
    most_bytes=256 * 2**20,  # one of ten thousand variants has some 20 million
    form=FORM,
)


@dataclass(frozen=True)
class Edition(Entry):
    """A published edition: its number, its hash and what it says; `notes` is what to tell of its publishing."""

    @property
    def as_of(self) -> date:
        """The day from which its prices are in force: the one whose quotes counted."""
        return date.fromisoformat(self.content["as_of"])

    @property
    def currency(self) -> str:
        return str(self.content["currency"])

    def published(self) -> list[Published]:
        """Every price, since when it stands and in which edition it was set, in whatever form it is kept."""
        if isinstance(self.content, Unpacked):
            return self.content.published()
        names = ("sku", "alloy", "channel", "price", "set_on", "set_in")
        return list(map(itemgetter(*names), self.content["prices"]))


def numbers(root: Path) -> list[int]:
    """The numbers of the editions that lie in a workshop folder, ascending."""
    return kept.numbers(root, EDITIONS)


def look_over(root: Path) -> Chain:
    """All editions of a folder as a chain: each by its hash, its place after the one before it, and HEAD."""
    return kept.look_over(root, EDITIONS)


def chain_faults(root: Path) -> list[Fault]:
    """Everything that is wrong with the editions of a workshop folder: torn, changed, missing, out of the chain."""
    return kept.chain_faults(root, EDITIONS)


def read(root: Path, number: int) -> Edition:
    """The edition of that number. Raises UsageFault where there is none, Faults where it is not as it was published."""
    if not numbers(root):
        raise UsageFault(f"there is no edition {number}. Publish one: troytag reprice {root} --publish.")
    found = kept.read(root, EDITIONS, number)
    return Edition(found.number, found.sha256, said(number, found.content))


def said(number: int, kept: Mapping[str, Any]) -> Mapping[str, Any]:
    """What an edition says, in whatever form it is kept."""
    return kept if kept["form"] != FORM else Unpacked(kept, partial(sensible, number))


@contextmanager
def sensible(number: int, key: str) -> Iterator[None]:
    """What goes wrong in here is told as a fault of the edition: its hash is right, and it makes no sense."""
    try:
        yield
    except FORGED as wrong:
        problem = f"its hash is right, and what it keeps does not fit together ({type(wrong).__name__})"
        raise Faults([Fault(Place(EDITIONS.file_of(number)), key, problem, EDITIONS.restore)]) from None


def newest(root: Path, over_gap: bool = False, chain: Chain | None = None) -> Edition | None:
    """The last edition; None where none is published yet. `chain` is that of `look_over`, where it is known already.

    Raises Faults where it is spoilt, lost, or another than was published; with `over_gap` the last sound one is taken.
    """
    last = kept.newest(root, EDITIONS, over_gap, chain)
    return read(root, last.number) if last else None


def in_force_on(root: Path, day: date) -> Edition | None:
    """The edition whose prices were in force on a day; None before the first.

    Raises Faults where one that is spoilt, missing or doubtful may have been the one.
    """
    chain = look_over(root)
    before = [link for link in chain.links if link.day <= day]
    later = [link.number for link in chain.links if link.day > day]
    found = max((link.number for link in before), default=0)
    # Whatever has a number above the last one before that day, and below the first one after it, may be the one.
    until = min((number for number in later if number > found), default=chain.next_number)
    if wrong := chain.about(range(max(found, 1), until)):
        raise Faults(wrong)
    return read(root, found) if found else None
