"""A series of entries that are kept for good: editions, batches, entries of the drawer. What each is called, where it
lies, and what to do about one that is lost."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass

#: The first form of the documents; a series that is written in a later one goes on reading all before it.
FORM = 1
NAME = re.compile(r"(\d{6})\.json", re.ASCII)


@dataclass(frozen=True)
class Series:
    """`folder` is where the entries lie; `one` and `many` what they are called, `key` the first also in the files.

    `day` names the day of an entry in its file; `added` says what was done to put one there ("published").
    `misshapen` gives where the content of an entry is not of its form, "" where it is. `over_gap` is the command
    that goes on where one is lost for good, `both_whole` what to do where two machines have written one number; in
    each, `{root}` stands for the workshop folder. `form` is the one that is written now.
    """

    folder: str
    key: str
    one: str
    many: str
    day: str
    added: str
    misshapen: Callable[[object], str]
    over_gap: str
    both_whole: str
    most_bytes: int
    form: int = FORM

    @property
    def a(self) -> str:
        """`an edition`, `a batch`."""
        return f"{'an' if self.one[0] in 'aeiou' else 'a'} {self.one}"

    @property
    def restore(self) -> str:
        """What to do about an entry that is not as it was written."""
        return f"Put the file back from a backup. {self.a[0].upper()}{self.a[1:]} is never changed by hand."

    def file_of(self, number: int) -> str:
        """The file of an entry, relative to the workshop folder."""
        return f"{self.folder}/{number:06d}.json"
