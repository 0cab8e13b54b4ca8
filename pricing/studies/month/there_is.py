"""What there is of everything in a month: hours, flasks, kiln loads, metal, cash, and how much sells."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace

from pricing.errors import UsageFault
from pricing.folder.read import Folder
from pricing.model.workshop import MONTHS_IN_A_YEAR


@dataclass(frozen=True)
class Sales:
    """A bound on how many sets are sold of everything that has all of these names: skus, alloys, channels."""

    names: tuple[str, ...]
    sets: float


@dataclass(frozen=True)
class Month:
    """What there is of everything in the month; what is not named is no limit.

    `hours` are the maker's own, `roles` those of one role; `flasks` and `loads` are by flask and machine, "" for all
    together; `grams` are those in the drawer, by alloy, and count only where `cash` for metal is limited. `most` and
    `least` bound what is sold, `each_most` every variant by itself.
    """

    hours: float | None = None
    roles: Mapping[str, float] = field(default_factory=dict)
    flasks: Mapping[str, float] = field(default_factory=dict)
    loads: Mapping[str, float] = field(default_factory=dict)
    grams: Mapping[str, float] = field(default_factory=dict)
    cash: float | None = None
    most: tuple[Sales, ...] = ()
    least: tuple[Sales, ...] = ()
    each_most: float | None = None


def month_of(folder: Folder, typed: Month) -> Month:
    """A month with what the folder states where nothing was typed: hours of [overhead], flasks of [week]."""
    workshop = folder.stated.workshop
    if typed.hours is None and not typed.roles:
        typed = replace(typed, hours=workshop.overhead.productive_hours)
    if not typed.flasks and workshop.week is not None and workshop.week.flasks is not None:
        flasks = workshop.week.flasks * workshop.week.weeks_a_year / MONTHS_IN_A_YEAR
        typed = replace(typed, flasks={"": flasks})
    return typed


def sales_of(texts: Iterable[str], option: str) -> tuple[Sales, ...]:
    """Bounds written as `NAME:NAME=N`. Raises UsageFault where one is not."""
    found = []
    for text in texts:
        names, _, count = text.rpartition("=")
        found.append(Sales(tuple(name.strip() for name in names.split(":")), _count(count, text, option)))
        if not all(found[-1].names):
            raise UsageFault(f"{option} {text}: name what it is of, as in thimble:sterling:shop=12.")
    return tuple(found)


def amounts_of(texts: Iterable[str], option: str) -> dict[str, float]:
    """Amounts written as `NAME=N`, or as `N` for all. Raises UsageFault where one is not."""
    found = {}
    for text in texts:
        name, _, count = text.rpartition("=")
        found[name.strip()] = _count(count, text, option)
    return found


def _count(count: str, text: str, option: str) -> float:
    try:
        amount = float(count)
    except ValueError:
        amount = -1.0
    if not 0 <= amount < float("inf"):
        raise UsageFault(f"{option} {text}: write how many in digits, 0 or more, as in 12 or NAME=12.")
    return amount
