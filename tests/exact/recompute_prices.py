"""What a price brings and what a policy asks, for one variant in one channel, in exact fractions.

The three policies that are equations in the price (margin, markup, earnings) are solved by walking:
between two neighbouring breakpoints of the fees everything is a straight line, so the piece in which
what is missing becomes nothing gives the price by the rule of three.

Assumed where the contract is silent: `order_g` is told in every channel, also where postage has no tiers.
"""

from __future__ import annotations

from fractions import Fraction

from .left_of import left_of
from .recompute_folder import Folder, rate_of
from .recompute_steps import TOLERANCE, is_own, overhead_rate, role_rate

ZERO = Fraction(0)


class TooHeavy(ValueError):
    """No tier of a channel's postage takes an order."""


def rule_for(folder: Folder, figures: dict, name: str, key: str, default=None):
    """The product's own policy, least price or order size in a channel, else the channel's."""
    own = figures.get("in_channel", {}).get(name, {})
    return own[key] if key in own else folder.channels[name].get(key, default)


def channel_rate(folder: Folder, channel: dict):
    """One unit of a channel's currency in the workshop's."""
    return rate_of(folder, channel.get("currency", folder.workshop["currency"]))


def tax_of(channel: dict) -> tuple[Fraction, bool]:
    """Tax rate of a channel and whether it is in the price."""
    tax = channel.get("tax", {})
    return tax.get("rate", ZERO), tax.get("included", False)


def ex_tax(channel: dict, price: Fraction) -> Fraction:
    """A list price without its tax."""
    rate, included = tax_of(channel)
    return price / (1 + rate) if included else price


def list_price(channel: dict, price_ex_tax: Fraction) -> Fraction:
    """The list price that has this price without tax."""
    rate, included = tax_of(channel)
    return price_ex_tax * (1 + rate) if included else price_ex_tax


# One order -------------------------------------------------------------------------------------


def order_of(folder: Folder, figures: dict, variant: dict, name: str, note, quoted=None) -> dict:
    """An order of a channel as it is sent: how many sets, what is off, what it weighs, its postage.

    `quoted` is the number of sets of a quotation, which is one order without a discount.
    """
    channel = folder.channels[name]
    sets = rule_for(folder, figures, name, "units_per_order", Fraction(1)) if quoted is None else quoted
    weight = sets * variant["total_g"] + channel.get("packing_g", ZERO)
    return {
        "sets": sets,
        "discount": channel.get("discount", ZERO) if quoted is None else ZERO,
        "order_g": weight,
        "postage": postage_for(channel.get("postage", {}), weight, name, variant, note),
    }


def postage_for(postage, weight: Fraction, name: str, variant: dict, note) -> dict:
    """What postage is charged and costs for an order of so many grams."""
    if isinstance(postage, dict):
        return postage
    for tier in postage:
        if "up_to_g" not in tier:
            return tier
        over = weight - TOLERANCE - tier["up_to_g"]
        note(f"prices: {name}", "edge", "order_g against a tier", over, weight)
        if over <= 0:
            return tier
    raise TooHeavy(f"{variant['sku']}: {float(weight)} g is more than {name} sends")


def own_order_hours(folder: Folder, channel: dict) -> Fraction:
    """The maker's own hours on one order; none where hired help does it."""
    minutes = channel.get("minutes", ZERO)
    return minutes / 60 if minutes and is_own(folder.workshop, channel["labour"]) else ZERO


# What a price brings ---------------------------------------------------------------------------


def fee_base(channel: dict, order: dict, fee: dict, price: Fraction) -> Fraction:
    """What a fee's rate is taken of: of an order, or of a set where it is per set."""
    rate, _ = tax_of(channel)
    item = ex_tax(channel, price) * (1 - order["discount"])
    charged = order["postage"].get("charged", ZERO)
    if fee.get("taxed", True):
        item *= 1 + rate
    else:
        charged /= 1 + rate
    if fee.get("of", "item") == "item":
        charged = ZERO
    if fee.get("per", "order") == "order":
        return order["sets"] * item + charged
    return item + charged / order["sets"]


def fee_per_set(channel: dict, order: dict, fee: dict, price: Fraction) -> Fraction:
    """One fee at a price, per set."""
    amount = fee.get("rate", ZERO) * fee_base(channel, order, fee, price)
    if amount < fee.get("min", ZERO):
        amount = fee["min"]
    if "max" in fee and amount > fee["max"]:
        amount = fee["max"]
    amount = (amount + fee.get("fixed", ZERO)) * fee.get("share", Fraction(1))
    if fee.get("per", "order") == "order":
        amount /= order["sets"]
    return amount


