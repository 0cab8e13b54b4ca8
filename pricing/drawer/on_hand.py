"""What a plan can draw on: the grams that lie in the drawer."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from pricing.drawer.read import FOLDER, read_every_entry, standing
from pricing.drawer.state import NOISE_G, Drawer, drawer_after
from pricing.errors import Fault, Place


@dataclass(frozen=True)
class OnHand:
    """Grams of one alloy, never below 0."""

    fresh_g: float
    returned_g: float
    lemel_g: float


def read_drawer(root: Path, until: date | None = None) -> Drawer:
    """The drawer of a folder as it is now, or as it was after a day.

    Raises Faults where any of its entries is torn, changed, missing or out of the chain.
    """
    return drawer_after(standing(read_every_entry(root)), until)


def on_hand(root: Path, until: date | None = None) -> Mapping[str, OnHand]:
    """What lies in the drawer by alloy, or lay there after a day; empty where none is kept. Raises as `read_drawer`."""
    drawer = read_drawer(root, until)
    return {alloy: OnHand(*(max(0.0, drawer.of(alloy, form).grams) for form in ("fresh", "returned", "lemel")))
            for alloy in drawer.alloys}  # fmt: skip


def shortages(root: Path) -> list[Fault]:
    """A note for every alloy and form of which more was taken out than was ever weighed in."""
    return [
        Fault(Place(FOLDER), "", f"of {form} {alloy} {-held.grams:,.2f} g more were taken than were ever weighed in",
              f"Count what lies there: troytag stock {root} add counted {alloy} GRAMS --form {form}.")
        for (alloy, form), held in sorted(read_drawer(root).held.items())
        if held.grams < -NOISE_G
    ]  # fmt: skip
