"""A price event: what is left of each piece, how many more must sell, what to leave out."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, chosen

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.sale.on_sale import OnSale

#: The last one stands only where a piece of the channel is to be left out.
HEADS = ("product, alloy", "price", "on sale", "profit", "left", "margin", "an hour of yours", "sell", "leave out")


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """What is left of every piece in every channel with a share off."""
    from pricing.errors import UsageFault
    from pricing.questions.subject import basis, chosen_goods
    from pricing.shown import percent
    from pricing.studies.prices_out import standing
    from pricing.studies.sale.on_sale import on_sale, sale_records
    from pricing.studies.sale.plot import what_is_left

    out, off, rounded = subject.out, said["off"], said["rounded"]
    channels = chosen("channel", "channel", said["channel"], subject.stated.channels)
    skus = chosen_goods("sku", said["sku"], subject.folder)
    found = [each for each in on_sale(out.costing, off, rounded) if each.channel in channels and each.sku in skus]
    if not found:
        raise UsageFault("none of these products has a price there. Name another channel or product.")
    off_told = f"{percent(off, 1 if off * 100 % 1 else 0)} off{', rounded' if rounded else ''}"
    tables = (
        _table([each for each in found if each.channel == name], subject.shown)
        for name in channels
        if any(each.channel == name for each in found)
    )
    return Answer(
        blocks=(subject.head(out), f"Prices: {basis(out)}, {off_told}", *tables, _sum(found)),
        rows=list(sale_records(found)),
        document={
            "as_of": subject.day,
            "currency": subject.stated.workshop.currency,
            "prices": basis(out),
            "off": off,
            "rounded": rounded,
        },
        drawing=what_is_left(found, f"{subject.stated.workshop.name}, {off_told}", subject.folder.called),
        notes=tuple(standing(out)),
        warnings=out.costing.warnings,
    )


def _table(own: Sequence[OnSale], shown: Shown) -> Table:
    lines, strong = [], []
    for place, line in enumerate(_lines(own, shown)):
        if line[1] == "":
            strong.append(place)
        lines.append(line)
    kept = len(HEADS) if any(each.leave_out for each in own) else len(HEADS) - 1
    return Table(
        HEADS[:kept],
        tuple(line[:kept] for line in lines),
        shown.channel(own[0].channel),
        strong=frozenset(strong),
        gap=1,
    )


def _lines(own: Sequence[OnSale], shown: Shown) -> Iterator[tuple[str, ...]]:
    from pricing.shown import percent

    channel, before = own[0].channel, None
    for each in own:
        if each.sku != before:
            yield each.sku, *[""] * (len(HEADS) - 1)
        before = each.sku
        yield (
            f"  {each.alloy}",
            shown.price(channel, each.before.price),
            shown.price(channel, each.then.price),
            shown.money(each.before.profit),
            shown.money(each.then.profit),
            percent(each.then.margin),
            shown.money(each.then.earned_per_hour),
            _times(each),
            each.leave_out.removeprefix("least ") if each.leave_out else "",
        )


def _times(each: OnSale) -> str:
    if each.times_as_many is not None:
        return f"× {each.times_as_many:,.2f}"
    return "never" if each.before.profit > 0 else ""


def _sum(found: Sequence[OnSale]) -> str:
    out = sum(each.leave_out is not None for each in found)
    return f"\nLeave out {out} of {len(found)} prices." if out else f"\nNone of {len(found)} prices need be left out."


SALE = Question(
    "sale",
    "What a sale leaves",
    "What a sale leaves, how many more must sell, what to leave out.",
    (
        Option(
            "off",
            "number",
            "What comes off, as 0.20 for 20 %.",
            "Comes off",
            required=True,
            example="SHARE",
            typed="0.20",
        ),
        Option("channel", "channel", "Only there (may be repeated).", "Only in", several=True),
        Option("sku", "product", "Only this product (may be repeated).", "Only the piece", several=True),
        Option("rounded", "switch", "Round as the channel rounds; as they come out if left out."),
    ),
    answer,
)
