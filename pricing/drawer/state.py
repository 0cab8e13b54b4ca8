"""What lies in the drawer once all entries have happened, and what it had cost: the moving average.

What is bought joins what lies there, at the average of both; what is taken out takes the average with it. Sprues and
buttons come back at the average of the charge they were part of, so the castings and what was lost bear the rest;
filings come back at what the refiner pays for them, where that was known, else at nothing. Where
nobody knows what some metal had cost (it was there before the drawer was kept), it counts as having cost what the rest
of its kind did; where the cost of none is known, there is no average.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from pricing.drawer.model import Form, KeptEntry, Line

#: An alloy in a form.
Kind = tuple[str, Form]
#: Grams that are noise of the arithmetic.
NOISE_G = 1e-6


@dataclass(frozen=True)
class Held:
    """Metal of one alloy and form: its grams (below 0 where more was taken than was ever weighed in), of how many of
    them the cost is known, and that cost in the workshop's currency."""

    grams: float = 0.0
    known_g: float = 0.0
    cost: float = 0.0

    @property
    def average(self) -> float | None:
        """What a gram had cost; None where that is not known of any."""
        return self.cost / self.known_g if self.known_g > 0 else None

    @property
    def cost_paid(self) -> float | None:
        """What all of it had cost, at the average; None where that is not known. 0 where nothing is there."""
        if self.grams <= 0:
            return 0.0
        return self.grams * self.average if self.average is not None else None

    def with_more(self, grams: float, cost: float | None) -> Held:
        """With metal added that had cost so much (None: nobody knows).

        Where more had been taken than there was, what comes in fills that first: its cost went with what was taken.
        """
        owed = min(grams, max(0.0, -self.grams))
        left = grams - owed
        after = self.grams + grams
        if cost is None or not grams:
            return replace(self, grams=after)
        return Held(after, self.known_g + left, self.cost + cost * (left / grams))

    def with_less(self, grams: float) -> Held:
        """With metal taken out, which takes its average with it."""
        if self.grams <= 0:
            return replace(self, grams=self.grams - grams)
        stays = max(0.0, 1 - grams / self.grams)
        return Held(self.grams - grams, self.known_g * stays, self.cost * stays)

    def counted(self, grams: float, cost: float | None) -> Held:
        """As a stocktake finds it. A difference is booked at the average, unless it says what all of it had cost."""
        if cost is not None:
            return Held(grams, grams, cost)
        if self.average is None or self.grams <= 0:
            return Held(grams)
        return Held(grams, self.known_g * grams / self.grams, self.cost * grams / self.grams)


@dataclass(frozen=True)
class Move:
    """What one line of an entry did: how it was before and after it, and what the metal that moved had cost.

    `cost` is None where nobody knows; of a stocktake it is the cost of the `difference`, which is None elsewhere.
    """

    entry: KeptEntry
    line: Line
    before: Held
    after: Held
    cost: float | None
    difference: float | None = None

    @property
    def moved_g(self) -> float:
        """By how much the drawer grew; below 0 where metal left it."""
        return self.after.grams - self.before.grams

    @property
    def cost_moved(self) -> float | None:
        """What the metal that came in or went out had cost, with the sign of what it did to the drawer."""
        if self.cost is None:
            return None
        return -self.cost if self.line.what in ("used", "sold") else self.cost


@dataclass(frozen=True)
class Drawer:
    """The drawer after its entries: what lies in it by alloy and form, and how it came to that."""

    held: Mapping[Kind, Held]
    moves: tuple[Move, ...]

    @property
    def alloys(self) -> tuple[str, ...]:
        """The alloys that ever lay in it, in alphabetical order."""
        return tuple(sorted({alloy for alloy, _ in self.held}))

    def of(self, alloy: str, form: Form) -> Held:
        """What there is of an alloy in a form."""
        return self.held.get((alloy, form), Held())


def drawer_after(entries: Iterable[KeptEntry], until: date | None = None) -> Drawer:
    """The drawer after these entries, in their order; with `until` after that day."""
    held: dict[Kind, Held] = {}
    moves: list[Move] = []
    for entry in entries:
        if until is not None and entry.day > until:
            continue
        charges: dict[str, Held] = {}
        for line in sorted(entry.lines, key=lambda line: line.what == "returned"):  # what went in is known then
            kind = (line.alloy, line.form)
            before = held.get(kind, Held())
            move = _moved(entry, line, before, charges.get(line.alloy), held)
            held[kind] = move.after
            moves.append(move)
            if line.what == "used":
                charges[line.alloy] = charges.get(line.alloy, Held()).with_more(line.grams, move.cost)
    return Drawer(held, tuple(moves))


def _moved(entry: KeptEntry, line: Line, before: Held, charge: Held | None, held: Mapping[Kind, Held]) -> Move:
    paid = None if line.money is None else line.money * entry.rate
    if line.what == "counted":
        after, difference = before.counted(line.grams, paid), line.grams - before.grams
        each = before.average if before.average is not None else after.average
        return Move(entry, line, before, after, None if each is None else each * difference, difference)
    if line.what in ("used", "sold"):
        cost = None if before.average is None else before.average * line.grams
        return Move(entry, line, before, before.with_less(line.grams), cost)
    if line.what == "returned":
        source = charge or held.get((line.alloy, "fresh"), Held())
        paid = None if source.average is None else source.average * line.grams
    elif line.what == "swept" and paid is None:
        paid = 0.0  # what was filed off is borne by the pieces already
    return Move(entry, line, before, before.with_more(line.grams, paid), paid)
