"""The prices of one variant in every channel, in exact fractions: policies, rounding, least prices and the ladder.

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

from .recompute_folder import Folder
from .recompute_prices import ZERO, at_price, channel_rate, ex_tax, list_price, rule_for, solved
from .recompute_steps import TOLERANCE

# ISO 4217, list one: digits of the minor unit where they are not two.
DIGITS = {
    **dict.fromkeys("BIF CLP DJF GNF ISK JPY KMF KRW PYG RWF UGX UYI VND VUV XAF XOF XPF".split(), 0),
    **dict.fromkeys("BHD IQD JOD KWD LYD OMR TND".split(), 3),
    **dict.fromkeys("CLF UYW".split(), 4),
}


def prices_of(folder: Folder, figures: dict, variant: dict, note) -> dict:
    """`prices` of a variant: for every channel in which it is sold every price quantity."""
    sold_in = figures.get("sold_in", list(folder.channels))
    decided = {}
    for name in folder.channels:
        if name in sold_in:
            decided[name] = before_ladder(folder, figures, variant, name, note)
    climb_ladder(folder, decided, note)
    result = {}
    for name, decision in decided.items():
        result[name] = decision | at_price(folder, figures, variant, name, decision["price"], note)
    return result


def required(folder: Folder, figures: dict, variant: dict, name: str, note, quoted=None) -> Fraction:
    """The list price that the policy of a channel asks, before rounding, in the channel's currency."""
    channel = folder.channels[name]
    policy = rule_for(folder, figures, name, "policy")
    exchange = channel_rate(folder, channel)
    if "fixed" in policy:
        return policy["fixed"]
    if "margin" in policy or "markup" in policy or "earn" in policy:
        return solved(folder, figures, variant, name, policy, quoted)
    if "metal_multiple" in policy:
        metal = variant["metal_cost"] + variant["findings_metal_cost"]
        work = variant["unit_cost"] - metal
        asked = policy["metal_multiple"] * metal + policy["work_multiple"] * work
        return list_price(channel, asked / exchange)
    if "keystone_of" in policy:
        other = policy["keystone_of"]
        if "keystone_of" in rule_for(folder, figures, other, "policy"):
            raise ValueError(f"a chain of keystones: {name}, {other}")
        base = before_ladder(folder, figures, variant, other, note, quoted)["price"]
        of_other = ex_tax(folder.channels[other], base) * channel_rate(folder, folder.channels[other])
        return list_price(channel, policy["multiple"] * of_other / exchange)
    return list_price(channel, policy["multiple"] * variant["unit_cost"] / exchange)


# Rounding --------------------------------------------------------------------------------------


def step_at(folder: Folder, channel: dict, number: Fraction, name: str, note) -> Fraction:
    """The rounding step for the number that is being rounded."""
    rounding = channel.get("rounding", {})
    for band in rounding.get("steps_by_price", []):
        note(f"prices: {name}", "tie", "price against the end of a band of steps", band["below"] - number, number)
        if band["below"] > number:
            return band["step"]
    currency = channel.get("currency", folder.workshop["currency"])
    return rounding.get("step", Fraction(1, 10 ** DIGITS.get(currency, 2)))


def rounded_up(folder: Folder, channel: dict, number: Fraction, name: str, note) -> Fraction:
    """The smallest price of a channel that is not below the number (less 1e-9)."""
    step = step_at(folder, channel, number, name, note)
    ending = channel.get("rounding", {}).get("ending", ZERO)
    steps = (number - TOLERANCE - ending) / step
    note(f"prices: {name}", "edge", "rounding up", (steps - round(steps)) * step, number)
    price = ending + math.ceil(steps) * step
    note_nothing(price, ending, name, note)
    return price


def rounded_nearest(folder: Folder, channel: dict, number: Fraction, name: str, note) -> Fraction:
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


def before_ladder(folder: Folder, figures: dict, variant: dict, name: str, note, quoted=None) -> dict:
    """What the policy asks in a channel, the rounded price and what decided it."""
    channel = folder.channels[name]
    asked = required(folder, figures, variant, name, note, quoted)
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


# Ladder ----------------------------------------------------------------------------------------


def climb_ladder(folder: Folder, decided: dict, note) -> None:
    """Lift the retail prices, first over the wholesale price, then to one retail price in every currency."""
    wholesale, free_retail = [], []
    for name, decision in decided.items():
        channel = folder.channels[name]
        if channel["audience"] == "wholesale":
            wholesale.append(ex_tax(channel, decision["price"]) * channel_rate(folder, channel))
        elif decision["binds"] != "fixed":
            free_retail.append(name)
    if "keystone" in folder.ladder and wholesale:
        for name in free_retail:
            channel, decision = folder.channels[name], decided[name]
            least_ex_tax = folder.ladder["keystone"] * max(wholesale) / channel_rate(folder, channel)
            short_by = least_ex_tax - ex_tax(channel, decision["price"])
            note(f"prices: {name}", "tie", "price against the keystone", short_by, least_ex_tax)
            if short_by > 0:
                decision["price"] = rounded_up(folder, channel, list_price(channel, least_ex_tax), name, note)
                decision["binds"] = "keystone"
    if folder.ladder.get("one_retail_price", False):
        by_currency: dict[str, list[str]] = {}
        for name in free_retail:
            currency = folder.channels[name].get("currency", folder.workshop["currency"])
            by_currency.setdefault(currency, []).append(name)
        for names in by_currency.values():
            to_one_price(decided, names, note)


def to_one_price(decided: dict, names: list[str], note) -> None:
    """Gives channels of one currency the highest of their prices."""
    highest = max(decided[name]["price"] for name in names)
    if len(names) > 1:
        second = sorted(decided[name]["price"] for name in names)[-2]
        note(f"prices: {names[0]}", "tie", "two retail prices", highest - second, highest)
    for name in names:
        if decided[name]["price"] < highest:
            decided[name]["price"] = highest
            decided[name]["binds"] = "one_retail_price"
