"""An alloy: what is in it, what it costs beyond its metal, and what a refiner gives for it (`alloys.toml`)."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import AfterValidator, Field, Strict

from pricing.model.base import (
    Fraction,
    FractionAboveZero,
    FractionBelowOne,
    Name,
    NotNegative,
    Number,
    Positive,
    Sense,
    StatedModel,
    Surcharge,
    refusal,
)
from pricing.model.metals import ELEMENTS, PRECIOUS, symbol_meant

#: How far the fractions of a composition may sum from 1.
COMPOSITION_TOLERANCE = 0.002

#: Carats of the golds whose share in whole twenty-fourths is marked by the next whole part per thousand.
TWENTY_FOURTH = 24

#: What float64 sums may be off by.
HAIR = 1e-9

_COLOUR = re.compile(r"#[0-9a-fA-F]{6}")
_FINENESS = re.compile(r"\d{3}(\.\d+)?")


def _real_element(symbol: str) -> str:
    if symbol not in ELEMENTS:
        written = symbol_meant(symbol)
        mend = f'Did you mean "{written}"?' if written else 'Write the symbol, such as "Ag" for silver.'
        raise refusal(Sense((), f'"{symbol}" is no chemical element', mend))
    return symbol


Element = Annotated[str, AfterValidator(_real_element)]
Elements = Annotated[tuple[Element, ...], Strict(False)]


def _is_carat_mark(share: float, asked: float) -> bool:
    """Whether a share is whole twenty-fourths and the mark is what rounds it: 22/24 is struck 917.

    No other shortfall is forgiven (ISO 9202: no minus tolerance): 14/24 is 583, and short of 585.
    """
    carats = round(share * TWENTY_FOURTH)
    return abs(share - carats / TWENTY_FOURTH) < 0.0001 and round(1000 * carats / TWENTY_FOURTH) == round(1000 * asked)


def _hex_colour(text: str) -> str:
    if not _COLOUR.fullmatch(text):
        raise refusal(Sense((), f'"{text}" is no colour', 'Write six hexadecimal digits, such as "#c8a951".'))
    return text


class Alloy(StatedModel):
    """One alloy as it is bought, cast and sold back."""

    name: Name = Field(description="Name as customers read it.")
    density: Positive = Field(description="Density as cast, in g/cm3.")
    composition: dict[Element, FractionAboveZero] = Field(
        min_length=1, description="Mass fraction of every element, by its symbol; they sum to 1 within 0.002."
    )
    unpriced: Elements = Field((), description="Elements whose content is given no value.")
    priced_by: Literal["content", "quote"] = Field(
        description='Whether the metal is valued by its elements ("content") or by a quote of its own ("quote").'
    )
    quote: Name | None = Field(None, description='Name of its quote in metal_prices.csv, where priced_by = "quote".')
    premium: Surcharge = Field(0.0, description="Of casting grain over its melt value, as a fraction.")
    fabrication_per_g: NotNegative = Field(
        0.0, description="Charged for casting grain beyond its premium, currency per gram."
    )
    stock_premium: Surcharge | None = Field(
        None, description="Of sheet and wire over the melt value, as a fraction; without it the grain's."
    )
    stock_fabrication_per_g: NotNegative | None = Field(
        None, description="Charged for sheet and wire beyond the premium, in currency per gram; without it the grain's."
    )
    bought_premium: Surcharge | None = Field(
        None, description="Of castings from a casting house over the melt value, a fraction; without it the grain's."
    )
    bought_fabrication_per_g: NotNegative | None = Field(
        None, description="Charged by a casting house beyond the premium, currency per gram; without it the grain's."
    )
    scrap_payout: Fraction = Field(0.0, description="What a refiner pays for clean scrap, as a fraction of its value.")
    scrap_pays: Elements | None = Field(
        None, description="Elements that the refiner pays for; without it every priced one."
    )
    scrap_fee_per_g: NotNegative = Field(
        0.0, description="Assay and lot fees spread over a usual lot, in currency per gram of scrap."
    )
    lemel_payout: Fraction = Field(0.0, description="What a refiner pays for filings and dust, as a fraction.")
    lemel_fee_per_g: NotNegative = Field(0.0, description="Fees for filings and dust, in currency per gram.")
    melt_loss: FractionBelowOne = Field(description="What is lost of a charge in melting, as a fraction.")
    max_return_share: Fraction | None = Field(
        None, description="Most of a charge that may be returned metal, as a fraction; without it the workshop's."
    )
    tint: Annotated[str, AfterValidator(_hex_colour)] | None = Field(
        None, description='Its colour in pictures, as "#c8a951"; without it as its composition looks.'
    )
    mark: Name | None = Field(None, description="Mark that is struck; three digits are parts per thousand.")
    solidus_c: Number | None = Field(None, description="Temperature at which it begins to melt, in degrees Celsius.")
    liquidus_c: Number | None = Field(None, description="Temperature at which it is wholly molten, in degrees Celsius.")
    pour_c: Number | None = Field(None, description="Temperature at which it is poured, in degrees Celsius.")
    flask_c: Number | None = Field(None, description="Temperature of the flask at the pour, in degrees Celsius.")
    source: str | None = Field(None, description="Where density and melting range were read.")

    def senses(self) -> Iterator[Sense]:
        total = sum(self.composition.values())
        if abs(total - 1) > COMPOSITION_TOLERANCE + HAIR:
            yield Sense(
                ("composition",), f"the fractions sum to {total:.6g}, not to 1", "Correct them, or add what is missing."
            )
        for key in ("unpriced", "scrap_pays"):
            for index, element in enumerate(getattr(self, key) or ()):
                if element not in self.composition:
                    yield Sense((key, index), f"{element} is not in the composition", "Leave it out, or add it there.")
        if self.priced_by == "quote" and self.quote is None:
            yield Sense(
                ("priced_by",), "quote is missing beside it", "Add quote = with the name that metal_prices.csv uses."
            )
        if self.priced_by == "content" and self.quote is not None:
            yield Sense(
                ("quote",),
                'it has no effect where priced_by is "content"',
                'Leave it out, or write priced_by = "quote".',
            )
        yield from self._temperature_senses()
        yield from self._mark_senses()

    def _temperature_senses(self) -> Iterator[Sense]:
        solidus, liquidus, pour = self.solidus_c, self.liquidus_c, self.pour_c
        if solidus is not None and liquidus is not None and liquidus < solidus:
            yield Sense(("liquidus_c",), f"{liquidus:g} °C is below the solidus, {solidus:g} °C", "Look both up again.")
        melt_c, word = (liquidus, "liquidus") if liquidus is not None else (solidus, "solidus")
        if pour is not None and melt_c is not None and pour <= melt_c:
            yield Sense(
                ("pour_c",),
                f"{pour:g} °C is not above the {word}, {melt_c:g} °C",
                "Metal is poured hotter than it melts: look both up again.",
            )

    def _mark_senses(self) -> Iterator[Sense]:
        """A mark speaks of the precious metal whose fraction is nearest to it, of equals the nobler."""
        if self.mark is None or not _FINENESS.fullmatch(self.mark):
            return
        asked = float(self.mark) / 1000
        precious = [element for element in PRECIOUS if element in self.composition]
        if not precious:
            yield Sense(
                ("mark",),
                f"{self.mark} is a fineness, but there is no platinum, gold, palladium or silver in it",
                "Leave the mark out, or correct the composition.",
            )
            return
        marked = min(precious, key=lambda element: abs(self.composition[element] - asked))
        share = self.composition[marked]
        if share < asked - HAIR and not _is_carat_mark(share, asked):
            yield Sense(
                ("mark",),
                f"{marked} is {share:.6g} of the alloy, short of the {asked:.6g} that the mark {self.mark} promises",
                "Correct the composition, or strike a lower mark.",
            )
