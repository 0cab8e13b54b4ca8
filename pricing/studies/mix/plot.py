"""A month's mix as a picture: what an hour of each choice brings, what is made of it, what an hour is worth."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from typing import Any

from pricing.shown import Shown
from pricing.studies.mix.figures import Choice, Mix
from pricing.studies.pictures import (
    BLUE,
    GREY,
    INK,
    PAPER,
    VERMILLION,
    Called,
    Drawing,
    height_of,
    name_rows,
    thickness,
)

TITLE = "What an hour brings, and what to make"
#: So many choices are drawn: those made, and the best others.
MOST_DRAWN = 30


def what_is_made(found: Mix, told: str, shown: Shown, called: Called) -> Drawing:
    """The picture, the best by the hour at the top."""
    known = [each for each in found.choices if each.brings_an_hour is not None]
    picked = sorted(known, key=lambda each: (each.sets <= 0, -(each.brings_an_hour or 0.0)))[:MOST_DRAWN]
    drawn = sorted(picked, key=lambda each: each.brings_an_hour or 0.0)
    worth = next((each.worth for each in found.limits if each.kind == "hours" and not each.name), 0.0)
    made = ", ".join(f"{each.sets:.4g} {_named(each, called)}" for each in found.made)
    return Drawing(
        TITLE,
        told,
        f"Made: {made or 'nothing'}. One more hour is worth {shown.money(worth)} {shown.currency}",
        partial(_draw, drawn=drawn, worth=worth, currency=shown.currency, called=called),
        height_of(len(drawn)),
        len(drawn),
    )


def _named(each: Choice, called: Called) -> str:
    return ", ".join((*called(each.sku, each.alloy), each.channel))


def _draw(axes: Any, drawn: Sequence[Choice], worth: float, currency: str, called: Called) -> None:
    for is_made, label, look in (
        (True, "made, with how many", {"color": BLUE}),
        (False, "not made", {"color": PAPER, "edgecolor": GREY}),
    ):
        rows = [row for row, each in enumerate(drawn) if (each.sets > 0) == is_made]
        if rows:
            axes.barh(
                rows, [drawn[row].brings_an_hour or 0.0 for row in rows], height=thickness(axes), label=label, **look
            )
    for row, each in enumerate(drawn):
        if each.sets > 0:
            axes.annotate(
                f"{each.sets:.4g}", (each.brings_an_hour or 0.0, row), xytext=(3, 0), textcoords="offset points",
                fontsize=8, va="center", color=INK,
            )  # fmt: skip
    if worth > 0:
        axes.axvline(worth, color=VERMILLION, linewidth=1.4, linestyle="--", label="what one more hour is worth")
    name_rows(axes, [_named(each, called) for each in drawn])
    axes.set_xlabel(f"an hour brings, {currency}")
