"""Whether the workshop adds up: its figures against the week that its maker told."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.week.whole_week import WholeWeek

HEADS = ("a normal week", "your figures", "you said")
YEAR_HEADS = ("product", "sets a year", "hours", "brings", "an hour brings")


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """Hours, flasks and pieces that the figures need beside those that are there, and what the year pays."""
    from pricing.questions.subject import basis
    from pricing.studies.month.there_is import amounts_of
    from pricing.studies.prices_out import standing
    from pricing.studies.week.told import told_of
    from pricing.studies.week.whole_week import week_records, whole_week

    out, shown = subject.out, subject.shown
    found = whole_week(out, said["years"], amounts_of(said["sold"] or (), "--sold"))
    lacking = f"no expected_sales, counted as the others' mean: {', '.join(found.lacking)}."
    return Answer(
        blocks=(
            subject.head(out),
            f"Prices: {basis(out)}. {_year_of(found)}",
            Table(HEADS, tuple(_week(found)), "Does it add up?"),
            "",
            *(each.sentence for each in told_of(found, shown)),
            Table(YEAR_HEADS, tuple(_year(found, shown)), "Where the year goes, before overhead", gap=1),
        ),
        rows=week_records(found),
        document={
            "as_of": subject.day,
            "currency": subject.stated.workshop.currency,
            "prices": basis(out),
            **{name: getattr(found, name) for name in DOCUMENT},
        },
        notes=(*([lacking] if found.lacking else []), *standing(out)),
        warnings=out.costing.warnings,
    )


#: What of the answer a program reads, by its names.
DOCUMENT = (
    "weeks", "pieces", "told_pieces", "sets", "needs_hours", "has_hours", "needs_flasks", "has_flasks", "good",
    "told_good", "overhead", "recovered", "sales", "pays", "own_hours", "an_hour", "fits", "pays_if_fitted", "lasts",
)  # fmt: skip


def _year_of(found: WholeWeek) -> str:
    lasts = f"the expected sales last {found.lasts:.1f} years"
    return f"{found.sets:,.0f} sets a year, {found.weeks:g} weeks are worked; {lasts}."


def _week(found: WholeWeek) -> Iterator[tuple[str, ...]]:
    yield "hours at the bench and on orders", f"{found.needs_hours:,.1f}", f"{found.has_hours:,.1f}"
    if found.needs_flasks or found.has_flasks is not None:
        yield "flasks", f"{found.needs_flasks:,.1f}", "" if found.has_flasks is None else f"{found.has_flasks:,.1f}"
    yield "pieces begun", f"{found.pieces:,.1f}", "" if found.told_pieces is None else f"{found.told_pieces:,.1f}"
    if found.good is not None:
        told = "" if found.told_good is None else f"{100 * found.told_good:.0f}"
        yield "of 100 begun come through", f"{100 * found.good:.0f}", told


def _year(found: WholeWeek, shown: Shown) -> Iterator[tuple[str, ...]]:
    for sku in dict.fromkeys(row.sku for row in found.rows):
        own = [row for row in found.rows if row.sku == sku]
        hours, brings, mine = (sum(getattr(row, name) for row in own) for name in ("hours", "brings", "own_hours"))
        yield (
            sku,
            f"{sum(row.sets for row in own):,.0f}",
            f"{hours:,.0f}",
            shown.money(brings),
            shown.money(brings / mine if mine else None),
        )


WEEK = Question(
    "week",
    "Does it add up?",
    "Whether the figures add up to the week that you told, and what the year pays you.",
    (
        Option(
            "years",
            "number",
            "Years over which the expected sales are spread; what [week] says of its pieces if left out.",
            "The expected sales last, in years",
            example="N",
        ),
        Option(
            "sold",
            "words",
            "Parts of what is sold (may be repeated); all channels alike if left out.",
            "Sold in which parts",
            several=True,
            example="CHANNEL=PART",
        ),
    ),
    answer,
    has_picture=False,
)
