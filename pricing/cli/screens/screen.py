"""What commands print with: tables that fit 80 columns, bars, warnings; plain text where nobody looks at colours."""

from __future__ import annotations

import itertools
import math
import os
import re
import sys
import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence, Set
from functools import cached_property
from typing import Any, TextIO

from rich.cells import cell_len
from rich.console import Console, ConsoleOptions, RenderableType, RenderResult
from rich.measure import Measurement
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from pricing import json_texts
from pricing.cli.screens.signs import Printed, can_show_all, print_as_is, unsteered
from pricing.csv_tables import write_cells, write_csv
from pricing.errors import Fault, told_once

#: Signs of a bar from one eighth of a place to a whole one.
EIGHTHS = " ▏▎▍▌▋▊▉█"


#: The width of a screen that does not say.
USUAL_WIDTH = 80
#: The first column is not folded narrower than this.
NAME_WIDTH = 14
#: Sentences in a table are not broken into lines narrower than this, and names never where they are longer than that.
TEXT_WIDTH, WHOLE_WIDTH = 16, 28
#: Heads of figures are broken rather than made wider than this.
HEAD_WIDTH = 12


def out() -> Console:
    """Where results go."""
    return _console(sys.stdout)


def err() -> Console:
    """Where everything else goes."""
    return _console(sys.stderr)


def _console(stream: TextIO) -> Console:
    """A console on a stream: plain text in a pipe and under NO_COLOR, and then no blanks at the ends of lines."""
    if isinstance(stream, Printed):
        stream = stream.inner  # the colours of a console are its own; what it is given passes `SafeConsole`
    plain = not stream.isatty() or bool(os.environ.get("NO_COLOR"))
    stated = os.environ.get("COLUMNS", "")
    width = USUAL_WIDTH if stated.lstrip("-").isdigit() and int(stated) <= 0 else None
    return SafeConsole(
        file=_WithoutEndBlanks(stream) if plain else stream,  # type: ignore[arg-type]  # it writes and flushes, no more is asked
        color_system=None if plain else "auto",
        width=width,
        highlight=False,
        emoji=False,
        markup=False,
    )


class SafeConsole(Console):
    """A console whose texts cannot steer the terminal: only its own codes for colours and bars reach it."""

    def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
        for segment in super().render(renderable, options):
            yield segment if segment.control else Segment(unsteered(segment.text), segment.style)


class _WithoutEndBlanks:
    """A stream that leaves out blanks at the ends of lines."""

    def __init__(self, stream: TextIO):
        self._stream = stream

    def write(self, text: str) -> int:
        self._stream.write(END_BLANKS.sub("", text))
        return len(text)

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


END_BLANKS = re.compile(r"[ ]+$", re.MULTILINE)


class Stacking(Table):
    """A table of which nothing is cut: columns for which there is no room stand below, beside the first once more.

    Its rows are given to the library only where they are not printed as they stand.
    """

    def hold(self, columns: Sequence[Sequence[str | Text]], strong: Set[int]) -> None:
        """Take the cells of all rows, column by column, and which rows are strong."""
        self._texts, self._strong = columns, strong

    def _settle(self) -> None:
        """Give the library the rows, once."""
        if not self.rows:
            for place, row in enumerate(zip(*self._texts, strict=True)):
                self.add_row(*row, style="bold" if place in self._strong else None)

    def __rich_measure__(self, console: Console, options: ConsoleOptions) -> Measurement:
        self._settle()
        return super().__rich_measure__(console, options)

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        if console.color_system is None and (widths := self.plain_widths()) and sum(widths) <= options.max_width:
            yield Segment("".join(self._plain_lines(widths)))
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

    def plain_widths(self) -> list[int]:
        """The width of each column with the gap behind it, nothing broken; none where a cell is no plain text."""
        widths, last = [], len(self.columns) - 1
        for place, (column, own) in enumerate(zip(self.columns, self._widths_of_cells, strict=True)):
            widest = max(own, _widest(str(column.header).split("\n")))
            if widest == NOT_PLAIN:
                return []
            widths.append(max(int(widest), column.min_width or 0) + (self.padding[1] if place < last else 0))
        return widths

    @cached_property
    def _widths_of_cells(self) -> list[float]:
        """How wide the cells of each column are."""
        return [_widest(texts) for texts in self._texts]

    def _plain_lines(self, widths: Sequence[int]) -> Iterator[str]:
        """The lines as they are printed without colours where there is room for all."""
        last = len(widths) - 1
        inner = [width - (self.padding[1] if place < last else 0) for place, width in enumerate(widths)]
        sides = [column.justify == "right" for column in self.columns]
        heads = [str(column.header).split("\n") for column in self.columns]
        tall = max(map(len, heads))
        heads = [[""] * (tall - len(lines)) + lines for lines in heads]  # they stand on the first row
        texts = self._texts
        if any("\n" in text for column in texts for text in column):
            texts = _as_lines(texts)
        columns = [
            _fields([*head, *map(str, column)], own, width, to_the_right)
            for head, column, own, width, to_the_right in zip(heads, texts, inner, widths, sides, strict=True)
        ]
        yield from (f"{''.join(line)}\n" for line in zip(*columns, strict=True))

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
        column = self.columns[place]
        texts = [str(cell) for cell in (column.header, *column.cells)]
        widest = max(cell_len(line) for text in texts for line in (text.splitlines() or [""]))
        if not column.no_wrap:
            widest = min(widest, (NAME_WIDTH if place == 0 else TEXT_WIDTH) if broken else WHOLE_WIDTH)
        return max(widest, column.min_width or 0) + (self.padding[1] if place < len(self.columns) - 1 else 0)

    def _with(self, columns: Sequence[int]) -> Table:
        made = Table(box=None, padding=self.padding, pad_edge=False, header_style=self.header_style)
        chosen = [self.columns[place] for place in columns]
        for column in chosen:
            made.add_column(
                column.header,
                justify=column.justify,
                no_wrap=column.no_wrap,
                overflow=column.overflow,
                min_width=column.min_width,
            )
        for cells, row in zip(zip(*[column.cells for column in chosen], strict=True), self.rows, strict=True):
            made.add_row(*cells, style=row.style)
        return made


