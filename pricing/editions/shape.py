"""What every edition says in the same form, whatever release has written it: head, prices, quotes, variants.

Whoever reads an edition relies on this and no more. Its inputs, figures and formulas have a form of their own, which
is looked at where they are read (`pricing.editions.figures`).
"""

from __future__ import annotations

from datetime import date
from typing import Annotated, Any

from pydantic import AfterValidator, BaseModel, ConfigDict

from pricing.kept.shape import misshapen_by


def _day(text: str) -> str:
    date.fromisoformat(text)
    return text


Day = Annotated[str, AfterValidator(_day)]


class Kept(BaseModel):
    """What more stands there is none of this form's business."""

    model_config = ConfigDict(strict=True, extra="ignore")


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


class KeptEdition(Kept):
    """An edition."""

    as_of: Day
    published: str
    workshop: str
    currency: str
    quotes: list[KeptQuote]
    formulas_version: str
    formulas: list[KeptFormula]
    inputs: dict[str, Any]
    figures: dict[str, Any]
    prices: list[KeptPrice]
    variants: list[KeptVariant]


def misshapen(content: object) -> str:
    """Where an edition is not of this form, as `prices[3].sku`; "" where it is."""
    return misshapen_by(KeptEdition.model_validate, content)
