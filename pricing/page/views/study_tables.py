"""The answer of a study as the page shows it: sentences, tables with the maker's names, long ones folded."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

from pricing.page.rendering import minus, minus_in
from pricing.page.workspace import Look
from pricing.questions.model import Table

#: From so many rows on, in several tables together, those fold of which each has so many.
LONG, FOLDS = 40, 6
#: So many letters stand side by side on a screen that is held in a hand.
HAND = 46


@dataclass(frozen=True)
class TableShown:
    """A table as it is drawn: rows of cells, whether each stands out; `anchor` is its name in an address.

    One that `folds` is opened by its title, one at a time where a screen is narrow; `count` is how many rows have
    figures.
    """

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[bool, tuple[str, ...]], ...]
    left: int
    anchor: str = ""
    folds: bool = False

    @property
    def count(self) -> int:
        return sum(not self.is_head(cells) for _, cells in self.rows)

    @property
    def folded(self) -> str:
        """How its rows fold on a narrow screen: figures of a row by threes or by fours, so that the last line is not of
        one alone; a grid of short figures, whose heads are figures too, stays one."""
        widths = [
            max(map(len, column)) + 2 for column in zip(self.heads, *(cells for _, cells in self.rows), strict=True)
        ]
        if not self.heads[0] and sum(widths) <= HAND:
            return ""
        figures = len(self.heads) - 1
        return "stack close by-three" if figures > 4 and -(-figures // 3) <= -(-figures // 4) else "stack close"

    @staticmethod
    def is_head(cells: Sequence[str]) -> bool:
        """Whether a row only names what the rows below it are about."""
        return not any(cells[1:])


def told_first(blocks: Sequence[object], look: Look) -> tuple[tuple[str | TableShown, ...], int]:
    """The blocks of an answer, and how many of them come before its picture.

    The very first is left out: it says whose figures these are, as the frame of the page does. What is said below long
    tables, which a screen of text ends with, comes above them: nobody should have to look for it.
    """
    shown = [each for block in blocks for each in _block(block, look)][1:]
    tables = [each for each in shown if isinstance(each, TableShown)]
    named = _anchors([each.title for each in tables])
    is_long = sum(len(each.rows) for each in tables) >= LONG and len(tables) > 1
    told = [
        replace(each, anchor=next(named), folds=is_long and bool(each.title) and len(each.rows) >= FOLDS)
        if isinstance(each, TableShown)
        else each
        for each in shown
    ]
    if not is_long:
        return tuple(told), 1
    last = max(place for place, each in enumerate(told) if isinstance(each, TableShown))
    above = [*told[:1], *told[last + 1 :]] if isinstance(told[0], str) else told[last + 1 :]
    rest = told[1 : last + 1] if isinstance(told[0], str) else told[: last + 1]
    return (*above, *rest), len(above)


def _anchors(titles: Sequence[str]) -> Iterator[str]:
    """A name for each table that an address can end with, no two alike."""
    had: dict[str, int] = {}
    for title in titles:
        word = re.sub(r"[^a-z0-9]+", "-", title.partition(",")[0].lower()).strip("-") or "figures"
        had[word] = had.get(word, 0) + 1
        yield f"table-{word}" if had[word] == 1 else f"table-{word}-{had[word]}"


def _block(block: object, look: Look) -> Iterator[str | TableShown]:
    """A block as the page shows it: each line of a text for itself, a plot for a screen of text not at all."""
    if isinstance(block, Table):
        rows = tuple((place in block.strong, _cells(row, block, look)) for place, row in enumerate(block.rows))
        yield TableShown(block.title, block.heads, rows, block.left)
    elif isinstance(block, str):
        yield from (minus_in(line.strip()) for line in block.splitlines() if line.strip())


def _cells(row: Sequence[str], table: Table, look: Look) -> tuple[str, ...]:
    """A row with what its first columns name as the maker calls it, and the sign for minus before its figures."""
    words = (_in_names(cell, head, look) for cell, head in zip(row[: table.left], table.heads, strict=False))
    return (*words, *(minus(cell) if cell.startswith("-") else cell for cell in row[table.left :]))


def _in_names(cell: str, head: str, look: Look) -> str:
    """A cell under `product, alloy`, or the last of these below a row of its own, with names for skus and alloys."""
    kinds, parts = head.split(", "), cell.strip().split(", ")
    kinds = kinds[-len(parts) :] if cell.startswith(" ") else kinds
    said = (_name_of(kind, part, look) for kind, part in zip(kinds, parts, strict=False))
    return cell[: len(cell) - len(cell.lstrip())] + ", ".join([*said, *parts[len(kinds) :]])


def _name_of(kind: str, word: str, look: Look) -> str:
    name, alloy, _ = look.called(word, word)
    return {"product": name, "alloy": alloy}.get(kind, word)
