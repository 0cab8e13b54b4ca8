"""In what form records are told, each made by columns: as Python has them, as JSON, as the cells of a CSV.

Who tells of something names its columns once, and every form is made of them.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import accumulate, pairwise
from typing import Any, Protocol

import numpy as np

from pricing import csv_tables, json_texts


class Flat(Protocol):
    """How a column is made."""

    @property
    def absent(self) -> Any:
        """What stands in a column where a record lacks the name; never in the first."""

    def figures(self, column: np.ndarray) -> Sequence[Any]:
        """Figures, None for what is undefined."""

    def words(self, column: Sequence[Any]) -> Sequence[Any]:
        """Words, codes, whole numbers, and what else is nothing nested."""


class Form(Flat, Protocol):
    """How a record is made besides, and what is nested in one; `depth` is how many levels deep it will stand."""

    def nested(self, column: Sequence[Any], depth: int) -> Sequence[Any]:
        """Whatever else, absent where it is None."""

    def records(self, columns: Mapping[str, Sequence[Any]], depth: int) -> list[Any]:
        """A record for each place of the columns."""

    def lists(self, items: Sequence[Any], counts: Iterable[int], depth: int) -> list[Any]:
        """Lists of so many of the items each, one after another."""

    def objects(self, names: Sequence[Any], items: Sequence[Any], counts: Iterable[int], depth: int) -> list[Any]:
        """The same by name."""


class AsDicts:
    """As Python has them."""

    absent = object()

    def figures(self, column: np.ndarray) -> list[Any]:
        return numbers(column)

    def words(self, column: Sequence[Any]) -> Sequence[Any]:
        return column

    def nested(self, column: Sequence[Any], depth: int) -> list[Any]:
        return [self.absent if each is None else each for each in column]

    def records(self, columns: Mapping[str, Sequence[Any]], depth: int) -> list[dict[str, Any]]:
        names = list(columns)
        made = [dict(zip(names, each, strict=True)) for each in zip(*columns.values(), strict=True)]
        for name, column in columns.items():
            if self.absent in column:
                for record, each in zip(made, column, strict=True):
                    if each is self.absent:
                        del record[name]
        return made

    def lists(self, items: Sequence[Any], counts: Iterable[int], depth: int) -> list[list[Any]]:
        return [list(items[start:end]) for start, end in pairwise(accumulate(counts, initial=0))]

    def objects(
        self, names: Sequence[str], items: Sequence[Any], counts: Iterable[int], depth: int
    ) -> list[dict[str, Any]]:
        ends = pairwise(accumulate(counts, initial=0))
        return [dict(zip(names[start:end], items[start:end], strict=True)) for start, end in ends]


class AsJson:
    """As texts of JSON."""

    absent = json_texts.ABSENT

    def figures(self, column: np.ndarray) -> list[str]:
        return json_texts.numbers(column + 0.0)

    def words(self, column: Sequence[Any]) -> list[str]:
        return json_texts.words(column)

    def nested(self, column: Sequence[Any], depth: int) -> list[str]:
        return [self.absent if each is None else json_texts.value(each, depth) for each in column]

    def records(self, columns: Mapping[str, Sequence[str]], depth: int) -> list[str]:
        return json_texts.records(columns, depth)

    def lists(self, items: Sequence[str], counts: Iterable[int], depth: int) -> list[str]:
        return json_texts.lists(items, counts, depth)

    def objects(self, names: Sequence[str], items: Sequence[str], counts: Iterable[int], depth: int) -> list[str]:
        return json_texts.objects(names, items, counts, depth)


class AsCells:
    """As fields of a CSV. Nothing is nested in one."""

    absent = json_texts.ABSENT

    def figures(self, column: np.ndarray) -> list[str]:
        return csv_tables.cells_of_numbers(column + 0.0)

    def words(self, column: Sequence[Any]) -> list[str]:
        return csv_tables.cells(column)


def columns_of(records: Sequence[Mapping[str, Any]], form: Flat) -> dict[str, Sequence[Any]]:
    """Columns of records that are flat, under all names that one of them has."""
    made: dict[str, Sequence[Any]] = {}
    for name in dict.fromkeys(name for record in records for name in record):
        column = form.words([record.get(name) for record in records])
        made[name] = [each if name in record else form.absent for each, record in zip(column, records, strict=True)]
    return made


def numbers(column: np.ndarray) -> list[Any]:
    """Figures as plain numbers, nested as the column is; None for what is undefined, and no zero is negative."""
    plain = column + 0.0
    finite = np.isfinite(plain)
    if not finite.all():
        plain = plain.astype(object)
        plain[~finite] = None
    taken: list[Any] = plain.tolist()
    return taken
