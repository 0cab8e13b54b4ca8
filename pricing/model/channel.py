"""Where things are sold: tax, fees, postage, policy and rounding (`channels.toml`)."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Annotated, Literal

from pydantic import AfterValidator, Discriminator, Field, Tag

from pricing.model.base import (
    MOST_MONEY,
    AtLeastOne,
    Fraction,
    FractionBelowOne,
    List,
    Money,
    Name,
    NotNegative,
    Positive,
    Sense,
    StatedModel,
    refusal,
)
from pricing.model.currency import Currency

PolicyKind = Literal["margin", "markup", "earn", "multiple", "metal_and_work", "keystone_of", "fixed"]

#: The keys of each way of asking; the keys of exactly one row must stand.
POLICY_KEYS: tuple[tuple[PolicyKind, tuple[str, ...]], ...] = (
    ("margin", ("margin",)),
    ("markup", ("markup",)),
    ("earn", ("earn",)),
    ("keystone_of", ("keystone_of", "multiple")),
    ("multiple", ("multiple",)),
    ("metal_and_work", ("metal_multiple", "work_multiple")),
    ("fixed", ("fixed",)),
)
_WAYS = frozenset(frozenset(keys) for _, keys in POLICY_KEYS)


class Tax(StatedModel):
    """Sales tax of a channel."""

    rate: Fraction = Field(0.0, description="Rate, as a fraction of the price without tax.")
    included: bool = Field(False, description="Whether the list price has the tax in it; otherwise it is added on top.")


class Postage(StatedModel):
    """Postage of one order."""

    charged: NotNegative = Field(0.0, description="What the buyer pays for postage, tax in, in the channel's currency.")
    cost: NotNegative = Field(0.0, description="What postage costs the workshop, in its own currency.")


class PostageTier(Postage):
    """Postage of an order up to some mass."""

    up_to_g: Positive | None = Field(None, description="Mass of the order up to which it holds, in gram; the last may"
                                     " have none and takes the rest.")  # fmt: skip


def _tiers_rise(tiers: tuple[PostageTier, ...]) -> tuple[PostageTier, ...]:
    senses = []
    for index, tier in enumerate(tiers[:-1]):
        if tier.up_to_g is None:
            mend = "Add up_to_g, or put it last: it takes the rest."
            senses.append(Sense((index,), "up_to_g is missing, and further tiers follow", mend))
    for index, (lower, upper) in enumerate(itertools.pairwise(tiers), start=1):
        if lower.up_to_g is not None and upper.up_to_g is not None and upper.up_to_g <= lower.up_to_g:
            said = f"{upper.up_to_g:g} does not rise above the {lower.up_to_g:g} before it"
            senses.append(Sense((index, "up_to_g"), said, "Put the tiers in rising order."))
    if senses:
        raise refusal(*senses)
    return tiers


def _is_tiers(value: object) -> str:
    return "tiers" if isinstance(value, (list, tuple)) else "one"


#: One postage for every order, or tiers by the order's mass.
Postages = Annotated[
    Annotated[Postage, Tag("one")]
    | Annotated[List[PostageTier], Field(min_length=1), AfterValidator(_tiers_rise), Tag("tiers")],
    Discriminator(_is_tiers),
]


class Fee(StatedModel):
    """A selling fee: (rate × base, held between min and max, plus fixed) × share."""

    name: Name = Field(description="Name of the fee.")
    rate: Fraction = Field(0.0, description="Fraction of the base.")
    fixed: NotNegative = Field(0.0, description="Charged beyond the rate, in the channel's currency.")
    of: Literal["item", "order"] = Field("item", description="Base: what is paid for the goods, or with postage too.")
    per: Literal["order", "set"] = Field("order", description="Whether it falls on the order or on every set in it.")
    min: NotNegative = Field(0.0, description="Least that rate × base counts as, in the channel's currency.")
    max: NotNegative | None = Field(None, description="Most that it counts as, in the currency; without it no limit.")
    share: Fraction = Field(1.0, description="Fraction of orders on which it falls.")
    taxed: bool = Field(True, description="Whether the base has the sales tax in it.")

    def senses(self) -> Iterator[Sense]:
        if self.max is not None and self.max < self.min:
            yield Sense(("max",), f"{self.max:g} is less than min, {self.min:g}", "Exchange them, or correct one.")


class Policy(StatedModel):
    """What is asked of a price; exactly one way."""

    margin: FractionBelowOne | None = Field(None, description="Profit as a fraction of net sales.")
    markup: NotNegative | None = Field(None, description="Profit as a fraction of the unit cost.")
    earn: NotNegative | None = Field(None, description="What an hour of labour shall bring, in the currency.")
    multiple: Positive | None = Field(None, description="Price without tax in unit costs, or in prices of keystone_of.")
    metal_multiple: NotNegative | None = Field(None, description="Multiple of the metal in the unit cost.")
    work_multiple: NotNegative | None = Field(None, description="Multiple of the rest of the unit cost.")
    keystone_of: Name | None = Field(None, description="Channel whose price without tax is multiplied.")
    fixed: NotNegative | None = Field(None, description="List price as it stands, in the channel's currency.")

    @property
    def kind(self) -> PolicyKind:
        """Which way it asks; `metal_and_work` for the two multiples together."""
        held = self.__dict__
        return next(
            kind for kind, keys in POLICY_KEYS if held[keys[0]] is not None and held[keys[-1]] is not None
        )  # no way has more than two keys

    def senses(self) -> Iterator[Sense]:
        held = self.__dict__
        stated = {key for key in self.model_fields_set if held[key] is not None}
        if stated in _WAYS:
            return
        partners = {
            "metal_multiple": "work_multiple", "work_multiple": "metal_multiple", "keystone_of": "multiple",
        }  # fmt: skip
        if len(stated) == 1:
            (alone,) = stated
            yield Sense((alone,), f"{partners[alone]} is missing beside it", f"Add {partners[alone]}.")
            return
        ways = "margin, markup, earn, multiple, metal_multiple with work_multiple, keystone_of with multiple, or fixed"
        if stated:
            together = ", ".join(key for key in type(self).model_fields if key in stated)
            yield Sense((), f"it asks in more ways than one: {together}", f"Keep one: {ways}.")
        else:
            yield Sense((), "it asks for nothing", f"Add one: {ways}.")


class PriceStep(StatedModel):
    """A rounding step for prices below a limit."""

    below: Positive = Field(description="Numbers below this are rounded by this step, in the channel's currency.")
    step: Money = Field(description="Rounding step, in the channel's currency.")


class Rounding(StatedModel):
    """How a price is rounded: ending + a whole number of steps."""

    step: Money | None = Field(None, description="Rounding step, in the currency; without it its minor unit.")
    ending: Annotated[float, Field(ge=-MOST_MONEY, le=MOST_MONEY)] = Field(
        0.0, description="What every price ends with, in the currency."
    )
    direction: Literal["up", "nearest"] = Field("up", description="Whether a price is rounded up or to the nearest.")
    steps_by_price: List[PriceStep] = Field((), description="Steps for lower prices, ascending; the first that fits.")

    def senses(self) -> Iterator[Sense]:
        for index, (lower, upper) in enumerate(
            zip(self.steps_by_price, self.steps_by_price[1:], strict=False), start=1
        ):
            if upper.below <= lower.below:
                yield Sense(
                    ("steps_by_price", index, "below"),
                    f"{upper.below:g} does not rise above the {lower.below:g} before it",
                    "Put the limits in rising order.",
                )


class Reprice(StatedModel):
    """When a published price is held, raised or lowered."""

    keep_within: Fraction = Field(
        description="A price is held while the margin that it earns is off by no more than this: 0.04 is 4 points "
        "of margin, whatever that makes of the price."
    )
    falling: Fraction | None = Field(
        None, description="The same, in points of margin, for a price that would fall; without it keep_within."
    )
    least_margin: FractionBelowOne | None = Field(None, description="Margin below which a price is raised at once.")
    largest_step: NotNegative | None = Field(None, description="Largest change at one time, as a fraction.")
    days_between: NotNegative | None = Field(None, description="Least days between two changes, in days.")


class Channel(StatedModel):
    """One way of selling."""

    audience: Literal["retail", "wholesale"] = Field(description="Who buys there.")
    tax: Tax = Field(Tax(), description="Sales tax.")
    units_per_order: AtLeastOne = Field(1.0, description="Sets in a usual order.")
    discount: FractionBelowOne = Field(0.0, description="Mean discount over the year, as a fraction of the list price.")
    currency: Currency | None = Field(
        None, description="ISO 4217 code of the currency in which its buyers pay; without it the workshop's."
    )
    postage: Postages = Field(Postage(), description="Postage of one order, or tiers of it by the order's mass.")
    packing_g: NotNegative = Field(0.0, description="Mass of the parcel itself, for postage by mass, in gram.")
    packing: NotNegative = Field(0.0, description="Packing of one order, in the workshop's currency.")
    packing_per_set: NotNegative = Field(0.0, description="Packing of every set, in the workshop's currency.")
    deposit: Fraction = Field(0.0, description="Share asked with an order, said on a quotation.")
    minutes: NotNegative = Field(0.0, description="Attended minutes for one order.")
    labour: Name | None = Field(None, description="Name of the role that packs; required where minutes stand.")
    refund_share: Fraction = Field(0.0, description="Fraction of sets that are sent back.")
    refund_cost: NotNegative | None = Field(
        None, description="What one refund costs, in the workshop's currency; required where refund_share stands."
    )
    refund_loss: Fraction = Field(0.0, description="Share of its cost that a set sent back has lost.")
    fees: List[Fee] = Field((), description="Selling fees.")
    policy: Policy = Field(description="What is asked of a price.")
    least_price: NotNegative = Field(0.0, description="Least list price, in the channel's currency.")
    minimum_order: NotNegative | None = Field(None, description="Least order, in the currency; said on the price list.")
    terms: str | None = Field(None, description="Terms of payment, said on the price list.")
    reprice: Reprice | None = Field(None, description="When a published price is changed.")
    rounding: Rounding = Field(Rounding(), description="How a price is rounded.")

    @property
    def tiers(self) -> tuple[PostageTier, ...]:
        """Postage as tiers; one postage for every order is a tier without a limit."""
        if isinstance(self.postage, Postage):
            return (PostageTier(charged=self.postage.charged, cost=self.postage.cost),)
        return self.postage

    def senses(self) -> Iterator[Sense]:
        if self.minutes and self.labour is None:
            yield Sense(("minutes",), "labour is missing beside it", "Add labour = with the name of a role.")
        if self.refund_share and self.refund_cost is None:
            yield Sense(
                ("refund_share",), "refund_cost is missing beside it", "Add what one refund costs, 0 if nothing."
            )


class Ladder(StatedModel):
    """How the prices of one piece in several channels stand to each other."""

    keystone: Positive | None = Field(
        None, description="Retail is at least this multiple of the highest wholesale price, both without tax."
    )
    one_retail_price: bool = Field(False, description="Whether every retail channel asks the highest of their prices.")
