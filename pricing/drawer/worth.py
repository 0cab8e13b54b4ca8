"""What lies in the drawer in money: as it was paid, and at today's prices, which are the engine's own."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pricing.drawer.model import FORMS, Form
from pricing.drawer.state import Drawer, Held
from pricing.formulas.engine import Computed
from pricing.records import number

#: The quantity of the cost model that a gram of each form is worth today: what it costs to buy, or what it brings.
WORTH_OF: Mapping[Form, str] = MappingProxyType(
    {"fresh": "grain_price_per_g", "returned": "scrap_price_per_g", "lemel": "lemel_price_per_g"}
)


@dataclass(frozen=True)
class Lying:
    """What lies there of one alloy and form, with its money in the workshop's currency; None where it is not known.

    `today_per_g` is what a gram of it costs to replace, or brings where it is returned metal or lemel.
    """

    alloy: str
    form: Form
    held: Held
    today_per_g: float | None

    @property
    def today(self) -> float | None:
        """What all of it is worth at today's price; nothing where nothing is there."""
        return None if self.today_per_g is None else max(0.0, self.held.grams) * self.today_per_g


def prices_per_g(computed: Computed) -> Mapping[str, Mapping[Form, float | None]]:
    """By alloy and form what a gram is worth on the day of the costing; None where a metal of it has no quote there."""
    found: dict[str, Mapping[Form, float | None]] = {}
    for place, row in enumerate(computed.resolved.alloys):
        is_priced = all(content.metal is not None for content in row.contents if content.is_priced)
        found[row.name] = {
            form: number(computed[name][place]) if is_priced else None for form, name in WORTH_OF.items()
        }
    return found


def lying(drawer: Drawer, computed: Computed | None) -> tuple[Lying, ...]:
    """Every alloy and form that ever lay there, alloys in alphabetical order; without a costing nothing of today."""
    prices = prices_per_g(computed) if computed else {}
    return tuple(
        Lying(alloy, form, drawer.of(alloy, form), prices.get(alloy, {}).get(form))
        for alloy in drawer.alloys
        for form in FORMS
        if (alloy, form) in drawer.held
    )


def total(amounts: list[float | None]) -> float | None:
    """The sum of some amounts; None where one of them is not known."""
    return None if any(amount is None for amount in amounts) else sum(amount or 0.0 for amount in amounts)
