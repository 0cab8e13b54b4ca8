"""Prices of one variant in every channel, in exact fractions.

The three policies that are equations in the price (margin, markup, earnings) are solved by walking:
between two neighbouring breakpoints of the fees everything is a straight line, so the piece in which
what is missing becomes nothing gives the price by the rule of three.

Assumed where the contract is silent:

- `required_price` of a fixed price is that price;
- "the greater of it and least_price" is by the letter: where the policy asks more than the least price, `nearest`
  may still go below the least price;
- `binds` names least_price, keystone or one_retail_price only where it really moved the price: equality is policy;
- a product's own policy for a channel counts also where that channel is only a `keystone_of` for another.
"""

from __future__ import annotations

import math
from fractions import Fraction

TOLERANCE = Fraction(1, 10**9)
ZERO = Fraction(0)

# ISO 4217, list one: digits of the minor unit where they are not two.
DIGITS = {
    **dict.fromkeys("BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF".split(), 0),
    **dict.fromkeys("BHD IQD JOD KWD LYD OMR TND".split(), 3),
    **dict.fromkeys("CLF UYW".split(), 4),
}


def prices_of(folder, figures: dict, variant: dict, note) -> dict:
    """`prices` of a variant: for every channel in which it is sold every price quantity."""
    sold_in = figures.get("sold_in", list(folder.channels))
    decided = {}
    for name in folder.channels:
        if name in sold_in:
            decided[name] = before_ladder(folder, figures, variant, name, note)
    climb_ladder(folder, figures, decided, note)
    result = {}
    for name, decision in decided.items():
        channel = folder.channels[name]
        result[name] = decision | at_price(folder, channel, variant, decision["price"])
    return result


def rule_for(folder, figures: dict, name: str, key: str, default=None):
    """The product's own policy or least price in a channel, else the channel's."""
    own = figures.get("in_channel", {}).get(name, {})
    return own[key] if key in own else folder.channels[name].get(key, default)


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


# What a price brings ---------------------------------------------------------------------------


def fee_base(channel: dict, fee: dict, price: Fraction) -> Fraction:
    """What a fee's rate is taken of: of an order, or of a set where it is per set."""
    rate, _ = tax_of(channel)
    sets = channel.get("units_per_order", Fraction(1))
    item = ex_tax(channel, price) * (1 - channel.get("discount", ZERO))
    charged = channel.get("postage", {}).get("charged", ZERO)
    if fee.get("taxed", True):
        item *= 1 + rate
    else:
        charged /= 1 + rate
    if fee.get("of", "item") == "item":
        charged = ZERO
    if fee.get("per", "order") == "order":
        return sets * item + charged
    return item + charged / sets


def fee_per_set(channel: dict, fee: dict, price: Fraction) -> Fraction:
    """One fee at a price, per set."""
    amount = fee.get("rate", ZERO) * fee_base(channel, fee, price)
    if amount < fee.get("min", ZERO):
        amount = fee["min"]
    if "max" in fee and amount > fee["max"]:
        amount = fee["max"]
    amount = (amount + fee.get("fixed", ZERO)) * fee.get("share", Fraction(1))
    if fee.get("per", "order") == "order":
        amount /= channel.get("units_per_order", Fraction(1))
    return amount


