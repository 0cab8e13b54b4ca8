"""How many to make at once: the staircase of costs, the best lots, the ladder of discounts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from pricing.questions.model import Answer, Question, Stairs, Table
from pricing.questions.option import Option, chosen

if TYPE_CHECKING:
    from pricing.questions.subject import Subject
    from pricing.shown import Shown
    from pricing.studies.pictures import Called
    from pricing.studies.quantity.lots import Lots


def answer(subject: Subject, said: Mapping[str, Any]) -> Answer:
    """What a lot of each size costs, the best sizes, what may come off for more."""
    from pricing.errors import UsageFault
    from pricing.questions.subject import basis
    from pricing.studies.quantity.lots import lot_records, lots
    from pricing.studies.quantity.plot import staircase

    out, sku = subject.out, said["sku"]
    stated, variants = subject.stated, out.computed.resolved.variants
    chosen("sku", "product", [sku], dict.fromkeys(each.sku for each in variants))
    own = [each for each in variants if each.sku == sku]
    (picked,) = chosen("alloy", "alloy", [said["alloy"] or own[0].alloy], [each.alloy for each in own])
    sold = [price.channel for each in own if each.alloy == picked for price in each.prices if price.sold]
    if not sold:
        raise UsageFault(f"{sku} in {picked} is sold nowhere. State a channel for it in its file.")
    (place,) = chosen("channel", "channel", [said["channel"] or sold[0]], stated.channels)
    found = lots(out, sku, picked, place, said["up_to"], said["charge_design"])
    return Answer(
        blocks=(subject.head(out), f"Prices: {basis(out)}", *_told(found, subject.shown, subject.called)),
        rows=lot_records(found),
        document={
            "as_of": subject.day,
            "currency": stated.workshop.currency,
            "prices": basis(out),
            "price_in_force": found.price_in_force,
            "margin": found.margin,
            "best": [lot.quantity for lot in found.best],
            "ladder": [{"quantity": rung.quantity, "discount": rung.discount} for rung in found.ladder],
        },
        drawing=staircase(found, stated.workshop.currency, subject.folder.called),
        warnings=out.costing.warnings,
    )


def _told(found: Lots, shown: Shown, called: Called) -> tuple[str | Table | Stairs, ...]:
    from pricing.shown import percent
    from pricing.studies.quantity.lots import loads_in_words

    price, earns = shown.price(found.channel, found.price_in_force), percent(found.margin, 1)
    wanted = {1, len(found.lots)} | {lot.quantity for lot in found.best} | {rung.quantity for rung in found.ladder}
    lines = tuple(
        (
            f"{lot.quantity}{' best' if lot.is_best else ''}",
            str(lot.flasks or ""),
            shown.money(lot.unit_cost),
            shown.price(found.channel, lot.price),
            shown.price(found.channel, lot.keeping),
            percent(-lot.discount, 1, signed=True),
            loads_in_words(lot),
        )
        for lot in found.lots
        if lot.quantity in wanted
    )
    if found.ladder:
        ladder = [f"\nEvery lot up to {len(found.lots)} keeps {earns}"]
        for rung in found.ladder:
            off = f"{percent(rung.discount)} off" if rung.discount else "at the price in force"
            ladder.append(f"  from {rung.quantity}: {off}")
    else:
        ladder = [f"\nNo lot up to {len(found.lots)} keeps {earns} at the price in force."]
    costs = tuple(lot.unit_cost for lot in found.lots)
    return (
        f"\n{' in '.join(called(found.sku, found.alloy))}, {shown.channel(found.channel)}: {price}, "
        f"which earns {earns}.",
        Stairs(
            f"Cost of one in a lot of 1 to {len(found.lots)}: {shown.money(max(costs))} at the top, "
            f"{shown.money(min(costs))} at the foot",
            costs,
        ),
        Table(("lot", "flasks", "costs", "asked", "to keep it", "off or on", "loads"), lines),
        "\n".join(ladder),
    )


QUANTITY = Question(
    "quantity",
    "How many at once",
    "What a lot of each size costs, the best sizes, a ladder of discounts.",
    (
        Option("sku", "product", "The product.", "Piece", required=True),
        Option("alloy", "alloy", "Its alloy; the first if left out."),
        Option("channel", "channel", "Where it is sold; the first if left out.", "Sold in"),
        Option("up_to", "count", "The largest lot.", default=50, example="N", most_on_page=300),
        Option("charge_design", "switch", "Charge the whole design to the run.", "With the design"),
    ),
    answer,
)
