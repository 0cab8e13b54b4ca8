"""How sure costs, prices and margins are, what makes them unsure, and what to measure first."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, Refused, chosen

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.doubt.in_doubt import Sure
    from pricing.studies.doubt.what_to_measure import Matters
    from pricing.studies.pictures import Called

#: Up to so many variants it is told for each what makes its cost unsure.
MOST_SHARES = 4
#: So many doubts are listed on a screen, and contributions from this share on; all are in the JSON.
MOST_DOUBTS, LEAST_SHARE = 12, 0.005


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """The ranges of some variants, and what every doubt does to their prices."""
    from pricing.learning.posteriors import posteriors
    from pricing.questions.subject import basis, chosen_goods
    from pricing.studies.doubt.in_doubt import in_doubt
    from pricing.studies.doubt.plot import strip, tornado
    from pricing.studies.doubt.records import figure_records, matter_records, price_records, share_records
    from pricing.studies.doubt.told import in_short
    from pricing.studies.doubt.what_to_measure import what_matters
    from pricing.studies.prices_out import standing

    out, shown, stated = subject.out, subject.shown, subject.stated
    skus = chosen_goods("sku", said["sku"], subject.folder)
    alloys = chosen("alloy", "alloy", said["alloy"], stated.alloys)
    channels = chosen("channel", "channel", said["channel"], stated.channels)
    variants = out.computed.resolved.variants
    rows = [row for row, each in enumerate(variants) if each.sku in skus and each.alloy in alloys]
    if not rows:
        raise Refused("alloy", "none of these products is made in such an alloy. Name another one.")
    found = in_doubt(out, posteriors(out.asked), said["weeks"], said["draws"], rows, progress=subject.progress)
    matters = what_matters(found, rows, channels)
    told = f"{stated.workshop.name}, {in_short(found)}"
    prices = [each for each in price_records(found) if each["channel"] in channels]
    return Answer(
        blocks=(
            subject.head(out),
            f"Prices: {basis(out)}. {in_short(found).capitalize()}, {found.draws:,} worlds.",
            Table(COSTS, tuple(_costs(found.rows, shown)), "Cost", strong=_strong(found.rows), gap=1),
            *(_margins(found.rows, name, shown) for name in channels if _sold(found.rows, name)),
            *(_shares(row, subject.called) for row in found.rows if len(found.rows) <= MOST_SHARES),
            Table(DOUBTS, tuple(_doubts(matters)), "What each doubt does to the prices, on average", gap=1),
            *_first(matters, subject.called),
        ),
        rows=prices,
        document={
            "as_of": subject.day,
            "currency": stated.workshop.currency,
            "prices": basis(out),
            "weeks": found.metals.weeks if found.metals.moves else 0,
            "draws": found.draws,
            "figures": list(figure_records(found)),
            "shares": [each for each in share_records(found) if each["channel"] in (None, *channels)],
            "measure": list(matter_records(matters)),
        },
        drawing=strip(found, told, shown, subject.folder.called),
        also={"tornado": tornado(matters, told)},
        notes=(*found.notes, *standing(out)),
        warnings=out.costing.warnings,
    )


# ---- what is told

COSTS = ("product, alloy", "as stated", "P10", "P50", "P90")
MARGINS = ("product, alloy", "price", "asked P10", "P50", "P90", "margin P10", "P50", "P90", "loss", "below")
DOUBTS = ("figure", "stated", "low", "high", "at its low", "at its high")
SHARES = ("figure", "by itself", "in all it does")


def _strong(rows: Sequence[Sure]) -> frozenset[int]:
    """The places of the lines that name a product."""
    found, line, before = set(), 0, None
    for row in rows:
        if row.sku != before:
            found.add(line)
            line += 1
        before, line = row.sku, line + 1
    return frozenset(found)


def _costs(rows: Sequence[Sure], shown: Shown) -> Iterator[tuple[str, ...]]:
    before = None
    for row in rows:
        if row.sku != before:
            yield row.sku, *[""] * (len(COSTS) - 1)
        before = row.sku
        yield f"  {row.alloy}", shown.money(row.unit_cost), *map(shown.money, row.cost)


def _sold(rows: Sequence[Sure], channel: str) -> list[Sure]:
    return [row for row in rows if any(price.channel == channel for price in row.prices)]


def _margins(rows: Sequence[Sure], channel: str, shown: Shown) -> Table:
    sold = _sold(rows, channel)
    least = next(price.least_margin for row in sold for price in row.prices if price.channel == channel)
    kept = len(MARGINS) if least is not None else len(MARGINS) - 1
    title = f"{shown.channel(channel)}{'' if least is None else f', at least {_percent(least)} of margin'}"
    lines = tuple(line[:kept] for line in _priced(sold, channel, shown))
    return Table(MARGINS[:kept], lines, title, strong=_strong(sold), gap=1)


def _priced(sold: Sequence[Sure], channel: str, shown: Shown) -> Iterator[tuple[str, ...]]:
    before = None
    for row in sold:
        if row.sku != before:
            yield row.sku, *[""] * (len(MARGINS) - 1)
        before = row.sku
        price = next(each for each in row.prices if each.channel == channel)
        yield (
            f"  {row.alloy}",
            shown.price(channel, price.price),
            *(shown.price(channel, each) for each in price.asked),
            *map(_percent, price.margin or (None, None, None)),
            _chance(price.loss),
            _chance(price.under_least),
        )


def _shares(row: Sure, called: Called) -> Table:
    ranked = sorted(row.shares.items(), key=lambda each: -(each[1].in_all or 0.0))
    lines = [
        (_called(name), _percent(share.alone), _percent(share.in_all))
        for name, share in ranked
        if (share.in_all or 0.0) >= LEAST_SHARE
    ]
    return Table(
        SHARES,
        tuple(lines) or (("nothing", "", ""),),
        f"What makes {' in '.join(called(row.sku, row.alloy))} unsure (of its variance)",
    )


def _doubts(matters: Sequence[Matters]) -> Iterator[tuple[str, ...]]:
    from pricing.shown import percent
    from pricing.studies.doubt.what_to_measure import LEAST_MOVE

    moving = [each for each in matters if each.moves >= LEAST_MOVE]
    for each in moving[:MOST_DOUBTS]:
        figure = each.figure
        yield (
            each.words,
            *(("", "", "") if figure is None else (f"{at:.4g}" for at in (figure.stated, figure.low, figure.high))),
            percent(each.at_low, 1, signed=True),
            percent(each.at_high, 1, signed=True),
        )
    if not moving:
        yield "nothing moves them", *[""] * 5


def _first(matters: Sequence[Matters], called: Called) -> Iterator[str]:
    """The figures to be measured first, each with how."""
    from pricing.shown import percent
    from pricing.studies.doubt.what_to_measure import to_measure

    first = to_measure(matters)
    if first:
        yield "\nMeasure these first:"
    for place, each in enumerate(first, 1):
        most = f"most {' in '.join(called(each.sku, each.alloy))}, {each.channel}: {percent(each.most, 1)}"
        yield f"\n{place}. {each.words}, which moves prices by {percent(each.moves, 1)} ({most})."
        yield f"   {each.measure or 'Look it up again: ' + (each.figure.known.meaning if each.figure else '')}"


def _percent(share: float | None) -> str:
    from pricing.shown import percent

    return percent(share)


def _chance(share: float | None) -> str:
    """A chance in per cent; less than one in two hundred is said so."""
    if share is None:
        return ""
    return "" if share == 0 else "< 1 %" if share < 0.005 else _percent(share)


def _called(name: str) -> str:
    from pricing.studies.doubt.figures import in_words

    return in_words(name)


DOUBT = Question(
    "doubt",
    "How sure a price is",
    "How sure a cost, a price and a margin are, and which figures to measure first.",
    (
        Option("sku", "product", "Only this product (may be repeated).", "Only the piece", several=True),
        Option("alloy", "alloy", "Only this alloy (may be repeated).", "Only in the alloy", several=True),
        Option("channel", "channel", "Only there (may be repeated).", "Only in", several=True),
        Option(
            "weeks",
            "count",
            "Weeks in which metal may move; until the next repricing if left out, 0 for none.",
            "Weeks in which metal moves",
        ),
        Option(
            "draws", "count", "Worlds that are drawn, rounded up to a power of two.", default=4096, most_on_page=16_384
        ),
    ),
    answer,
    slow="drawing the worlds",
)
