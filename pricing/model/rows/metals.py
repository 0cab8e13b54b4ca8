"""Money, metals and alloys: what is quoted, and what is poured or cut."""

from __future__ import annotations

from datetime import date
from typing import ClassVar

from pricing.model.given import ITSELF, Row, given, leads_to, word


class CurrencyRow(Row, at="quotes.*", group="exchange"):
    table: ClassVar[str] = "currency"
    name: str
    exchange_rate: float = given(
        "cur/quoted", "One unit of the quote's currency in the workshop's currency.", at="price"
    )
    currency_number: float = given("1", "A number that no other currency has.", -1.0, at=None)


class MetalRow(Row, at="quotes.*", group="metal"):
    table: ClassVar[str] = "metal"
    name: str
    currency: str = leads_to("currency")
    quote_price: float = given("quoted", "Price in force, as quoted.", at="price")
    grams_per_unit: float = given("g", "Grams in what it is quoted per.", 1.0, at=None)
    quoted_per: str = word("per")
    quoted_on: date | None = word("date")


class ContentRow(Row, at="alloys.*.composition.*", group="alloys"):
    table: ClassVar[str] = "content"
    element: str
    metal: str | None = leads_to("metal", at=None)
    mass_fraction: float = given("1", "Share of the element in the alloy by mass.", at=ITSELF)
    is_priced: bool = given("switch", "Whether the element's content is given a value.", at=None, listed="unpriced")
    pays_as_scrap: bool = given("switch", "Whether the refiner pays for the element.", at=None, listed="scrap_pays")


class AlloyRow(Row, at="alloys.*", group="alloys"):
    table: ClassVar[str] = "alloy"
    name: str
    title: str = word("name")
    density: float = given(
        "g/cm3",
        "Density as cast.",
        1.0,
        measure="Weigh a sound piece in air and hung in water: what it weighs by what it loses, less 0.2 %.",
    )
    premium: float = given(
        "1",
        "Premium of casting grain over its melt value.",
        measure="Take the last invoice for grain: what was paid by its melt value on that day, less 1.",
    )
    fabrication_per_g: float = given(
        "cur/g",
        "Charge by weight for casting grain.",
        measure="Take the last invoice for grain: the charge for making it by the grams.",
    )
    stock_premium: float | None = given(
        "1",
        "Premium of sheet and wire over the melt value; as grain where none.",
        measure="Take the last invoice for sheet or wire: what was paid by its melt value on that day, less 1.",
    )
    stock_fabrication_per_g: float | None = given(
        "cur/g",
        "Charge by weight for sheet and wire; as grain where none.",
        measure="Take the last invoice for sheet or wire: the charge for making it by the grams.",
    )
    bought_premium: float | None = given(
        "1",
        "Premium of castings from a casting house over the melt value; as grain where none.",
        measure="Take the casting house's last invoice: what its metal cost by its melt value on that day, less 1.",
    )
    bought_fabrication_per_g: float | None = given(
        "cur/g",
        "Charge by weight of a casting house; as grain where none.",
        measure="Take the casting house's last invoice: its charge by weight by the grams.",
    )
    scrap_payout: float = given(
        "1",
        "Share of the value that a refiner pays for clean scrap.",
        measure="Take the refiner's last settlement: what was paid by the melt value of the lot on that day.",
    )
    scrap_fee_per_g: float = given(
        "cur/g",
        "Assay and lot fees of clean scrap, per gram.",
        measure="Take the refiner's last settlement: its fees by the grams that were sent.",
    )
    lemel_payout: float = given(
        "1",
        "Share of the value that a refiner pays for filings and dust.",
        measure="Take the refiner's last settlement for filings: what was paid by their melt value on that day.",
    )
    lemel_fee_per_g: float = given(
        "cur/g",
        "Assay and lot fees of filings and dust, per gram.",
        measure="Take the refiner's last settlement for filings: its fees by the grams that were sent.",
    )
    melt_loss: float = given(
        "1",
        "Share of a charge lost in the melt.",
        measure="Weigh a charge before melting, and tree, button and spills after: what is missing by the charge.",
    )
    max_return_share: float | None = given(
        "1",
        "Most of a charge that may be returned metal; the workshop's where none.",
        measure="Weigh the returned metal in the next charge, by the whole charge.",
    )
    contents: tuple[ContentRow, ...]
