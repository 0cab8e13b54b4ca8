"""What two editions differ in, as the page shows it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pricing.editions.chain import Edition
from pricing.editions.inputs import channel_currencies
from pricing.page.rendering import minus
from pricing.page.stamps import Stamp
from pricing.page.views.edition import Called
from pricing.shown import NOTHING, Shown
from pricing.studies.publishing.editions_compared import cost_words, records

#: So many variants are shown.
MOST_COMPARED = 400


@dataclass(frozen=True)
class ComparedPiece:
    """A variant of which some price differs: why its cost does, and by channel before, after and how much more."""

    name: str
    alloy: str
    stamp: Stamp | None
    cost: str
    prices: tuple[tuple[str, str, str, str], ...]


@dataclass(frozen=True)
class Compared:
    """Two editions against each other; of `quiet` variants the cost changed and no price did."""

    title: str
    pieces: tuple[ComparedPiece, ...]
    more: int
    quiet: int


def compared(first: Edition, second: Edition, called: Called) -> Compared:
    """What differs. Raises UsageFault where they are in different currencies."""
    found = records(first, second)
    shown = Shown(found["currency"], currencies={**channel_currencies(first), **channel_currencies(second)})
    pieces, quiet = [], 0
    for record in found["variants"]:
        moved = [price for price in record["prices"] if price["before"] != price["after"]]
        if not moved:
            quiet += 1
            continue
        prices = tuple(_moved(shown, price) for price in moved)
        pieces.append(ComparedPiece(*called(record["sku"], record["alloy"]), minus(cost_words(shown, record)), prices))
    before, after = (f"edition {each['number']} of {each['as_of']}" for each in (found["before"], found["after"]))
    title = f"From {before} to {after}, {shown.currency}"
    return Compared(title, tuple(pieces[:MOST_COMPARED]), max(0, len(pieces) - MOST_COMPARED), quiet)


def _moved(shown: Shown, price: dict[str, Any]) -> tuple[str, str, str, str]:
    name, before, after = price["channel"], price["before"], price["after"]
    both = before is not None and after is not None
    more = minus(shown.price(name, after - before, signed=True)) if both else NOTHING
    return shown.channel(name), shown.price(name, before), shown.price(name, after), more
