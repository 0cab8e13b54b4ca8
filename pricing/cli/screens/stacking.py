"""Tables and lines of which nothing is cut, printed as plain text where there are no colours."""

from __future__ import annotations

import itertools
import math
from collections.abc import Mapping, Sequence, Set
from functools import cached_property
from itertools import pairwise
from types import MappingProxyType

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderResult
from rich.measure import Measurement
from rich.padding import Padding
from rich.segment import Segment
from rich.style import Style
from rich.table import Table
from rich.text import Text

#: The first column is not folded narrower than this.
NAME_WIDTH = 14
#: Sentences in a table are not broken into lines narrower than this, and names never where they are longer than that.
TEXT_WIDTH, WHOLE_WIDTH = 16, 28


class Stacking(Table):
    """A table of which nothing is cut: columns for which there is no room stand below, beside the first once more.

    Its rows are given to the library only where it draws them: without colours, they are printed as they stand.
    """

    def hold(
        self, columns: Sequence[Sequence[str | Text]], strong: Set[int], named: Mapping[int, str] = MappingProxyType({})
    ) -> None:
        """Take the cells of all rows, column by column, and which rows are strong.

        `named` are rows of a first cell alone, with what it is called: both run over all columns, and the column need
        not be as wide.
        """
        self._cells, self._strong, self._named = columns, strong, named

    def _settle(self) -> None:
        """Give the library the rows, once."""
        if not self.rows:
            for place, row in enumerate(zip(*self._cells, strict=True)):
                self.add_row(*row, style="bold" if place in self._strong else None)

    @cached_property
    def _texts(self) -> list[list[str]]:
        """The cells without their colours."""
        return [list(map(str, column)) for column in self._cells]

    @cached_property
    def _standing(self) -> list[list[str]]:
        """The same, without those that run over all columns."""
        if not self._named:
            return self._texts
        first, *others = self._texts
        return [["" if row in self._named else text for row, text in enumerate(first)], *others]

    def _running(self, row: int, width: int) -> tuple[str, str]:
        """What runs over all columns in a row: the first cell, and what it is called where there is room for it."""
        first, called = self._texts[0][row], f"  {self._named[row]}" if self._named[row] else ""
        has_room = called.isprintable() and cell_len(first) + cell_len(called) <= width
        return first, called if has_room else ""

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        self._settle()
        return super().__rich_measure__(console, options)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        if lines := self.drawn(console, options.max_width):
            yield from itertools.chain.from_iterable(lines)
            return
        self._settle()
        parts = self._parts(options.max_width)
        if len(parts) < 2:
            yield from super().__rich_console__(console, options)
            return
        for place, columns in enumerate(parts):
            if place:
                yield Text()
            yield self._with(columns)

    def drawn(self, console: Console, width: int) -> list[list[Segment]]:
        """The pieces of each line as the library draws them, in a tenth of its time; none where it has to do it."""
        columns, rows = self._fielded(width)
        if any(_widest_of([self._texts[0][row]]) > width for row in self._named):
            return []
        lines = list(zip(*columns, strict=True))
        plain = [[Segment(f"{''.join(line)}\n")] for line in lines]
        running = {}
        for number, row in enumerate(rows, len(lines) - len(rows)):
            if row in self._named:
                running[number] = self._running(row, width)
                plain[number] = [Segment(f"{''.join(running[number])}\n")]
        if console.color_system is None or not plain:
            return plain
        styles, tall = self._styles(), len(lines) - len(rows)
        if styles is None or any(row in self._strong for row, other in pairwise(rows) if row == other):
            return []
        dim, bold = console.get_style(str(self.header_style)), console.get_style("bold")
        for number in range(tall):
            own = [dim if number >= tall - len(head) else None for head in self._heads]
            plain[number] = self._in_colours(lines[number], own, dim)
        first = {row: number for number, row in reversed(list(enumerate(rows, tall)))}
        for row in self._strong & first.keys():
            plain[first[row]] = self._in_colours(lines[first[row]], [bold] * len(columns), bold)
        for row, of_cells in styles.items():
            own = [console.get_style(of_cells[at]) if at in of_cells else None for at in range(len(columns))]
            plain[first[row]] = self._in_colours(lines[first[row]], own, None)
        for number, (word, called) in running.items():
            plain[number] = [Segment(word, bold), Segment(f"{called}\n")]
        return plain

    def _styles(self) -> dict[int, dict[int, str | Style]] | None:
        """The colours of cells by row and column; None where some are of a kind that the library has to draw."""
        found: dict[int, dict[int, str | Style]] = {}
        for place, column in enumerate(self._cells):
            for row, cell in enumerate(column):
                if isinstance(cell, Text):
                    if cell.spans or "\n" in cell.plain or row in self._strong:
                        return None
                    if cell.style:
                        found.setdefault(row, {})[place] = cell.style
        return found

    def _in_colours(self, fields: Sequence[str], own: Sequence[Style | None], behind: Style | None) -> list[Segment]:
        """A line whose fields have colours of their own, with the colour of the gaps; a field without any is one."""
        pieces = []
        for place, (field, style) in enumerate(zip(fields, own, strict=True)):
            gap = self.padding[1] if place < len(fields) - 1 and style else 0
            pieces.append(Segment(field[: len(field) - gap], style or behind))
            if gap:
                pieces.append(Segment(field[len(field) - gap :], behind))
        return [*pieces, Segment("\n")]

    def _fielded(self, width: int) -> tuple[list[list[str]], list[int]]:
        """The fields of all lines by column, and the row of each line below the head; none where there is no room."""
        widths, texts = self.plain_widths(), self._standing
        if sum(widths) > width:
            widths, texts = self._narrowed(widths, width)
        if not widths:
            return [], []
        last = len(widths) - 1
        inner = [width - (self.padding[1] if place < last else 0) for place, width in enumerate(widths)]
        sides = [column.justify == "right" for column in self.columns]
        tall = max(map(len, self._heads))
        heads = [[""] * (tall - len(lines)) + lines for lines in self._heads]  # they stand on the first row
        rows = list(range(len(texts[0])))
        if any("\n" in text for column in texts for text in column):
            texts, rows = _as_lines(texts)
        columns = [
            _fields([*head, *column], own, width, to_the_right)
            for head, column, own, width, to_the_right in zip(heads, texts, inner, widths, sides, strict=True)
        ]
        return columns, rows

    def plain_widths(self) -> list[int]:
        """The width of each column with the gap behind it, nothing broken; none where a cell is no plain text."""
        if NOT_PLAIN in self._widest:
            return []
        widths, last = [], len(self.columns) - 1
        for place, (column, widest) in enumerate(zip(self.columns, self._widest, strict=True)):
            widths.append(max(int(widest), column.min_width or 0) + (self.padding[1] if place < last else 0))
        return widths

    @cached_property
    def _heads(self) -> list[list[str]]:
        """The lines of the head of each column."""
        return [str(column.header).split("\n") for column in self.columns]

    @cached_property
    def _widest(self) -> list[float]:
        """How wide head and cells of each column are."""
        both = zip(self._heads, self._standing, strict=True)
        return [max(_widest_of(head), _widest_of(texts)) for head, texts in both]

    def _narrowed(self, widths: Sequence[int], width: int) -> tuple[list[int], list[list[str]]]:
        """Widths and texts with those of the last column broken into lines, where that is all that has to be done.

        The library narrows the widest of the columns that may be broken until the next one is as wide.
        """
        room = width - sum(widths[:-1])
        others = [each for column, each in zip(self.columns[:-1], widths, strict=False) if not column.no_wrap]
        may_be = not self.columns[-1].no_wrap and room >= max(others, default=1) and len(self._parts(width)) < 2
        if not may_be or _widest_of(self._heads[-1]) > room or any("\n" in text for text in self._texts[-1]):
            return [], []
        console = Console(width=room)
        broken = {text: text for text in self._texts[-1]}
        for text in broken:
            if cell_len(text) > room:
                broken[text] = "\n".join(line.plain for line in Text(text).wrap(console, room, overflow="fold"))
        return [*widths[:-1], room], [*self._standing[:-1], [broken[text] for text in self._texts[-1]]]

    def _parts(self, width: int) -> list[list[int]]:
        """The columns of each part, the first in all of them; one part where there is room for all.

        There is room where names and sentences may be broken into lines. Where there is none even so, they are not
        broken. A column without a head belongs to the one before it.
        """
        least, whole = ([self._needed(place, broken) for place in range(len(self.columns))] for broken in (True, False))
        if sum(least) <= width:
            return [list(range(len(least)))]
        parts: list[list[int]] = [[0]]
        for columns in self._together():
            wide = sum(whole[each] for each in columns)
            if len(parts[-1]) > 1 and sum(whole[each] for each in parts[-1]) + wide > width:
                parts.append([0])
            parts[-1] += columns
        return parts

    def _together(self) -> list[list[int]]:
        """The columns behind the first, those without a head beside the one before them."""
        found: list[list[int]] = []
        for place in range(1, len(self.columns)):
            if str(self.columns[place].header).strip() or not found:
                found.append([place])
            else:
                found[-1].append(place)
        return found

    def _needed(self, place: int, broken: bool) -> int:
        """The least width of a column with the gap behind it; where its texts may be `broken` into lines, less."""
        column, texts = self.columns[place], self._texts[place]
        widest = max(cell_len(line) for text in (str(column.header), *texts) for line in (text.splitlines() or [""]))
        if not column.no_wrap:
            widest = min(widest, (NAME_WIDTH if place == 0 else TEXT_WIDTH) if broken else WHOLE_WIDTH)
        return max(widest, column.min_width or 0) + (self.padding[1] if place < len(self.columns) - 1 else 0)

    def _with(self, columns: Sequence[int]) -> Stacking:
        made = Stacking(box=None, padding=self.padding, pad_edge=False, header_style=self.header_style)
        for column in (self.columns[place] for place in columns):
            made.add_column(
                column.header,
                justify=column.justify,
                no_wrap=column.no_wrap,
                overflow=column.overflow,
                min_width=column.min_width,
            )
        made.hold([self._cells[place] for place in columns], self._strong, self._named)
        return made


