"""What every edition says, whatever release has written it: head, prices, quotes, variants, in words or packed.

Whoever reads an edition relies on this and no more. Its inputs, figures and formulas have a form of their own, which
is looked at where they are read (`pricing.editions.figures`).
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, NonNegativeInt, Strict

from pricing.editions.packed import FORM, price_columns
from pricing.kept.shape import misshapen_by
from pricing.model.currency import currencies


def _day(text: str) -> str:
    date.fromisoformat(text)
    return text


def _currency(code: str) -> str:
    if code not in currencies():
        raise ValueError("this is no currency")
    return code


Day = Annotated[str, AfterValidator(_day)]


class Kept(BaseModel):
    """What more stands there is none of this form's business."""

    model_config = ConfigDict(strict=True, extra="ignore", defer_build=True)


#: What reading ends with where somebody has written nonsense and hashed it: no program of ours has.
FORGED = (LookupError, TypeError, ValueError, AttributeError, SyntaxError, RecursionError, MemoryError)


class KeptPrice(Kept):
    """A price, what was asked, since when it stands and why."""

    sku: str
    alloy: str
    channel: str
    price: float
    asked: float | None
    set_on: Day
    set_in: int
    verdict: str
    reason: str | None


class KeptPriceColumns(Kept):
    """All prices of a packed edition, column by column."""

    sku: list[str]
    alloy: list[str]
    channel: list[str]
    price: list[float]
    asked: list[float | None]


class KeptQuote(Kept):
    """A line of the price history that counted."""

    date: Day
    metal: str
    price: float
    per: str
    currency: str
    source: str


class KeptVariant(Kept):
    """A variant: its cost, and by channel what its price brings."""

    sku: str
    alloy: str
    unit_cost: float | None
    prices: dict[str, dict[str, Any]]


class KeptFormula(Kept):
    """A quantity's formula in words."""

    name: str
    table: str
    unit: str
    meaning: str
    formula: str
    needs: list[list[Any]]


class Head(Kept):
    """What every edition says in words."""

    as_of: Day
    published: str
    workshop: str
    currency: Annotated[str, AfterValidator(_currency)]
    quotes: list[KeptQuote]
    formulas_version: str
    formulas: list[KeptFormula]


class KeptEdition(Head):
    """An edition of the first form: all in words."""

    inputs: dict[str, Any]
    figures: dict[str, Any]
    prices: list[KeptPrice]
    variants: list[KeptVariant]


class PackedPrices(Kept):
    """Prices, a line a variant."""

    channels: list[str]
    decided: list[Annotated[tuple[Day, int, str, str | None], Strict(False)]]
    lines: list[list[Any]]


class PackedText(Kept):
    """Something packed into a text."""

    packed: str


class PackedColumn(Kept):
    """A column of figures, or the name of the one that it is like."""

    model_config = ConfigDict(strict=True, extra="forbid")

    like: str | None = Field(None, alias="as")
    shape: list[NonNegativeInt] | None = None
    packed: str | None = None


class PackedShape(Kept):
    """A variant without what stands in it."""

    sku: None
    alloy: None
    unit_cost: None
    prices: dict[str, dict[str, Any]]


class PackedVariants(Kept):
    """Variants taken apart."""

    count: NonNegativeInt
    of: str
    shapes: list[PackedShape]
    columns: list[str]
    words: list[str | int | bool | None]


class PackedEdition(Head):
    """An edition of the form in which each number stands once (`pricing.editions.packed`)."""

    numbers: PackedText
    inputs: PackedText
    figures: dict[str, PackedColumn]
    prices: PackedPrices
    variants: PackedVariants


def misshapen(content: object) -> str:
    """Where an edition is not of its form, as `prices[3].sku`; "" where it is."""
    if not isinstance(content, dict) or content.get("form") != FORM:
        return misshapen_by(KeptEdition.model_validate, content)
    if odd := misshapen_by(PackedEdition.model_validate, content):
        return odd
    try:
        columns = price_columns(content["prices"])._asdict()
    except FORGED:
        return "prices"
    odd = misshapen_by(KeptPriceColumns.model_validate, columns)
    return odd and f"prices.{odd}"
