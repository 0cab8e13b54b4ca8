"""One design in every alloy, and the metal prices at which two change places."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Table
from pricing.questions.option import Option, chosen

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.alloys.every_alloy import Change, EveryAlloy
    from pricing.studies.pictures import Called

HEADS = ("alloy", "finished", "metal", "cost", "price", "margin")


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """A product, or one size of it, in every alloy that it could be made in."""
    from dataclasses import asdict

    from pricing.questions.subject import basis
    from pricing.studies.alloys.every_alloy import alloy_records, in_every_alloy
    from pricing.studies.alloys.plot import costs_by_alloy

    channels = chosen("channel", "channel", said["channel"], subject.stated.channels)
    every = in_every_alloy(subject.folder, said["sku"], subject.asked, subject.wanted)
    told = basis(every.out)
    asked_too = " (*: not in it, what the policy asks)" if every.out.edition else ""
    why_not = [(subject.called("", name)[1], why) for name, why in every.left_out.items()]
    without = (
        f"Not in {', '.join(name for name, own in why_not if own == why)}: {why}."
        for why in dict.fromkeys(every.left_out.values())
    )
    return Answer(
        blocks=(
            subject.head(every.out),
            f"{subject.called(said['sku'])[0]} in every alloy. Prices: {told}{asked_too}",
            *_tables(every, channels, subject.shown),
            "",
            *_lacking(every, subject.called),
            *_changes(every.changes, subject.shown, subject.called),
            *without,
        ),
        rows=list(alloy_records(every, channels)),
        document={
            "as_of": subject.day,
            "currency": subject.stated.workshop.currency,
            "prices": told,
            "changes": [asdict(each) for each in every.changes],
            "left_out": dict(every.left_out),
        },
        drawing=costs_by_alloy(every, said["sku"], subject.shown, subject.folder.called),
        warnings=every.out.costing.warnings,
    )


def _tables(every: EveryAlloy, channels: Sequence[str], shown: Shown) -> Iterator[Table]:
    sold_in = [name for name in channels if any(name in each.prices for each in every.found)]
    strong = frozenset(place for place, each in enumerate(every.found) if each.size is None and each.is_made)
    for name in sold_in or [""]:
        title = shown.channel(name) if name else "sold in none of these channels"
        yield Table(HEADS, tuple(_lines(every, name, shown)), title, strong=strong)


def _lines(every: EveryAlloy, name: str, shown: Shown) -> Iterator[tuple[str, ...]]:
    from pricing.shown import percent

    skus = {each.sku for each in every.found}
    for each in every.found:
        if each.size is None:
            called = f"{each.sku} " if len(skus) > 1 else ""
            first = f"{called}{each.alloy}{'' if each.is_made else ', what if'}"
        else:
            first = f"  size {each.size}"
        price = each.prices.get(name)
        mark = " *" if every.out.edition and price is not None and name not in each.published else ""
        yield (
            first,
            shown.mass(each.finished_g),
            shown.money(each.metal_cost),
            shown.money(each.unit_cost),
            "" if price is None or each.size is not None else f"{shown.price(name, price)}{mark}",
            "" if price is None else percent(each.margins[name]),
        )


def _lacking(every: EveryAlloy, called: Called) -> Iterator[str]:
    lacking = {each.alloy: ", ".join(each.without) for each in every.found if each.without}
    for without in dict.fromkeys(lacking.values()):
        named = ", ".join(called("", name)[1] for name in lacking if lacking[name] == without)
        yield f"Without {without}, which only others of its alloys have: {named}."


def _changes(changes: Sequence[Change], shown: Shown, called: Called) -> Iterator[str]:
    from pricing.shown import metal_named

    several = len({each.sku for each in changes}) > 1
    for each in changes:
        quoted = f"{each.currency}/{each.per}"
        metal = metal_named(each.metal)
        sku, dearer = called(each.sku, each.dearer)
        head, cheaper = f"{sku}: " if several else "", called("", each.cheaper)[1]
        if each.then is None or each.times is None or each.cost_then is None:
            told = f"{dearer} costs more than {cheaper} at every price of their leading metals."
        else:
            told = (
                f"{dearer} costs what {cheaper} does ({shown.money(each.cost_then)}) with {metal} at "
                f"{each.then:,.2f} {quoted}, now {each.now:,.2f} ({_moved(each.times)})."
            )
        yield f"{head}{told}"


def _moved(times: float) -> str:
    from pricing.shown import percent

    return f"× {times:,.0f}" if times >= 10 else percent(times - 1, signed=True)


ALLOY = Question(
    "alloy",
    "One design in every alloy",
    "One design in every alloy, and the metal price where two change places.",
    (
        Option("sku", "product", "The product, or one size of it.", "Piece", required=True),
        Option("channel", "channel", "Only there (may be repeated).", "Only in", several=True),
    ),
    answer,
)