def _as_lines(columns: Sequence[Sequence[str | Text]]) -> list[tuple[str, ...]]:
    """Columns of cells that hold several lines as columns of lines."""
    rows = ([str(text).split("\n") for text in row] for row in zip(*columns, strict=True))
    lines = [line for row in rows for line in itertools.zip_longest(*row, fillvalue="")]
    return list(zip(*lines, strict=True))


#: The width of what is no plain text.
NOT_PLAIN = math.inf


def _widest(texts: Sequence[str | Text]) -> float:
    """How many places the widest line of some texts takes."""
    plain = [text for text in texts if isinstance(text, str)]
    if len(plain) < len(texts):
        return NOT_PLAIN
    whole = "".join(plain)
    if whole.isascii() and whole.isprintable():
        return max(map(len, plain), default=0)
    lines = [line for text in plain for line in text.split("\n")]
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


def table(
    heads: Sequence[str], rows: Iterable[Sequence[Any]], left: int = 1, strong: Iterable[int] = (), gap: int = 2
) -> Table:
    """A table without a frame: the first `left` columns are words, the rest are figures, which are never cut."""
    columns = [_texts(column) for column in itertools.zip_longest(*rows, fillvalue="")] or [()] * len(heads)
    columns += [("",) * len(columns[0])] * (len(heads) - len(columns)) if columns else []
    made = Stacking(box=None, padding=(0, gap, 0, 0), pad_edge=False, header_style="dim")
    for place, (head, column) in enumerate(zip(heads, columns, strict=True)):
        widest = max(map(len, column), default=0)
        if place < left:
            made.add_column(head, overflow="fold", min_width=min(widest, NAME_WIDTH) if place == 0 else None)
        else:
            broken = "\n".join(textwrap.wrap(head, max(widest, HEAD_WIDTH))) if head.strip() else head
            made.add_column(broken, justify="right", no_wrap=True, overflow="fold")
    made.hold(columns, frozenset(strong))
    return made


def _texts(column: Sequence[Any]) -> Sequence[str | Text]:
    """Cells as texts."""
    if set(map(type, column)) <= {str, Text}:
        return column
    return [each if isinstance(each, Text) else str(each) for each in column]


def print_in_parts(heads: Sequence[str], rows: Sequence[Sequence[Any]], kept: int) -> None:
    """A table that is too wide for the screen as several, one below the other, each with the first `kept` columns."""
    start, last = kept, len(heads)
    while start < last:
        end = last
        while end > start + 1 and not fits(table(*_columns(heads, rows, kept, start, end))):
            end -= 1
        if start > kept:
            out().print()
        out().print(table(*_columns(heads, rows, kept, start, end)))
        start = end


def _columns(
    heads: Sequence[str], rows: Sequence[Sequence[Any]], kept: int, start: int, end: int
) -> tuple[list[str], list[list[Any]]]:
    """The first `kept` columns and those from `start` to `end`."""
    return [*heads[:kept], *heads[start:end]], [[*row[:kept], *row[start:end]] for row in rows]


def fits(made: Table) -> bool:
    """Whether a table can be shown whole."""
    console = out()
    if isinstance(made, Stacking) and (widths := made.plain_widths()):
        return sum(widths) <= console.width
    boundless = console.options.update(width=10_000)
    return console.measure(made, options=boundless).maximum <= console.width


def bar(share: float, places: int) -> str:
    """A bar of `share` (0 to 1) of so many places, to an eighth of a place."""
    eighths = max(0, min(places * 8, round(share * places * 8)))
    return ("█" * (eighths // 8) + EIGHTHS[eighths % 8]).rstrip()


def tell(warnings: Iterable[Fault]) -> None:
    """Warnings to stderr."""
    advise(told_once(warnings))


def show_faults(faults: Iterable[Fault]) -> None:
    """Faults to stdout, with the lines that they stand in; on a terminal with their places and carets in colour."""
    console = out()
    for fault in faults:
        told = Text(str(fault))
        told.stylize("bold red", 0, len(str(fault.place)))
        told.highlight_regex(r"(?m)^ +(\d+)? \| ", "dim")
        told.highlight_regex(r"(?m)\^$", "bold red")
        console.print(told, soft_wrap=True)


def advise(hints: Sequence[str], most: int = 6) -> None:
    """What deserves a word, to stderr; of a long list only the first."""
    console = err()
    notes = Table.grid(padding=(0, 2, 0, 0))
    for hint in hints[:most]:
        notes.add_row(Text("note", style="yellow"), Text(hint if hint.endswith((".", "?")) else f"{hint}."))
    if len(hints) > most:
        notes.add_row("", f"… and {len(hints) - most} more: troytag check tells all.")
    if hints:
        console.print()
        console.print(notes)


def print_json(document: Any) -> None:
    """One JSON document on stdout, numbers in full; signs that are not printed stand as JSON spells them."""
    text = json_texts.document(document)
    print_as_is(text if can_show_all(sys.stdout.encoding) else json_texts.in_ascii(text))


def print_csv(rows: Sequence[Mapping[str, Any]]) -> None:
    """Records as CSV on stdout."""
    write_csv(rows, sys.stdout)


def print_columns(columns: Mapping[str, Sequence[str]]) -> None:
    """The same of records in columns, which are made of fields."""
    write_cells(columns, sys.stdout)
