"""Few and cheap words for drawing a workshop: everything is one integer, and with Hypothesis shrinks to the plain."""

from __future__ import annotations

import os
from collections.abc import Callable, Sequence
from decimal import Decimal
from functools import cache
from random import Random
from typing import TypeVar

from hypothesis import strategies as st

Drawn = TypeVar("Drawn")


@cache
def integers(low: int, high: int) -> st.SearchStrategy[int]:
    """Whole numbers of a range; kept, since building a strategy takes longer than drawing from it."""
    return st.integers(low, high)


class Chooser:
    """Draws figures of a workshop with the `draw` of a Hypothesis composite."""

    def __init__(self, draw: Callable, unit: int = 1):
        self.draw = draw
        self.unit = unit  # money in the workshop's currency for about one pound

    def paid_in(self, unit: int) -> Chooser:
        """The same draws, with money of another currency."""
        return Chooser(self.draw, unit)

    def integer(self, low: int, high: int) -> int:
        """A whole number, both bounds in reach."""
        return self.draw(integers(low, high))

    def number(self, low: str, high: str, places: int) -> Decimal:
        """A decimal of so many places, both bounds in reach."""
        scale = 10**places
        return Decimal(self.integer(int(Decimal(low) * scale), int(Decimal(high) * scale))) / scale

    def money(self, low: str, high: str, places: int = 2) -> Decimal:
        """An amount of about so many pounds, in the workshop's currency."""
        return self.number(low, high, places) * self.unit

    def share(self) -> Decimal:
        """A fraction from 0 to 1."""
        return self.number("0", "1", 2)

    def chance(self, of_ten: int) -> bool:
        """True in so many of ten cases."""
        return self.integer(1, 10) > 10 - of_ten

    def one(self, choices: Sequence):
        """One of the choices."""
        return choices[self.integer(0, len(choices) - 1)]

    def some(self, choices: Sequence, least: int = 0) -> list:
        """Some of the choices, in their order; the first one if it would be too few."""
        which = self.integer(0, 2 ** len(choices) - 1)
        chosen = [choice for place, choice in enumerate(choices) if which >> place & 1]
        return chosen if len(chosen) >= least else [choices[0]]

    def some_of(self, optional: dict[str, Callable]) -> dict:
        """Some of the keys, each with what its function gives."""
        return {key: optional[key]() for key in self.some(list(optional))}

    def shuffled(self, choices: Sequence) -> list:
        """The choices in any order."""
        left, result = list(choices), []
        while left:
            result.append(left.pop(self.integer(0, len(left) - 1)))
        return result


class RandomChooser(Chooser):
    """Draws without Hypothesis, for very many workshops: from a random generator, the bounds more often than others."""

    def __init__(self, random: Random, unit: int = 1):
        super().__init__(random.randint, unit)
        self.random = random

    def paid_in(self, unit: int) -> RandomChooser:
        """The same draws, with money of another currency."""
        return RandomChooser(self.random, unit)

    def integer(self, low: int, high: int) -> int:
        """A whole number, one in twenty the lower bound and one in twenty the upper."""
        place = self.random.random()
        if place < 0.05:
            return low
        return high if place < 0.1 else self.random.randint(low, high)


def examples(of: Callable[[Chooser], Drawn]) -> st.SearchStrategy[Drawn]:
    """A strategy for what a function draws: whole, from one number, which is 20 times as fast as figure by figure.

    With TROYTAG_EXPLORE=1, where others are looked for, Hypothesis draws every figure, and shrinks what fails.
    """
    if os.environ.get("TROYTAG_EXPLORE") == "1":
        return st.composite(lambda draw: of(Chooser(draw)))()
    return st.integers(0, 2**32 - 1).map(lambda number: of(RandomChooser(Random(number))))
