"""The reason of a verdict in a few words, as every face tells it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import timedelta
from types import MappingProxyType

from pricing.model.channel import Reprice
from pricing.model.stated import Stated
from pricing.shown import Shown, percent
from pricing.studies.repricing import RepricedRow

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
