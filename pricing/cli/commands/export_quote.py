"""`troytag export FOLDER quote`: the quotation for a commission."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.commands.export import Force, default_path
from pricing.cli.commands.printed_exports import Locale, NoPictures, Paper, Targets, ValidUntil
from pricing.cli.options import AsOf, Json, chosen, chosen_goods, day

if TYPE_CHECKING:
    from pricing.lists.quoted import QuoteAsked
    from pricing.studies.prices_out import PricesOut


def export_quote(
    context: typer.Context,
    sku: Annotated[str, typer.Option(help="What is quoted.", show_default=False)],
    alloy: Annotated[
        list[str] | None,
        typer.Option(help="In which alloy; up to three side by side. [default: those sold there]", show_default=False),
    ] = None,
    quantity: Annotated[
        list[str] | None,
        typer.Option(
            metavar="N",
            help="For so many, as one order; up to six. [default: 10, 25, 50]",
            show_default=False,
        ),
    ] = None,
    customer: Annotated[str | None, typer.Option(metavar="NAME", help="For whom.", show_default=False)] = None,
    reference: Annotated[
        str | None, typer.Option(metavar="WORDS", help="The customer's word or number for it.", show_default=False)
    ] = None,
    number: Annotated[
        str | None,
        typer.Option(
            metavar="NUMBER", help="Your number for it; by the day and minute if left out.", show_default=False
        ),
    ] = None,
    channel: Annotated[
        str | None,
        typer.Option(
            help="By whose policy; if left out the first that sells it in all, wholesale first.", show_default=False
        ),
    ] = None,
    delivery: Annotated[
        str | None,
        typer.Option(metavar="WORDS", help='When it is ready, as "six weeks from your order".', show_default=False),
    ] = None,
    extra: Annotated[
        list[str] | None,
        typer.Option(
            metavar="WHAT=AMOUNT",
            help="A line on top, once for the order, as sizing=15; up to eight.",
            show_default=False,
        ),
    ] = None,
    discounts: Annotated[
        bool,
        typer.Option(
            "--discounts", help="Off the price in force by the discounts of study quantity, and from its quantities on."
        ),
    ] = False,
    charge_design: Annotated[bool, typer.Option("--charge-design", help="Charge the design to the order.")] = False,
    customer_metal: Annotated[
        str | None,
        typer.Option(
            metavar="GRAMS:ALLOY",
            help="Metal that the customer brings, or GRAMS:FINENESS as 12.5:375; credited as scrap.",
            show_default=False,
        ),
    ] = None,
    json: Json = False,
    to: Targets = None,
    valid_until: ValidUntil = None,
    as_of: AsOf = None,
    locale: Locale = None,
    paper: Paper = None,
    no_pictures: NoPictures = False,
    force: Force = False,
) -> None:
    """Write a quotation: alloys side by side, several quantities, a metal clause."""
    from datetime import datetime

    from pricing.cli.commands import printed_exports as printing
    from pricing.cli.screens.quotation import show_to_the_maker
    from pricing.lists.pictures import Pictures
    from pricing.lists.quotation import quotation
    from pricing.lists.quoted import QUANTITIES, QuoteAsked, extras_of, number_by_clock, quantities_of, quoted
    from pricing.parcels.customer import metal_of

    usual = () if discounts else QUANTITIES
    quantities, extras = quantities_of(quantity or (), "--quantity 1 --quantity 5", usual), extras_of(extra or ())
    metal = metal_of(customer_metal) if customer_metal else None
    if json:
        asked = QuoteAsked(
            sku, quantities, tuple(alloy or ()), channel, charge_design, metal=metal, discounts=discounts
        )
        _print_json(_priced(context.obj, sku, alloy, as_of), asked)
        return
    targets = to or [default_path(context.obj, f"-quotation-{sku}.html".replace("/", "-").replace("\\", "-"))]
    printing.check_targets(targets, force)
    out = _priced(context.obj, sku, alloy, as_of)
    asked = QuoteAsked(
        sku,
        quantities,
        tuple(dict.fromkeys(alloy or ())),
        channel,
        charge_design,
        customer,
        reference,
        day(valid_until),
        printing.paper_named(paper),
        number or number_by_clock(datetime.now()),
        delivery,
        extras,
        metal,
        discounts,
    )
    pictures = None if no_pictures else Pictures(context.obj)
    found = quoted(out, asked)
    sheet = quotation(out, asked, found, printing.habit_of(out.asked, locale), pictures)
    printing.write(sheet, targets, force)
    show_to_the_maker(out, asked, found)
    printing.say(out.asked, pictures)


def _priced(folder: Path, sku: str, alloys: list[str] | None, as_of: str | None) -> PricesOut:
    """The folder's prices, asked and in force. Raises UsageFault where there is no such product or alloy."""
    from pricing.costing import asked_for, cost
    from pricing.studies.prices_out import prices_out

    costing = cost(folder, asked_for(day(as_of)))
    chosen_goods([sku], costing.folder)
    chosen("alloy", alloys, costing.folder.stated.alloys)
    return prices_out(costing)


def _print_json(out: PricesOut, asked: QuoteAsked) -> None:
    """Print what the quantities are offered at: one object, of one alloy in one channel."""
    from pricing.cli.screens import screen
    from pricing.cli.screens.customer_metal import metal_record
    from pricing.errors import UsageFault
    from pricing.lists.quoted import by_discounts
    from pricing.parcels.customer import taken_in
    from pricing.studies.quantity.quoting import NO_LADDERS, offered, quotation_record

    sku, alloys, channel = asked.sku, asked.alloys, asked.channel
    variants = out.asked.computed.resolved.variants
    rows = [row for row, each in enumerate(variants) if each.sku == sku and each.alloy in (alloys or [each.alloy])]
    if len(rows) != 1 or channel is None:
        raise UsageFault("--json is of one piece, alloy and channel: name them by --sku, --alloy and --channel.")
    chosen("channel", [channel], out.asked.folder.stated.channels)
    quantities, ladders = by_discounts(out, rows, channel, asked) if asked.discounts else (asked.quantities, NO_LADDERS)
    (found,) = offered(out.asked, rows, channel, quantities, asked.charge_design, out.published, ladders)
    record = quotation_record(found)
    if asked.metal is not None:
        record["customer_metal"] = metal_record(taken_in(out.asked, rows, asked.metal))
    screen.print_json(record)