def at_price(folder: Folder, figures: dict, variant: dict, name: str, price: Fraction, note, quoted=None) -> dict:
    """Every price quantity at a list price."""
    channel = folder.channels[name]
    order = order_of(folder, figures, variant, name, note, quoted)
    sets, postage = order["sets"], order["postage"]
    exchange = channel_rate(folder, channel)
    rate, _ = tax_of(channel)
    order_hours = channel.get("minutes", ZERO) / 60
    order_labour = order_hours * role_rate(folder.workshop, channel["labour"]) / sets if order_hours else ZERO
    order_overhead = order_hours * overhead_rate(folder.workshop)
    order_cost = order_labour + (order_overhead + postage.get("cost", ZERO) + channel.get("packing", ZERO)) / sets
    order_cost += channel.get("packing_per_set", ZERO)
    sent_back = channel.get("refund_cost", ZERO) + channel.get("refund_loss", ZERO) * variant["unit_cost"]
    order_cost += channel.get("refund_share", ZERO) * sent_back
    price_ex_tax = ex_tax(channel, price)
    net_sales = price_ex_tax * (1 - order["discount"])
    paid = net_sales * (1 + rate)
    net_sales *= exchange
    fees = sum((fee_per_set(channel, order, fee, price) for fee in channel.get("fees", [])), ZERO) * exchange
    postage_income = postage.get("charged", ZERO) / (1 + rate) / sets * exchange
    net_receipts = net_sales + postage_income - fees - order_cost
    profit = net_receipts - variant["unit_cost"]
    own_on_order = own_order_hours(folder, channel) / sets
    hours = variant["own_labour_hours"] + own_on_order
    own = variant["own_labour_cost"] + (order_labour if own_on_order else ZERO)
    receipts_of = sum(map(abs, (net_sales, postage_income, fees, order_cost)))
    profit_of = receipts_of + abs(variant["unit_cost"])
    return {
        "channel_rate": exchange,
        "order_g": order["order_g"],
        "ex_tax_price": price_ex_tax,
        "paid": paid,
        "net_sales": net_sales,
        "selling_fees": fees,
        "order_labour_cost": order_labour,
        "order_cost": order_cost,
        "postage_income": postage_income,
        "net_receipts": left_of(net_receipts, receipts_of),
        "profit": left_of(profit, profit_of),
        "margin": left_of(profit / net_sales, profit_of / net_sales) if net_sales else None,
        "earned_per_hour": left_of((profit + own) / hours, (profit_of + own) / hours) if hours else None,
        "times_melt_value": price_ex_tax * exchange / variant["melt_value"] if variant["melt_value"] else None,
    }


# What a policy asks ----------------------------------------------------------------------------


def surplus_over(
    folder: Folder, figures: dict, variant: dict, name: str, policy: dict, price: Fraction, quoted
) -> Fraction:
    """By how much a price brings more than a margin, a markup or earnings ask; below 0 where it is too little."""
    at = at_price(folder, figures, variant, name, price, unheard, quoted)
    if "margin" in policy:
        return at["profit"] - policy["margin"] * at["net_sales"]
    if "markup" in policy:
        return at["profit"] - policy["markup"] * variant["unit_cost"]
    channel = folder.channels[name]
    order = order_of(folder, figures, variant, name, unheard, quoted)
    on_order = own_order_hours(folder, channel) / order["sets"]
    hours = variant["own_labour_hours"] + on_order
    if not hours:
        raise ValueError(f"{variant['sku']}: no hour is spent that could earn")
    order_labour = at["order_labour_cost"] if on_order else ZERO
    return at["profit"] + variant["own_labour_cost"] + order_labour - policy["earn"] * hours


def unheard(*_) -> None:
    """Close calls of a trial price: those at the price itself are noted once, elsewhere."""


def solved(folder: Folder, figures: dict, variant: dict, name: str, policy: dict, quoted) -> Fraction:
    """The price at which a margin, a markup or earnings come out exactly; 0 where it would be below."""
    channel = folder.channels[name]
    order = order_of(folder, figures, variant, name, unheard, quoted)
    breakpoints = {ZERO}
    for fee in channel.get("fees", []):
        at_nothing = fee.get("rate", ZERO) * fee_base(channel, order, fee, ZERO)
        slope = fee.get("rate", ZERO) * fee_base(channel, order, fee, Fraction(1)) - at_nothing
        for bound in ("min", "max"):
            if bound in fee and slope > 0:
                breakpoints.add(max(ZERO, (fee[bound] - at_nothing) / slope))
    walk = sorted(breakpoints)
    walk.append(2 * walk[-1] + 10 * variant["unit_cost"] + 1)  # any second point of the last piece, which has no end
    brought = [surplus_over(folder, figures, variant, name, policy, price, quoted) for price in walk]
    if brought[0] >= 0:
        return ZERO
    for place in range(1, len(walk)):
        left, right = walk[place - 1], walk[place]
        slope = (brought[place] - brought[place - 1]) / (right - left)
        if slope <= 0:
            raise ValueError(f"fees eat the price: {variant['sku']} in {variant['alloy']}")
        if brought[place] >= 0 or place == len(walk) - 1:
            return left - brought[place - 1] / slope
    raise AssertionError("the last piece always ends the walk")