def at_price(folder, channel: dict, variant: dict, price: Fraction) -> dict:
    """Every price quantity at a list price."""
    workshop = folder.workshop
    rate, _ = tax_of(channel)
    sets = channel.get("units_per_order", Fraction(1))
    postage = channel.get("postage", {})
    order_hours = channel.get("minutes", ZERO) / 60
    order_labour = ZERO
    if order_hours:
        role = workshop["labour"][channel["labour"]]
        order_labour = order_hours * role["rate"] * (1 + role.get("on_cost", ZERO)) / sets
    order_overhead = order_hours * workshop["overhead"]["per_month"] / workshop["overhead"]["productive_hours"]
    order_cost = order_labour + (order_overhead + postage.get("cost", ZERO) + channel.get("packing", ZERO)) / sets
    order_cost += channel.get("refund_share", ZERO) * channel.get("refund_cost", ZERO)
    price_ex_tax = ex_tax(channel, price)
    net_sales = price_ex_tax * (1 - channel.get("discount", ZERO))
    fees = sum((fee_per_set(channel, fee, price) for fee in channel.get("fees", [])), ZERO)
    postage_income = postage.get("charged", ZERO) / (1 + rate) / sets
    net_receipts = net_sales + postage_income - fees - order_cost
    profit = net_receipts - variant["unit_cost"]
    hours = variant["labour_hours"] + order_hours / sets
    return {
        "ex_tax_price": price_ex_tax,
        "net_sales": net_sales,
        "selling_fees": fees,
        "order_labour_cost": order_labour,
        "order_cost": order_cost,
        "postage_income": postage_income,
        "net_receipts": net_receipts,
        "profit": profit,
        "margin": profit / net_sales if net_sales else None,
        "earned_per_hour": (profit + variant["labour_cost"] + order_labour) / hours if hours else None,
        "times_melt_value": price_ex_tax / variant["melt_value"] if variant["melt_value"] else None,
    }


# What a policy asks ----------------------------------------------------------------------------


def surplus_over(folder, channel: dict, variant: dict, policy: dict, price: Fraction) -> Fraction:
    """By how much a price brings more than a margin, a markup or earnings ask; below 0 where it is too little."""
    at = at_price(folder, channel, variant, price)
    if "margin" in policy:
        return at["profit"] - policy["margin"] * at["net_sales"]
    if "markup" in policy:
        return at["profit"] - policy["markup"] * variant["unit_cost"]
    hours = variant["labour_hours"] + channel.get("minutes", ZERO) / 60 / channel.get("units_per_order", Fraction(1))
    if not hours:
        raise ValueError(f"{variant['sku']}: no hour is spent that could earn")
    return at["profit"] + variant["labour_cost"] + at["order_labour_cost"] - policy["earn"] * hours


def solved(folder, channel: dict, variant: dict, policy: dict) -> Fraction:
    """The price at which a margin, a markup or earnings come out exactly; 0 where it would be below."""
    breakpoints = {ZERO}
    for fee in channel.get("fees", []):
        at_nothing = fee.get("rate", ZERO) * fee_base(channel, fee, ZERO)
        slope = fee.get("rate", ZERO) * fee_base(channel, fee, Fraction(1)) - at_nothing
        for bound in ("min", "max"):
            if bound in fee and slope > 0:
                breakpoints.add(max(ZERO, (fee[bound] - at_nothing) / slope))
    walk = sorted(breakpoints)
    walk.append(2 * walk[-1] + 10 * variant["unit_cost"] + 1)  # any second point of the last piece, which has no end
    brought = [surplus_over(folder, channel, variant, policy, price) for price in walk]
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


def required(folder, figures: dict, variant: dict, name: str, note) -> Fraction:
    """The list price that the policy of a channel asks, before rounding."""
    channel = folder.channels[name]
    policy = rule_for(folder, figures, name, "policy")
    if "fixed" in policy:
        return policy["fixed"]
    if "margin" in policy or "markup" in policy or "earn" in policy:
        return solved(folder, channel, variant, policy)
    if "metal_multiple" in policy:
        metal = variant["metal_cost"] + variant["findings_metal_cost"]
        work = variant["unit_cost"] - metal
        return list_price(channel, policy["metal_multiple"] * metal + policy["work_multiple"] * work)
    if "keystone_of" in policy:
        other = policy["keystone_of"]
        if "keystone_of" in rule_for(folder, figures, other, "policy"):
            raise ValueError(f"a chain of keystones: {name}, {other}")
        base = before_ladder(folder, figures, variant, other, note)["price"]
        return list_price(channel, policy["multiple"] * ex_tax(folder.channels[other], base))
    return list_price(channel, policy["multiple"] * variant["unit_cost"])


# Rounding and ladder ---------------------------------------------------------------------------


