"""Where it is sold and what is asked: channels, fees, postage, rounding, prices."""

from __future__ import annotations

from typing import ClassVar

from pricing.model.channel import POLICY_KEYS, PolicyKind
from pricing.model.given import ANYTHING, Input, Row, given, leads_to, word


class PriceStepRow(Row, at="channels.*.rounding.steps_by_price.*", group="policy"):
    table: ClassVar[str] = "price_step"
    applies_below: float | None = given(
        "quoted", "The step holds for amounts below this; none for the last.", at="below", needs="applies_below"
    )
    step_size: float = given("quoted", "Prices go up in steps of this.", 1.0, at="step")
    step_position: float = given("1", "Place of the step in its list, from 0.", -1.0, at=None)


class PostageTierRow(Row, at="channels.*.postage.*", group="channel"):
    table: ClassVar[str] = "postage_tier"
    up_to_g: float = given("g", "Mass of the order up to which the tier holds.")
    tier_charged: float = given("quoted", "Postage that the buyer of such an order pays, tax in.", at="charged")
    tier_cost: float = given(
        "cur", "Postage that such an order costs.", at="cost", measure="Read it off the last receipts of the post."
    )
    tier_position: float = given("1", "Place of the tier in its list, from 0.", -1.0, at=None)


class FeeRow(Row, at="channels.*.fees.*", group="channel"):
    table: ClassVar[str] = "fee"
    name: str = word("name")
    fee_rate: float = given(
        "1",
        "Fraction of what the fee is counted on.",
        at="rate",
        measure="Take the channel's last statement: this fee by what it is counted on.",
    )
    fee_min: float = given("quoted", "Least of the running part.", at="min")
    fee_max: float | None = given("quoted", "Most of the running part; none where it has no cap.", at="max")
    fee_fixed: float = given("quoted", "Fixed part.", at="fixed", measure="Read it off the channel's last statement.")
    fee_share: float = given(
        "1",
        "Fraction of the orders that it falls on.",
        at="share",
        measure="Count the orders of the channel's last statement, and those with this fee.",
    )
    fee_per_set: bool = given("switch", "Whether it is taken per set and not per order.", at="per", says="set")
    fee_of_order: bool = given("switch", "Whether postage counts as well.", at="of", says="order")
    fee_taxed: bool = given("switch", "Whether it is counted on amounts with tax.", at="taxed")


class ChannelRow(Row, at="channels.*", group="channel"):
    table: ClassVar[str] = "channel"
    name: str
    role: str | None = leads_to("role", at="labour")
    currency: str
    is_wholesale: bool = given(
        "switch", "Whether the channel sells to shops.", at="audience", says="wholesale", typed=False
    )
    tax_rate: float = given("1", "Sales tax as a fraction.", at="tax.rate")
    tax_included: bool = given("switch", "Whether the list price has the tax in it.", at="tax.included")
    sets_per_order: float = given(
        "1",
        "Mean number of sets in an order.",
        1.0,
        at="units_per_order",
        measure="Count sets and orders of last month.",
    )
    discount: float = given(
        "1", "Mean discount over the year.", measure="Add up last month's orders at list price, and what was taken off."
    )
    postage_charged: float = given("quoted", "Postage that the buyer of an order pays, tax in.", at="postage.charged")
    postage_cost: float = given(
        "cur",
        "Postage that an order costs.",
        at="postage.cost",
        measure="Add up the last ten receipts of the post, by ten.",
    )
    packing_g: float = given("g", "Mass of the parcel itself.", measure="Weigh an empty parcel.")
    packing: float = given(
        "cur", "Packing that an order costs.", measure="Add up box, paper and tape of one parcel from their invoices."
    )
    packing_per_set: float = given(
        "cur", "Packing that every set costs.", measure="Add up box and card of one set from their invoices."
    )
    order_minutes: float = given(
        "min",
        "Attended minutes for an order.",
        at="minutes",
        needs="role",
        measure="Time the next orders by the clock, from reading one to the post.",
    )
    refund_share: float = given(
        "1",
        "Fraction of the sets that is refunded.",
        measure="Count the sets of the last year, and those that came back.",
    )
    refund_cost: float = given(
        "cur", "What a refunded set costs.", measure="Add up postage and packing of the last one that came back."
    )
    refund_loss: float = given(
        "1",
        "Share of its cost that a set sent back has lost.",
        measure="Look at the last ones that came back: what share of their cost was lost.",
    )
    ending: float = given("quoted", "What every price ends in.", at="rounding.ending", group="policy")
    rounds_up: bool = given(
        "switch",
        "Whether prices are rounded up, not to the nearest.",
        at="rounding.direction",
        says="up",
        group="policy",
    )
    fees: tuple[FeeRow, ...]
    price_steps: tuple[PriceStepRow, ...]
    postage_tiers: tuple[PostageTierRow, ...]


class PriceRow(Row, at="channels.*", group="policy"):
    """What one variant asks in one channel; a variant has one for every channel, sold there or not."""

    table: ClassVar[str] = "price"
    channel: str
    followed: str | None = leads_to("price", at="policy.keystone_of")
    currency: str = leads_to("currency", at=None)
    policy_kind: PolicyKind
    sold: bool = given("switch", "Whether the product is sold in the channel.", at=None, typed=True)
    is_fixed: bool = given("switch", "Whether the price is stated as it is.", at="policy.fixed", says=ANYTHING)
    fixed_price: float = given("quoted", "That price.", at="policy.fixed")
    asks_solving: bool = given("switch", "Whether the policy is a margin, a markup or earnings.", at=None)
    asked_margin: float = given("1", "Margin on net sales that is asked.", at="policy.margin")
    asked_markup: float = given("1", "Markup on unit cost that is asked.", at="policy.markup")
    asks_earnings: bool = given("switch", "Whether earnings per hour are asked.", at="policy.earn", says=ANYTHING)
    asked_earnings: float = given("cur/h", "Earnings per hour that are asked.", at="policy.earn")
    unit_multiple: float = given("1", "Ex-tax price in times the unit cost.", at="policy.multiple", when="multiple")
    metal_multiple: float = given("1", "Ex-tax price in times the metal cost.", at="policy.metal_multiple")
    work_multiple: float = given("1", "Ex-tax price in times all other cost.", at="policy.work_multiple")
    follows: bool = given(
        "switch", "Whether the price follows another channel's.", at="policy.keystone_of", says=ANYTHING
    )
    follow_multiple: float = given(
        "1", "Ex-tax price in times the followed channel's.", at="policy.multiple", when="keystone_of"
    )
    least_price: float = given("quoted", "Least list price.")
    own_sets_per_order: float | None = given(
        "1",
        "The product's own sets in an order there; the channel's where none.",
        at=None,
        typed=True,
        bounds=(1, None),
        measure="Count sets and orders of this product last year.",
    )

    @property
    def asked_by(self) -> tuple[Input, ...]:
        """The figures that its way of asking states, in the order of its keys."""
        keys = dict(POLICY_KEYS)[self.policy_kind]
        return tuple(
            known
            for key in keys
            for known in self.inputs.values()
            if known.path == ("policy", key) and not known.is_switch and known.when in ("", self.policy_kind)
        )
