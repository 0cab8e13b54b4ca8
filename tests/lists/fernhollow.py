"""The sample workshop on a day of its price history, whole or with pieces of its files replaced."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from pathlib import Path

from pricing.costing import Costing, asked_for, cost
from pricing.lists.number_habits import Habit, habit
from tests.folders import small_sample

AS_OF = date(2026, 11, 20)
#: Products that lists are looked at with, besides the few.
LISTED = ("caddy-spoon", "chess-knight", "hawthorn-charm")
#: A file of the folder → pieces of it and what stands there instead.
Changes = Mapping[str, Mapping[str, str]]


def changed_folder(into: Path, changes: Changes) -> Path:
    """A copy of the sample with few products and every occurrence of these pieces replaced; each must be there."""
    small_sample(into, *LISTED)
    for file, pieces in changes.items():
        text = (into / file).read_text(encoding="utf-8")
        for old, new in pieces.items():
            assert old in text, f"{file} has no {old!r}"
            text = text.replace(old, new)
        (into / file).write_text(text, encoding="utf-8")
    return into


def costing_of(root: Path, run: float | None = None, charge_design: bool = False) -> Costing:
    return cost(root, asked_for(AS_OF, run, charge_design))


def british(costing: Costing) -> Habit:
    return habit_in(costing, "en_GB")


def habit_in(costing: Costing, locale: str) -> Habit:
    workshop = costing.folder.stated.workshop
    return habit(workshop.currency, workshop.show, locale)


def everything(costing: Costing) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """All skus and all alloys."""
    return tuple(costing.folder.stated.products), tuple(costing.folder.stated.alloys)


#: The workshop in euro: its prices, its exchange rate and its suppliers' quotes.
IN_EURO: Changes = {"workshop.toml": {'"GBP"': '"EUR"'}, "metal_prices.csv": {",GBP,": ",EUR,"}}
