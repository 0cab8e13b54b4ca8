"""Tables that leave the project as CSV: one way for the command line and for a notebook.

Not by pandas: to load it takes 0.37 s of the processor, and a whole `cost --csv` of the sample 0.87 s; a test of the
start-up holds it out. A frame is written by the same lines.
"""

from __future__ import annotations

import csv
from collections.abc import Mapping, Sequence
from io import StringIO
from typing import Any, TextIO

#: A cell that begins so is a formula to a spreadsheet program, whatever the file says.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")


def no_formula(text: str) -> str:
    """A text for a cell of a CSV, with an apostrophe before it where a spreadsheet would take it for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def write_csv(rows: Sequence[Mapping[str, Any]], to: TextIO) -> None:
    """Records as lines, under every name that one of them has: None as an empty field, no text that is a formula."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    whole = StringIO()  # a stream that looks at what is printed looks once
    writer = csv.writer(whole, lineterminator="\n")
    writer.writerow([no_formula(name) for name in names])
    for row in rows:
        writer.writerow([no_formula(value) if isinstance(value := row.get(name), str) else value for name in names])
    to.write(whole.getvalue())
