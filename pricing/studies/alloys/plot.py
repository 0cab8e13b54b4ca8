"""One design in every alloy as a picture: what of its cost is metal, and the price where it is sold first."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from pricing.shown import Shown
from pricing.studies.alloys.every_alloy import EveryAlloy, InAlloy
from pricing.studies.pictures import (
    BLUE,
    CLEAR,
    GREY,
    INK,
    PAPER,
    VERMILLION,
    Called,
    Drawing,
    height_of,
    is_narrow,
    name_rows,
    thickness,
)

TITLE = "What one costs in every alloy"


def costs_by_alloy(every: EveryAlloy, sku: str, shown: Shown, called: Called) -> Drawing:
    """The picture, alloys by rising cost; prices only of channels in the workshop's currency."""
    drawn = [each for each in every.found if each.size is None]
    channels = [name for each in drawn for name in each.prices if shown.currency_in(name) == shown.currency]
    channel = channels[0] if channels else None
    said = ", ".join(
        f"{name} {shown.money(each.unit_cost)}, of it metal {shown.money(each.metal_cost)}"
        for each in drawn
        for _, name in (called(each.sku, each.alloy),)
    )
    return Drawing(
        TITLE,
        f"{called(sku, '')[0]}{f', prices in {channel}' if channel else ''}, {shown.currency}",
        said or "It is made in no alloy",
        partial(_draw, drawn=drawn, channel=channel, currency=shown.currency, called=called),
        height_of(2 * len(drawn)),
        len(drawn),
    )


def _draw(axes: Any, drawn: Sequence[InAlloy], channel: str | None, currency: str, called: Called) -> None:
    rows = range(len(drawn))
    several = len({each.sku for each in drawn}) > 1
    named = [called(each.sku, each.alloy) for each in drawn]
    names = [", ".join(words) if several else words[-1] for words in named]
    metal = [each.metal_cost for each in drawn]
    rest = [each.unit_cost - each.metal_cost for each in drawn]
    axes.barh(rows, metal, height=thickness(axes), color=BLUE, label="metal")
    axes.barh(rows, rest, height=thickness(axes), left=metal, color=PAPER, edgecolor=GREY, label="all other cost")
    priced = [(row, each.prices[channel]) for row, each in enumerate(drawn) if channel and channel in each.prices]
    if priced:
        axes.scatter(
            [price for _, price in priced], [row for row, _ in priced], s=46, color=VERMILLION, marker="D",
            label=f"price, {channel}", zorder=4,
        )  # fmt: skip
    told = [_told(each, each.prices.get(channel) if channel else None) for each in drawn]
    for row, each in enumerate(drawn if not is_narrow(axes) else ()):
        price = each.prices.get(channel) if channel else None
        axes.annotate(
            told[row], (max(each.unit_cost, price or 0.0), row), xytext=(8, 0), textcoords="offset points", fontsize=8,
            va="center", color=INK, bbox=dict(CLEAR),
        )  # fmt: skip
    axes.margins(x=0.05 if is_narrow(axes) else 0.45)  # room for what is written behind the longest
    axes.set_xlim(left=0)
    name_rows(axes, names, 9, also=() if several else told)
    axes.set_xlabel(f"{currency} a set")


def _told(each: InAlloy, price: float | None) -> str:
    return f"costs {each.unit_cost:,.2f}{'' if price is None else f', price {price:,.2f}'}"
