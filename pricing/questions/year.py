"""What a year of metal prices would have paid by the folder's reprice rules, and where margins were too thin."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import TYPE_CHECKING, Any

from pricing.questions.history import OPTIONS, history_of
from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.year.seller_year import PriceYear, Year

PAID = ("product", "sets", "paid", "if asked", "if never", "changes", "months under")
UNDER = ("product, alloy, channel", "least", "lowest", "months", "which")
#: So many prices that went under their least margin are told on a screen; all are in the JSON and the CSV.
MOST_UNDER = 20


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """The months of a history replayed with the rules of the folder."""
    from pricing.studies.month.there_is import sales_of
    from pricing.studies.year.plot import months_paid
    from pricing.studies.year.seller_year import seller_year, year_records

    costing, shown = subject.costing, subject.shown
    history, called = history_of(subject, said)
    sales = sales_of(said["sales"] or (), "--sales")
    found = seller_year(costing, history, said["months"], said["look_every"], sales, subject.progress)
    span = f"{called}, {found.first} to {found.last}"
    return Answer(
        blocks=(
            subject.head_of(costing.computed),
            f"By {span}; all but metal as on {costing.computed.resolved.as_of}. Looked at again every "
            f"{said['look_every']} days, {found.looks} times.",
            Table(PAID, tuple(_paid(found, shown)), "By product"),
            _sum(found, shown),
            *_under(found),
        ),
        rows=year_records(found),
        document={
            "first": found.first.isoformat(),
            "last": found.last.isoformat(),
            "currency": subject.stated.workshop.currency,
            "looks": found.looks,
            "paid": found.paid[0],
            "if_asked": found.paid[1],
            "if_never": found.paid[2],
            "months": [
                {"month": month, "paid": paid[0], "if_asked": paid[1], "if_never": paid[2]}
                for month, paid in zip(found.months, found.by_month, strict=True)
            ],
        },
        drawing=months_paid(found, f"{subject.stated.workshop.name}: {span}", shown),
        notes=history.notes,
        warnings=costing.warnings,
    )


def _paid(found: Year, shown: Shown) -> Iterator[tuple[str, ...]]:
    for sku in dict.fromkeys(each.sku for each in found.prices):
        own = [each for each in found.prices if each.sku == sku]
        paid, asked, never = (sum(getattr(each, way) for each in own) for way in ("paid", "if_asked", "if_never"))
        under = len({month for each in own for month in each.below})
        yield (
            sku,
            f"{sum(each.sets for each in own):,.0f}",
            shown.money(paid),
            shown.money(asked - paid, signed=True),
            shown.money(never - paid, signed=True),
            str(sum(each.changes for each in own)),
            str(under or ""),
        )


def _sum(found: Year, shown: Shown) -> str:
    paid, asked, never = found.paid
    return (
        f"\nIt would have paid {shown.money(paid)}, your own hours not yet taken off, with "
        f"{sum(each.changes for each in found.prices)} changes of {len(found.prices)} prices. With the asked price in "
        f"force every day: {shown.money(asked)}. With the first price never changed: {shown.money(never)}."
    )


def _under(found: Year) -> Iterator[str | Table]:
    from pricing.shown import percent

    under = [each for each in found.prices if each.below]
    if not under:
        ruled = any(each.least is not None for each in found.prices)
        yield "\nNo month was under a least margin." if ruled else "\nNo channel states a least margin."
        return
    under.sort(key=lambda each: (-len(each.below), _lowest(each)))
    rows = tuple(
        (
            f"{each.sku}, {each.alloy}, {each.channel}",
            percent(each.least, 1),
            percent(_lowest(each), 1),
            str(len(each.below)),
            ", ".join(found.months[place] for place in each.below),
        )
        for each in under[:MOST_UNDER]
    )
    yield Table(UNDER, rows, "Months under the least margin")
    if len(under) > MOST_UNDER:
        yield f"\nAnd {len(under) - MOST_UNDER} more."


def _lowest(each: PriceYear) -> float:
    return min((margin for margin in each.margins if margin is not None), default=0.0)


YEAR = Question(
    "year",
    "A year of metal prices",
    "What a year of metal prices would have paid by your reprice rules.",
    (
        Option(
            "months", "count", "Calendar months, the last of the history as the last one.", default=12, most_on_page=36
        ),
        Option("look_every", "count", "Prices are looked at again every so many days.", default=7, example="DAYS"),
        Option(
            "sales", "words", "Sets a month of what has these names; one of each (may be repeated).",
            "Sold in a month", several=True, example="NAME[:NAME]=N", typed="shop=2",
        ),
        *OPTIONS,
    ),
    answer,
    asked_prices=False,
    slow="replaying the year",
)  # fmt: skip
