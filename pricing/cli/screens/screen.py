"""What commands print with: tables that fit 80 columns, bars, warnings; plain text where nobody looks at colours."""

from __future__ import annotations

import itertools
import os
import re
import sys
import textwrap
from collections.abc import Callable, Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Any, TextIO

from rich.console import Console, ConsoleOptions, RenderableType
from rich.segment import Segment
from rich.table import Table
from rich.text import Text

from pricing import json_texts
from pricing.cli.screens.signs import Printed, can_show_all, print_as_is, unsteered
from pricing.cli.screens.stacking import NAME_WIDTH, Stacking
from pricing.csv_tables import write_cells, write_csv
from pricing.errors import Fault, told_once

#: Signs of a bar from one eighth of a place to a whole one.
EIGHTHS = " ▏▎▍▌▋▊▉█"


#: The width of a screen that does not say.
USUAL_WIDTH = 80
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


def table(
    heads: Sequence[str],
    rows: Iterable[Sequence[Any]],
    left: int = 1,
    strong: Iterable[int] = (),
    gap: int = 2,
    named: Mapping[int, str] = MappingProxyType({}),
) -> Stacking:
    """A table without a frame: the first `left` columns are words, the rest are figures, which are never cut.

    `named` says what the first cell is called in rows that have no other.
    """
    columns = [_texts(column) for column in itertools.zip_longest(*rows, fillvalue="")] or [()] * len(heads)
    columns += [("",) * len(columns[0])] * (len(heads) - len(columns)) if columns else []
    made = Stacking(box=None, padding=(0, gap, 0, 0), pad_edge=False, header_style="dim")
    for place, (head, column) in enumerate(zip(heads, columns, strict=True)):
        widest = max(map(len, column), default=0)
        if place < left:
            made.add_column(head, overflow="fold", min_width=min(widest, NAME_WIDTH) if place == 0 else None)
        else:
            broken = "\n".join(_head_lines(head, widest)) if head.strip() else head
            made.add_column(broken, justify="right", no_wrap=True, overflow="fold")
    made.hold(columns, frozenset(strong), named)
    return made


def names_of(rows: Iterable[Sequence[str]], called: Callable[[str, str], tuple[str, str]]) -> dict[int, str]:
    """What products are called that have a row of their own, by its place; "" where that is how they are typed."""
    alone = {place: row[0] for place, row in enumerate(rows) if row[0] and not any(row[1:])}
    names = {place: called(sku, "")[0] for place, sku in alone.items()}
    return {place: "" if name == alone[place] else name for place, name in names.items()}


def _head_lines(head: str, widest: int) -> list[str]:
    """The head of figures that are so wide in as few lines as may be, and these no wider than they must."""
    lines = textwrap.wrap(head, max(widest, HEAD_WIDTH))
    narrower = (
        textwrap.wrap(head, width, break_on_hyphens=False, break_long_words=False)
        for width in range(max(widest, 1), HEAD_WIDTH)
    )
    return next((each for each in narrower if len(each) == len(lines) > 1), lines)


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
