"""The workbook's defined names: one for each column, and one for each input that a maker may want to go to.

A column is named as its quantity (`labour_rate`), a single input by its column and its row (`wage_bench`,
`quote_price_Ag`). Names are unique whatever their case, and never look like the address of a cell.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator

#: Longest name that spreadsheet programs take.
LONGEST = 255


def column_name(column: str) -> str:
    """The defined name of a column: an input's or a quantity's own; for row numbers, `step_row_of_variant`."""
    return re.sub(r"\W+", "_", column)


def cell_name(column: str, *rows: str) -> str:
    """A valid name for the input of a column in a row: what no name may hold becomes an underscore."""
    words = [re.sub(r"\W+", "_", row).strip("_") for row in rows]
    return "_".join(part for part in (column, *words) if part)[:LONGEST]


def unique(names: Iterable[str], taken: Iterable[str] = ()) -> Iterator[str]:
    """The names in order; one that is taken already gets a number."""
    seen = {name.casefold() for name in taken}
    for name in names:
        found, number = name, 1
        while found.casefold() in seen:
            number += 1
            found = f"{name[: LONGEST - 6]}_{number}"
        seen.add(found.casefold())
        yield found