def step_at(folder, channel: dict, number: Fraction, name: str, note) -> Fraction:
    """The rounding step for the number that is being rounded."""
    rounding = channel.get("rounding", {})
    for band in rounding.get("steps_by_price", []):
        note(f"prices: {name}", "tie", "price against the end of a band of steps", band["below"] - number, number)
        if band["below"] > number:
            return band["step"]
    return rounding.get("step", Fraction(1, 10 ** DIGITS.get(folder.workshop["currency"], 2)))


def rounded_up(folder, channel: dict, number: Fraction, name: str, note) -> Fraction:
    """The smallest price of a channel that is not below the number (less 1e-9)."""
    step = step_at(folder, channel, number, name, note)
    ending = channel.get("rounding", {}).get("ending", ZERO)
    steps = (number - TOLERANCE - ending) / step
    note(f"prices: {name}", "edge", "rounding up", (steps - round(steps)) * step, number)
    price = ending + math.ceil(steps) * step
    note_nothing(price, ending, name, note)
    return price


def rounded_nearest(folder, channel: dict, number: Fraction, name: str, note) -> Fraction:
    """The nearest price of a channel, of two the upper, but none below nothing."""
    step = step_at(folder, channel, number, name, note)
    ending = channel.get("rounding", {}).get("ending", ZERO)
    steps = (number - ending) / step + Fraction(1, 2) + TOLERANCE
    note(f"prices: {name}", "edge", "rounding to the nearest", (steps - round(steps)) * step, number)
    price = ending + max(math.floor(steps), math.ceil(-ending / step)) * step
    note_nothing(price, ending, name, note)
    return price


def note_nothing(price: Fraction, ending: Fraction, name: str, note) -> None:
    """A price of exactly 0 has no margin; where an ending less some steps makes it, noise may make it a little more."""
    if ending:
        note(f"prices: {name}", "tie", "price against nothing", price, ending)


def before_ladder(folder, figures: dict, variant: dict, name: str, note) -> dict:
    """What the policy asks in a channel, the rounded price and what decided it."""
    channel = folder.channels[name]
    asked = required(folder, figures, variant, name, note)
    if "fixed" in rule_for(folder, figures, name, "policy"):
        return {"required_price": asked, "binds": "fixed", "price": asked}
    least = rule_for(folder, figures, name, "least_price", ZERO)
    if least:
        note(f"prices: {name}", "tie", "required_price against least_price", asked - least, asked)
    if least > asked:
        price = rounded_up(folder, channel, least, name, note)
        return {"required_price": asked, "binds": "least_price", "price": price}
    rule = rounded_up
    if channel.get("rounding", {}).get("direction", "up") == "nearest":
        rule = rounded_nearest
    return {"required_price": asked, "binds": "policy", "price": rule(folder, channel, asked, name, note)}


def climb_ladder(folder, figures: dict, decided: dict, note) -> None:
    """Lift the retail prices, first over the wholesale price, then to one retail price."""
    wholesale = [
        ex_tax(folder.channels[name], decision["price"])
        for name, decision in decided.items()
        if folder.channels[name]["audience"] == "wholesale"
    ]
    free_retail = [
        name
        for name, decision in decided.items()
        if folder.channels[name]["audience"] == "retail" and decision["binds"] != "fixed"
    ]
    if "keystone" in folder.ladder and wholesale:
        least_ex_tax = folder.ladder["keystone"] * max(wholesale)
        for name in free_retail:
            channel, decision = folder.channels[name], decided[name]
            short_by = least_ex_tax - ex_tax(channel, decision["price"])
            note(f"prices: {name}", "tie", "price against the keystone", short_by, least_ex_tax)
            if short_by > 0:
                decision["price"] = rounded_up(folder, channel, list_price(channel, least_ex_tax), name, note)
                decision["binds"] = "keystone"
    if folder.ladder.get("one_retail_price", False) and free_retail:
        highest = max(decided[name]["price"] for name in free_retail)
        if len(free_retail) > 1:
            second = sorted(decided[name]["price"] for name in free_retail)[-2]
            note(f"prices: {free_retail[0]}", "tie", "two retail prices", highest - second, highest)
        for name in free_retail:
            if decided[name]["price"] < highest:
                decided[name]["price"] = highest
                decided[name]["binds"] = "one_retail_price"
