"""What the plan of a month holds: choices, limits and what they are worth, metal, orders on top; and its records."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

#: Less of a set, a flask or a gram than this is none: noise of the arithmetic.
NOISE = 1e-7


@dataclass(frozen=True)
class Choice:
    """A variant in a channel: how many sets to make of it, and per set what it brings and takes.

    `short` is what one would have to bring more to be worth making; 0 for what is made. `brings_an_hour` and
    `brings_a_flask` are None where it takes none.
    """

    sku: str
    alloy: str
    channel: str
    sets: float
    price: float
    brings: float
    hours: float
    flasks: float
    grams: float
    earned_per_hour: float | None
    short: float

    @property
    def brings_an_hour(self) -> float | None:
        return self.brings / self.hours if self.hours > 0 else None

    @property
    def brings_a_flask(self) -> float | None:
        return self.brings / self.flasks if self.flasks > 0 else None


@dataclass(frozen=True)
class Limit:
    """One limit: how much there is, how much of it is used, and what one more of it would bring.

    `kind` is hours, flasks, loads, grams, cash, most, least or each (variant); `name` says of what. Of a `least`,
    `worth` is what one fewer would bring.
    """

    kind: str
    name: str
    there_is: float
    used: float
    worth: float


@dataclass(frozen=True)
class Metal:
    """Fresh metal of an alloy in a form (cast, cut, bought): grams needed, in the drawer and to buy, and their cost.

    `worth_per_g` is what one more gram that lies there is worth: its price, and where cash is short what that cash
    would bring besides.
    """

    alloy: str
    takes: str
    needed_g: float
    lies_g: float
    to_buy_g: float
    costs: float
    worth_per_g: float


@dataclass(frozen=True)
class Mix:
    """What to make, every choice by falling sets and then by what an hour of it brings; the limits; the metal.

    `brings` is what all of it brings, `overhead` the month's, `hours` the maker's own that it takes. What limits are
    worth is that of shares of sets and flasks; `gap` says how much better than this, as a share, the best in whole
    numbers may be.
    """

    choices: tuple[Choice, ...]
    limits: tuple[Limit, ...]
    metal: tuple[Metal, ...]
    brings: float
    overhead: float
    hours: float
    gap: float

    @property
    def made(self) -> tuple[Choice, ...]:
        return tuple(each for each in self.choices if each.sets > NOISE)

    @property
    def leaves(self) -> float:
        """What is left for the maker's own hours once the month's overhead is paid."""
        return self.brings - self.overhead

    @property
    def an_hour(self) -> float | None:
        return self.leaves / self.hours if self.hours > NOISE else None


@dataclass(frozen=True)
class Rush:
    """An order that comes on top, of so many sets in a channel: what it displaces, and what one must fetch to pay that.

    `displaces` is what the month brings less without counting the order itself; `price` the list price, in the
    channel's currency and before rounding, at which the order brings exactly as much; `in_force` the price in force.
    """

    sku: str
    alloy: str
    channel: str
    sets: float
    displaces: float
    price: float
    in_force: float


def mix_records(found: Mix) -> list[dict[str, Any]]:
    """A flat record for each choice."""
    return [
        {
            "sku": each.sku,
            "alloy": each.alloy,
            "channel": each.channel,
            "sets": each.sets,
            "price": each.price,
            "brings": each.brings,
            "hours": each.hours,
            "flasks": each.flasks,
            "grams": each.grams,
            "brings_an_hour": each.brings_an_hour,
            "brings_a_flask": each.brings_a_flask,
            "earned_per_hour": each.earned_per_hour,
            "short": each.short,
        }
        for each in found.choices
    ]
