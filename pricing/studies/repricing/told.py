"""The reason of a verdict in a few words, as every face tells it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import timedelta
from types import MappingProxyType

from pricing.model.channel import Reprice
from pricing.model.stated import Stated
from pricing.shown import Shown, percent
from pricing.studies.repricing.reprice import RepricedRow

#: Reasons that need no figure.
SAID: Mapping[str, str] = MappingProxyType(
    {
        "same": "as asked",
        "policy": "asked",
        "fixed": "fixed by you",
        "asks_less": "the policy asks less still",
        "accepted": "your word",
        "kept": "your word",
        "restored": "as it was before",
        "new": "",
        "gone": "sold no more",
    }
)


def reason_words(row: RepricedRow, stated: Stated, shown: Shown) -> str:
    """Why a price is held or moved: by the channel's own rule, another channel's, the ladder or the maker's word."""
    own = stated.channels[row.channel].reprice if row.channel in stated.channels else None
    said = SAID.get(row.reason) or _by_another(row, stated) or (_by_the_rule(row, own) if own else "")
    if row.owing and row.reason != "too_coarse":
        said = f"{said}; {shown.price(row.channel, row.owing, signed=True)} owing"
    return said


def _by_another(row: RepricedRow, stated: Stated) -> str:
    """`2 × trade`, or `one price with shop`."""
    if row.reason == "keystone" and stated.ladder and stated.ladder.keystone:
        return f"{stated.ladder.keystone:g} × {row.by}"
    return f"one price with {row.by}" if row.reason == "one_price" else ""


def _by_the_rule(row: RepricedRow, own: Reprice) -> str:
    if row.reason == "waits" and row.in_force:
        return f"waits to {row.in_force.set_on + timedelta(days=math.ceil(own.days_between or 0))}"
    raising = row.asked is not None and row.held is not None and row.asked > row.held
    band = own.keep_within if raising or own.falling is None else own.falling
    return {
        "within": f"within {100 * band:g} points",
        "beyond": f"beyond {100 * band:g} points",
        "below_least": f"below {percent(own.least_margin)}",
        "too_coarse": f"a rounding step is over {percent(own.largest_step)}",
    }.get(row.reason, "")


#: Reasons that need no figure, as a sentence.
SAID_WHOLE: Mapping[str, str] = MappingProxyType(
    {
        "same": "It is what your policy asks.",
        "policy": "This channel states no rule for repricing, so what is asked is taken.",
        "fixed": "You fixed this price; it is taken as you stated it.",
        "accepted": "Your word: what is asked.",
        "kept": "Your word: it stays as it is.",
        "restored": "It is again what it was before.",
        "new": "It is not published yet and begins at what your policy asks.",
        "gone": "It is sold no more, and its price ends.",
    }
)


def reason_sentence(row: RepricedRow, stated: Stated, shown: Shown) -> str:
    """The same with the rule that decided and the figures that it is about, to be read under a price."""
    own = stated.channels[row.channel].reprice if row.channel in stated.channels else None
    said = SAID_WHOLE.get(row.reason) or _said_by_another(row, stated) or (_said_by_the_rule(row, own) if own else "")
    if row.owing and own and own.largest_step is not None and row.reason != "too_coarse":
        left = shown.price(row.channel, abs(row.owing))
        said += f" Of the way {left} are left, since no step is larger than {percent(own.largest_step)}."
    return said


def _said_by_another(row: RepricedRow, stated: Stated) -> str:
    if row.reason == "keystone" and stated.ladder and stated.ladder.keystone:
        return f"By your ladder it is never under {stated.ladder.keystone:g} times the price of {row.by}."
    return f"By your ladder it is one price with {row.by}, and that one decides." if row.reason == "one_price" else ""


def _said_by_the_rule(row: RepricedRow, own: Reprice) -> str:
    earns, raising = percent(row.earns), row.asked is not None and row.held is not None and row.asked > row.held
    if row.reason in ("below_least", "asks_less"):
        least = (
            f"Earns {_points(row.earns or 0.0)} %; your least in this channel is {_points(own.least_margin or 0.0)} %"
        )
        return f"{least}, so it moves at once." if row.reason == "below_least" else f"{least}, yet less is asked."
    off = _points(abs((row.would_earn or 0.0) - (row.earns or 0.0)))
    band = own.keep_within if raising or own.falling is None else own.falling
    apart = f"Earns {earns}, {off} points {'under' if raising else 'over'} what your policy asks for"
    if row.reason == "within":
        return f"{apart}; your rule lets {_points(band)} pass."
    if row.reason == "beyond":
        return f"{apart}, and your rule lets only {_points(band)} pass."
    if row.reason == "waits" and row.in_force:
        until = row.in_force.set_on + timedelta(days=math.ceil(own.days_between or 0))
        return (
            f"{apart}, more than the {_points(band)} that may pass; but it was set on {row.in_force.set_on}, and your "
            f"rule leaves {own.days_between or 0:g} days between two changes: until {until}."
        )
    if row.reason == "too_coarse":
        return (
            f"{apart}, more than the {_points(band)} that may pass; but one step of rounding is more than "
            f"{percent(own.largest_step)}, the largest change that your rule allows."
        )
    return ""


def _points(share: float) -> str:
    return f"{100 * share:.1f}".removesuffix(".0")
