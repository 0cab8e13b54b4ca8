"""A price somebody quoted on a day, for a metal or for a currency (a line of `metal_prices.csv`)."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date as Date
from typing import Literal

from pydantic import Field

from pricing.extremes import HIGHEST_PRICE, LOWEST_PRICE
from pricing.model.base import Name, Positive, Sense, StatedModel
from pricing.model.currency import Currency, currencies

#: What a price may be for: so much metal, or one unit of a currency.
QuotedPer = Literal["ozt", "dwt", "g", "kg", "lb", "t", "unit"]


class Quote(StatedModel):
    """One line of the price history; an exchange line says that 1 unit of `metal` is `price` in `currency`."""

    date: Date = Field(description="Day of the quote.")
    metal: Name = Field(description="Symbol of an element, name of a supplier's quote, or code of a currency.")
    price: Positive = Field(description="Price for one `per`, in `currency`.")
    per: QuotedPer = Field(description='Mass that the price is for; "unit" for an exchange rate.')
    currency: Currency = Field(description="ISO 4217 code of the currency of the price.")
    source: str = Field("", description="Where the price was read.")
    line: int = Field(0, description="Line of the file, counted from 1; 0 for a quote in no file.")

    def senses(self) -> Iterator[Sense]:
        if not LOWEST_PRICE <= self.price <= HIGHEST_PRICE:
            yield Sense(("price",), f"{self.price:g} is an absurd price", "Look it up again.")
        if self.per == "unit" and self.metal not in currencies():
            yield Sense(
                ("per",),
                f'"unit" is for exchange rates, and "{self.metal}" is no currency',
                "Write the mass that the price is for, such as ozt or kg.",
            )
