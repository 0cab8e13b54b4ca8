"""Refiners: what they pay for metal sent in, and what they charge (`refiners.toml`)."""

from __future__ import annotations

from collections.abc import Iterator

from pydantic import Field

from pricing.model.alloy import Element
from pricing.model.base import Fraction, FractionAboveZero, Name, NotNegative, Sense, StatedModel


class Payable(StatedModel):
    """What a refiner settles for one metal of a lot."""

    paid: Fraction = Field(description="Share of its fine content that is paid for, at the price of the day.")
    charge_per_ozt: NotNegative = Field(0.0, description="Charged for refining a troy ounce of it, in the currency.")
    from_g: NotNegative = Field(0.0, description="Least fine content of a lot that is paid for, in gram.")


class Refiner(StatedModel):
    """One refiner's terms."""

    name: Name = Field(description="Name of the refiner.")
    metals: dict[Element, Payable] = Field(min_length=1, description="What is settled, by the symbol of the element.")
    lot_charge: NotNegative = Field(0.0, description="Charged for melting and assaying a lot, in the currency.")
    minimum_charge: NotNegative = Field(0.0, description="Least that all charges of a lot come to, in the currency.")
    least_lot_g: NotNegative = Field(0.0, description="Smallest lot that is taken, in gram as sent.")
    lemel_metal: FractionAboveZero = Field(
        1.0, description="Share of filings and dust that is metal once they are burnt out and melted, as a fraction."
    )
    source: str | None = Field(None, description="Where the terms were read, and when.")

    def senses(self) -> Iterator[Sense]:
        for element, metal in self.metals.items():
            if metal.paid == 0:
                yield Sense(("metals", element, "paid"), "nothing is paid for it", "Leave the metal out.")
