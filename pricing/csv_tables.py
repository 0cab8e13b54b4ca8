"""Tables that leave the project as CSV: one way for the command line and for a notebook.

Not by pandas: to load it takes 0.37 s of the processor, and a whole `cost --csv` of the sample 0.87 s; a test of the
start-up holds it out. A frame is written by the same lines.
"""

from __future__ import annotations

import csv
import math
from collections.abc import Mapping, Sequence
from io import StringIO
from typing import TYPE_CHECKING, Any, TextIO

from pricing.json_texts import ABSENT, numbers

if TYPE_CHECKING:
    import numpy as np

#: A cell that begins so is a formula to a spreadsheet program, whatever the file says.
FORMULA_STARTS = ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠")
#: So many figures are written one by one, without loading what writes very many.
FEW = 50


def no_formula(text: str) -> str:
    """A text for a cell of a CSV, with an apostrophe before it where a spreadsheet would take it for a formula."""
    return f"'{text}" if text.startswith(FORMULA_STARTS) else text


def write_csv(rows: Sequence[Mapping[str, Any]], to: TextIO) -> None:
    """Records as lines, under every name that one of them has: None as an empty field, no text that is a formula."""
    names = list(dict.fromkeys(name for row in rows for name in row))
    write_cells({name: cells([row.get(name) for row in rows]) for name in names}, to, len(rows))


def write_cells(columns: Mapping[str, Sequence[str]], to: TextIO, count: int = 0) -> None:
    """Lines of columns that are made of `cells`, under their names; `count` of them where there is no column.

    Names stand in the order in which the first line, the next, and so on has them; one that is ABSENT in all is none.
    """
    begin = {name: _first_place(column) for name, column in columns.items()}
    columns = {name: columns[name] for name in sorted(columns, key=begin.__getitem__) if begin[name] < math.inf}
    lines = [cells(list(columns)), *(zip(*columns.values(), strict=True) if columns else [()] * count)]
    if len(columns) == 1:
        lines = [(field or '""',) for (field,) in lines]  # else it were no line
    to.write("".join([f"{','.join(line)}\n" for line in lines]))  # a stream that looks at what is printed looks once


def _first_place(column: Sequence[str]) -> float:
    return next((place for place, field in enumerate(column) if field is not ABSENT), math.inf)


def cells(column: Sequence[Any]) -> list[str]:
    """The fields of a column: empty for None, and no text that is a formula."""
    if len(column) > FEW and all(each is None or (type(each) is float and math.isfinite(each)) for each in column):
        import numpy as np

        return cells_of_numbers(np.array(column, dtype=float))
    texts = ["" if each is None else no_formula(each) if isinstance(each, str) else str(each) for each in column]
    fields = {each: _field(each) for each in set(texts)}
    return [fields[each] for each in texts]


def cells_of_numbers(column: np.ndarray) -> list[str]:
    """The same of numbers; empty for what is not finite."""
    return ["" if each == "null" else each for each in numbers(column)]


def _field(text: str) -> str:
    line = StringIO()
    csv.writer(line, lineterminator="\n").writerow([text, ""])
    return line.getvalue().removesuffix(",\n")
