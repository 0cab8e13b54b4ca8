"""What is missing of a batch, in words: for the terminal and the page."""

from __future__ import annotations

from pricing.batches.balance import Balance, Missing
from pricing.batches.model import Batch
from pricing.shown import Shown

#: So many grams beyond the expected melt loss are none: scales tell no less.
AS_EXPECTED_G = 0.05


def minutes_in_all(batch: Batch) -> dict[str, float]:
    """Minutes by step, those of all castings together and those of single products."""
    minutes = dict(batch.minutes)
    for each in (each for flask in batch.flasks for each in flask.pieces):
        for step, spent in each.minutes.items():
            minutes[step] = minutes.get(step, 0.0) + spent
    return minutes


def in_a_sentence(lost: Balance | Missing, shown: Shown) -> str:
    """What is missing of an alloy, in words."""
    alloy, missing_g, charge_g, beyond_g = lost.alloy, lost.missing_g, lost.charge_g, lost.beyond_g
    money, beyond_money = lost.missing_money, lost.beyond_money
    if missing_g < 0:
        return f"{alloy}: {shown.mass(-missing_g)} more came out than the {shown.mass(charge_g)} that went in."
    worth = "" if money is None else f", {shown.money(money)} {shown.currency}"
    said = f"{alloy}: {shown.mass(missing_g)} of {shown.mass(charge_g)} are missing{worth}"
    if beyond_g is None:
        return f"{said}."
    if abs(beyond_g) < AS_EXPECTED_G:
        return f"{said}, as was expected of the melt."
    worth = "" if beyond_money is None else f" ({shown.money(abs(beyond_money))} {shown.currency})"
    word = "more" if beyond_g >= 0 else "less"
    return f"{said}: {shown.mass(abs(beyond_g))}{worth} {word} than the melt loss that was expected."
