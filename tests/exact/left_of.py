"""A figure that is left of sums far larger than itself, and how large they are.

What a float64 can say of a difference is some 1e-16 of the sums that it is the difference of, and not of itself: a
profit of 0.5 that is left of takings and costs of 1,000,000 each is known to some 1e-9 only.
"""

from __future__ import annotations

from fractions import Fraction

NOTHING = Fraction(0)


class LeftOf(Fraction):
    """A difference with `of`, the size of the sums that it is left of; it reckons as any other fraction does."""

    of: Fraction

    def __new__(cls, numerator=0, denominator=None, of: Fraction = NOTHING):
        self = super().__new__(cls, numerator, denominator)
        self.of = of
        return self


def left_of(difference, sums):
    """The difference with the size of its sums, over what both are divided by; a float or None as it is."""
    return LeftOf(difference, of=abs(sums)) if isinstance(difference, Fraction) else difference


def size_of(value) -> Fraction:
    """How large the numbers are of which this one is made: itself, or the sums that it is left of."""
    return max(abs(Fraction(value)), getattr(value, "of", NOTHING))
