"""The rows of one table as all of its blocks have them: which are alike, which are listed, where they are stated."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property
from types import MappingProxyType

import numpy as np

from pricing.formulas.sheet_layout import LongRow
from pricing.model.rows import Resolved
from pricing.workbook.sheets.labels import Words
from pricing.workbook.sheets.twins import OF_SETS, Index

#: Tables whose rows are a channel's, and where in their index it stands.
CHANNEL_AXIS: Mapping[str, int] = MappingProxyType(
    {"channel": 0, "fee": 0, "price_step": 0, "postage_tier": 0, "price": 1, "price_fee": 1}
)


def currency_of(resolved: Resolved, table: str, row: LongRow) -> str:
    """The currency of what buyers see or are charged in a row: its channel's, elsewhere the workshop's."""
    place = CHANNEL_AXIS.get(table)
    return resolved.currency if place is None else resolved.channels[row.index[place]].currency


class TableRows:
    """The rows of a table, those of hidden variants behind all that are listed.

    A row that several products share (a step of a process) is one object: what is made of what it states is made once.
    """

    def __init__(self, table: str, rows: Sequence[LongRow], words: Words):
        self.table, self.rows, self.words = table, rows, words
        self._stated: dict[bool, list[tuple[Index, int] | None]] = {}

    @cached_property
    def listed(self) -> int:
        """How many rows are listed; the others are computed along."""
        twins = self.words.twins
        if not twins.are_some:
            return len(self.rows)
        return next(
            (place for place, row in enumerate(self.rows) if twins.is_hidden(self.table, row.index)), len(self.rows)
        )

    @cached_property
    def kinds(self) -> list[int]:
        """Of which kind each row is: rows of the same kind state the same, for they are one object."""
        return [id(row.row) for row in self.rows]

    @cached_property
    def of_kind(self) -> dict[int, LongRow]:
        """For each kind the first row of it."""
        return {kind: row for kind, row in zip(reversed(self.kinds), reversed(self.rows), strict=True)}

    @cached_property
    def listed_kinds(self) -> dict[int, LongRow]:
        """For each kind of a listed row the first of it."""
        listed: dict[int, LongRow] = {}
        for kind, row in zip(self.kinds[: self.listed], self.rows, strict=False):
            listed.setdefault(kind, row)
        return listed

    def stated(self, name: str) -> np.ndarray:
        """What each row states of an input, NaN where nothing is stated."""
        of_kind = {kind: getattr(row.row, name) for kind, row in self.of_kind.items()}
        return np.array([of_kind[kind] for kind in self.kinds], dtype=float)

    @cached_property
    def positions(self) -> Mapping[Index, int]:
        """Where a row stands in the blocks of its table, counted from 1, by its place on the axes."""
        return {row.index: position for position, row in enumerate(self.rows, 1)}

    @cached_property
    def places(self) -> tuple[np.ndarray, ...]:
        """The places of the rows on every axis."""
        return tuple(np.array([row.index for row in self.rows], dtype=np.intp).T)

    @cached_property
    def currencies(self) -> list[str]:
        """The currency of each row."""
        return [currency_of(self.words.resolved, self.table, row) for row in self.rows]

    def stated_at(self, name: str) -> list[tuple[Index, int] | None]:
        """For each row that is not listed, where an input of it is stated: on the axes, and counted from 1.

        None where that is the row itself.
        """
        of_sets = name == OF_SETS
        if of_sets not in self._stated:
            found = [self.words.twins.of(self.table, name, row.index) for row in self.rows[self.listed :]]
            self._stated[of_sets] = [None if there is None else (there, self.positions[there]) for there in found]
        return self._stated[of_sets]
