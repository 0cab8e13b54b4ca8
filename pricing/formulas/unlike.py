"""Lists of rows in which the same objects come again and again, each list and each row taken once."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import chain
from typing import NamedTuple

from pricing.model.rows import Row


class Unlike(NamedTuple):
    """The lists and the rows that are not one and the same object, in the order in which they first come up.

    `of_each` is the number of the list that each of all lists is; `places` are those of the rows of the unlike lists
    among the unlike rows, list behind list.
    """

    lists: list[Sequence[Row]]
    of_each: list[int]
    rows: list[Row]
    places: list[int]


def unlike(nested: Sequence[Sequence[Row]]) -> Unlike:
    """Some lists of rows, which somebody holds: products that do the same steps hold one and the same list."""
    each = list(map(id, nested))
    lists = dict(zip(each, nested, strict=True))
    numbers = dict(zip(lists, range(len(lists)), strict=True))
    held = list(chain.from_iterable(lists.values()))
    each_held = list(map(id, held))
    rows = dict(zip(each_held, held, strict=True))
    places = dict(zip(rows, range(len(rows)), strict=True))
    return Unlike(
        list(lists.values()),
        list(map(numbers.__getitem__, each)),
        list(rows.values()),
        list(map(places.__getitem__, each_held)),
    )
