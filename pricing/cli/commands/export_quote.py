"""`troytag export FOLDER quote`: the quotation for a commission."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.commands.export import Force, default_path
from pricing.cli.commands.printed_exports import Locale, NoPictures, Paper, Targets, ValidUntil
from pricing.cli.options import AsOf, Json, chosen, chosen_goods, day
from pricing.errors import UsageFault

#: A quantity has so many digits at most.
MOST_DIGITS = 9


def export_quote(
    context: typer.Context,
    sku: Annotated[str, typer.Option(help="What is quoted.", show_default=False)],
    alloy: Annotated[
        list[str] | None, typer.Option(help="In which alloy; up to three side by side.", show_default=False)
    ] = None,
    quantity: Annotated[
        list[str] | None,
        typer.Option(metavar="N", help="For so many; up to six. [default: 10, 25, 50]", show_default=False),
    ] = None,
    customer: Annotated[str | None, typer.Option(help="For whom.", show_default=False)] = None,
    reference: Annotated[
        str | None, typer.Option(help="The customer's word or number for it.", show_default=False)
    ] = None,
    channel: Annotated[
        str | None,
        typer.Option(
            help="By whose policy; if left out the first that sells it in all, wholesale first.", show_default=False
        ),
    ] = None,
    charge_design: Annotated[bool, typer.Option("--charge-design", help="Charge the design to the order.")] = False,
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
    if json:
        _print_json(context.obj, sku, alloy, channel, quantity, charge_design, as_of)
        return
    from pricing.cli.commands import printed_exports as printing
    from pricing.costing import asked_for, cost
    from pricing.lists.pictures import Pictures
    from pricing.lists.quotation import QuoteAsked, quotation

    targets = to or [default_path(context.obj, f"-quotation-{sku}.html".replace("/", "-").replace("\\", "-"))]
    printing.check_targets(targets, force)
    costing = cost(context.obj, asked_for(day(as_of)))
    chosen_goods([sku], costing.folder.stated.products)
    chosen("alloy", alloy, costing.folder.stated.alloys)
    asked = QuoteAsked(
        sku,
        tuple(quantity_list(quantity)),
        tuple(dict.fromkeys(alloy or ())),
        channel,
        charge_design,
        customer,
        reference,
        day(valid_until),
        printing.paper_named(paper),
    )
    pictures = None if no_pictures else Pictures(context.obj)
    printing.write(quotation(costing, asked, printing.habit_of(costing, locale), pictures), targets, force)
    printing.say(costing, pictures)


def _print_json(
    folder: Path,
    sku: str,
    alloys: list[str] | None,
    channel: str | None,
    quantities: list[str] | None,
    charge_design: bool,
    as_of: str | None,
) -> None:
    """Print what the quantities are offered at: one object, of one alloy in one channel."""
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.studies.prices_out import prices_out
    from pricing.studies.quoting import offered, quotation_record

    costing = cost(folder, asked_for(day(as_of)))
    chosen_goods([sku], costing.folder.stated.products)
    chosen("alloy", alloys, costing.folder.stated.alloys)
    resolved = costing.computed.resolved
    rows = [
        row for row, each in enumerate(resolved.variants) if each.sku == sku and each.alloy in (alloys or [each.alloy])
    ]
    if len(rows) != 1 or channel is None:
        raise UsageFault("--json is of one piece, alloy and channel: name them by --sku, --alloy and --channel.")
    chosen("channel", [channel], costing.folder.stated.channels)
    published = prices_out(costing).published
    (found,) = offered(costing, rows, channel, quantity_list(quantities), charge_design, published)
    screen.print_json(quotation_record(found))


def quantity_list(stated: list[str] | None) -> list[int]:
    """The quantities that are quoted, ten, 25 and 50 where none are stated. Raises UsageFault for no whole number."""
    quantities = []
    for text in stated or ("10", "25", "50"):
        if not text.isascii() or not text.isdecimal() or len(text) > MOST_DIGITS:
            several = "Write digits only; several are said one by one: --quantity 1 --quantity 5."
            raise UsageFault(f'--quantity "{text}" is no number of pieces. {several}')
        quantities.append(int(text))
    return list(dict.fromkeys(quantities))
