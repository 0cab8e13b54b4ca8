"""Rows of a table as strands: what each piece of a row is from the top down, woven into rows where they are written.

The cells of a column are alike but for the number of the row and the value, so a column is told as a few strands, of
which most are one text for all rows; no cell is put together by itself.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import chain, islice, repeat
from typing import TypeAlias

import numpy as np

#: A text that stands in every row, or the texts of all rows from the top down.
Strand: TypeAlias = str | Iterable[str]
#: Figures that are turned into texts at a time.
AT_A_TIME = 1000
#: From the least to below the greatest that are told without an exponent.
PLAIN = (1e-4, 1e16)


def woven(strands: Iterable[Strand], rows: int, at_once: int) -> Iterator[tuple[int, str]]:
    """The text of so many rows `at_once`, and how many they are, until there are no more of the `rows`."""
    pieces = zip(*[repeat(each) if isinstance(each, str) else each for each in _merged(strands)])  # noqa: B905
    for done in range(0, rows, at_once):
        count = min(at_once, rows - done)
        yield count, "".join(chain.from_iterable(islice(pieces, count)))


def _merged(strands: Iterable[Strand]) -> list[Strand]:
    """The strands, neighbours that are the same in every row made one."""
    merged: list[Strand] = []
    for each in strands:
        before = merged[-1] if merged else None
        if isinstance(each, str) and isinstance(before, str):
            merged[-1] = before + each
        else:
            merged.append(each)
    return merged


def told(figures: np.ndarray) -> Iterator[str]:
    """Numbers in full, as a cell holds them, made as they are asked for; anything for what is no finite number."""
    return chain.from_iterable(
        _in_full(figures[begin : begin + AT_A_TIME]) for begin in range(0, len(figures), AT_A_TIME)
    )


def _in_full(figures: np.ndarray) -> Iterable[str]:
    """As `repr` tells them: what JSON tells in a third of the time is the same but for exponents."""
    sizes = np.abs(figures)
    if np.any((sizes < PLAIN[0]) & (sizes > 0) | (sizes >= PLAIN[1])):
        return map(repr, figures.tolist())
    from pydantic_core import to_json

    return to_json(figures.tolist())[1:-1].decode().split(",")
