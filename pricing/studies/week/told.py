"""What a whole week comes to, in sentences: for the terminal, and quietly for the page's first view."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from pricing.errors import UsageFault
from pricing.model.workshop import MONTHS_IN_A_YEAR
from pricing.shown import Shown, percent
from pricing.studies.prices_out import PricesOut
from pricing.studies.week.whole_week import WholeWeek, whole_week

#: Figures and what was told may lie so far apart, as a share, before a word is said of it.
NEAR = 0.1
#: Within so many years the expected sales of designs are usually sold.
LEAST_YEARS, MOST_YEARS = 1, 20


@dataclass(frozen=True)
class Said:
    """A sentence: `about` hours, flasks, good, sales, overhead or year; `fine` where it asks for no closer look."""

    about: str
    sentence: str
    fine: bool


def told_of(found: WholeWeek, shown: Shown) -> tuple[Said, ...]:
    """Everything that the figures and the week that was told say of each other."""
    return tuple(_told(found, shown))


def line_of(out: PricesOut, shown: Shown) -> Said | None:
    """The week in one sentence; None where the maker told of none, or nothing of it can be said."""
    told = out.costing.folder.stated.workshop.week
    if told is None or told.pieces is None:
        return None
    try:
        return in_one_line(whole_week(out, in_short=True), shown)
    except UsageFault:  # as where nothing is sold yet
        return None


def in_one_line(found: WholeWeek, shown: Shown) -> Said:
    """The same as one sentence."""
    hour = "" if found.an_hour is None else f", {shown.money(found.an_hour)} an hour"
    return Said(
        "week",
        f"By your figures a normal week needs {found.needs_hours:,.0f} hours of {found.has_hours:,.0f} and recovers "
        f"{percent(_recovered(found))} of the overhead; at these prices and sales the year pays you "
        f"{_whole(found.pays)}{hour}.",
        all(each.fine for each in told_of(found, shown)),
    )


def _told(found: WholeWeek, shown: Shown) -> Iterator[Said]:
    needs, has = found.needs_hours, found.has_hours
    sentence = f"Your figures need {needs:,.1f} bench hours a week, you have {has:,.1f}."
    if needs > has * (1 + NEAR):
        sentence += " Either minutes are stated too long, or you make fewer pieces than you said."
    elif needs < has * (1 - NEAR):
        sentence += (
            f" {has - needs:,.1f} hours go where no figure says: steps without minutes, orders, cleaning up, or hours "
            "that were not worked."
        )
    yield Said("hours", sentence, abs(needs - has) <= NEAR * has)
    if found.has_flasks is not None:
        near = abs(found.needs_flasks - found.has_flasks) <= NEAR * max(found.has_flasks, found.needs_flasks)
        sentence = f"They need {found.needs_flasks:,.1f} flasks a week, you pour {found.has_flasks:,.1f}."
        yield Said("flasks", sentence if near else f"{sentence} Look at the pieces per flask.", near)
    if found.good is not None and found.told_good is not None:
        near = abs(found.good - found.told_good) <= NEAR / 2
        through, said = 100 * found.good, 100 * found.told_good
        sentence = f"Of 100 pieces begun your figures bring {through:.0f} through, you said {said:.0f}."
        yield Said("good", sentence if near else f"{sentence} Look at the fractions good of the steps.", near)
    if found.lasts < LEAST_YEARS:
        sentence = (
            f"At that pace all that you expect to sell of your designs is sold in {found.lasts * MONTHS_IN_A_YEAR:.0f} "
            "months. Expect more of them, or add the pieces that are not stated here yet."
        )
        yield Said("sales", sentence, False)
    elif found.lasts > MOST_YEARS:
        sentence = (
            f"At that pace it takes {found.lasts:.0f} years to sell what you expect of your designs. Expect less."
        )
        yield Said("sales", sentence, False)
    share = _recovered(found)
    yield Said(
        "overhead",
        f"Overhead recovered: {percent(share)}, {_whole(found.recovered)} of {_whole(found.overhead)} a year.",
        share is None or abs(share - 1) <= NEAR,
    )
    hour = "" if found.an_hour is None else f", {shown.money(found.an_hour)} an hour"
    sentence = f"At these prices and sales the year pays you {_whole(found.pays)}{hour}."
    if found.fits < 1 / (1 + NEAR):
        sentence += f" Only {percent(found.fits)} of it fits into your hours; that pays {_whole(found.pays_if_fitted)}."
    yield Said("year", sentence, found.pays > 0)


def _recovered(found: WholeWeek) -> float | None:
    return found.recovered / found.overhead if found.overhead else None


def _whole(amount: float) -> str:
    """An amount of a year, without its small change."""
    return f"{round(amount) + 0:,}"