class Indented:
    """A line, or a table, so many places further in."""

    def __init__(self, inner: Text | Stacking, places: int = 2):
        self.inner, self.places = inner, places

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        if lines := self._drawn(console, options.max_width - self.places):
            for line in lines:
                yield from (Segment(" " * self.places), *line)
        elif self.places:
            yield Padding(self.inner, (0, 0, 0, self.places), expand=False)
        else:
            yield self.inner

    def _drawn(self, console: Console, width: int) -> list[list[Segment]]:
        if isinstance(self.inner, Stacking):
            return self.inner.drawn(console, width)
        line = self.inner.plain
        is_plain = console.color_system is None or not (self.inner.spans or self.inner.style)
        fits = line.isprintable() and cell_len(line) <= width
        return [[Segment(f"{line}\n")]] if is_plain and fits else []


def _as_lines(columns: Sequence[Sequence[str]]) -> tuple[list[list[str]], list[int]]:
    """Columns of cells that hold several lines as columns of lines, and the row of each line."""
    rows = [
        list(itertools.zip_longest(*(text.split("\n") for text in row), fillvalue=""))
        for row in zip(*columns, strict=True)
    ]
    of_lines = [number for number, lines in enumerate(rows) for _ in lines]
    return list(map(list, zip(*itertools.chain.from_iterable(rows), strict=True))), of_lines


#: The width of what is no plain text.
NOT_PLAIN = math.inf


def _widest_of(texts: Sequence[str]) -> float:
    """How many places the widest line of some texts takes."""
    whole = "".join(texts)
    if whole.isascii() and whole.isprintable():
        return max(map(len, texts), default=0)
    lines = [line for text in texts for line in text.split("\n")]
    if not all(line.isprintable() for line in lines):
        return NOT_PLAIN
    return max((len(line) if line.isascii() else cell_len(line) for line in lines), default=0)


def _fields(texts: Sequence[str], inner: int, width: int, to_the_right: bool) -> list[str]:
    """Texts in their column: `inner` places for each, `width` with the gap behind."""
    if to_the_right:
        texts = [text.rstrip() for text in texts]
    if all(map(str.isascii, texts)):
        return [(text.rjust(inner) if to_the_right else text).ljust(width) for text in texts]
    lengths = list(map(cell_len, texts))
    before = [" " * (inner - length) if to_the_right else "" for length in lengths]
    behind = [" " * (width - max(inner, length) if to_the_right else width - length) for length in lengths]
    return list(map("".join, zip(before, texts, behind, strict=True)))
