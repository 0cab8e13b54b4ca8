"""What commands print with: tables that fit 80 columns, bars, warnings; plain text where nobody looks at colours."""

from __future__ import annotations

import csv
import json
import sys
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from pricing.errors import Fault

#: Signs of a bar from one eighth of a place to a whole one.
EIGHTHS = " ▏▎▍▌▋▊▉█"


def out() -> Console:
    """Where results go."""
    return Console(highlight=False, emoji=False, markup=False, soft_wrap=False)


def err() -> Console:
    """Where everything else goes."""
    return Console(stderr=True, highlight=False, emoji=False, markup=False)


def table(heads: Sequence[str], rows: Iterable[Sequence[Any]], left: int = 1, strong: Iterable[int] = ()) -> Table:
    """A table without a frame: the first `left` columns are words, the rest are figures."""
    made = Table(box=None, padding=(0, 2, 0, 0), pad_edge=False, header_style="dim")
    for place, head in enumerate(heads):
        made.add_column(head, justify="left" if place < left else "right", no_wrap=place >= left)
    strong = set(strong)
    for place, row in enumerate(rows):
        made.add_row(
            *[each if isinstance(each, Text) else str(each) for each in row], style="bold" if place in strong else None
        )
    return made


def bar(share: float, places: int) -> str:
    """A bar of `share` (0 to 1) of so many places, to an eighth of a place."""
    eighths = max(0, min(places * 8, round(share * places * 8)))
    return ("█" * (eighths // 8) + EIGHTHS[eighths % 8]).rstrip()


def tell(warnings: Iterable[Fault]) -> None:
    """Warnings to stderr."""
    advise([warning.headline() for warning in warnings])


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
    """One JSON document on stdout, numbers in full."""
    json.dump(document, sys.stdout, ensure_ascii=False, indent=1, allow_nan=False)
    print()


def print_csv(rows: Sequence[Mapping[str, Any]]) -> None:
    """Records as CSV on stdout, None as an empty field."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    writer = csv.DictWriter(sys.stdout, names, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
