"""`troytag export FOLDER list`: the price list, for shops or for buyers."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from pricing.cli.commands.export import Force, default_path
from pricing.cli.commands.printed_exports import Locale, NoPictures, Paper, Targets, ValidUntil
from pricing.cli.options import Asked, AsOf, Edition, Skus, chosen, chosen_goods, day, wanted_prices


def export_list(
    context: typer.Context,
    audience: Annotated[
        Literal["shops", "buyers"],
        typer.Option("--for", help="Shops read trade and retail prices and terms, buyers retail prices."),
    ] = "shops",
    to: Targets = None,
    channel: Annotated[
        str | None,
        typer.Option(
            help="Whose prices; the first wholesale (for buyers: retail) channel if left out.", show_default=False
        ),
    ] = None,
    retail: Annotated[
        str | None,
        typer.Option(
            help="Channel of the suggested retail price; the first retail one if left out.", show_default=False
        ),
    ] = None,
    sku: Skus = None,
    alloy: Annotated[
        list[str] | None, typer.Option(help="Only this alloy (may be repeated).", show_default=False)
    ] = None,
    valid_until: ValidUntil = None,
    as_of: AsOf = None,
    edition: Edition = None,
    asked: Asked = False,
    locale: Locale = None,
    paper: Paper = None,
    no_pictures: NoPictures = False,
    force: Force = False,
) -> None:
    """Write a price list: one HTML file, or a PDF (--to list.pdf)."""
    from pricing.cli.commands import printed_exports as printing
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.lists.pictures import Pictures
    from pricing.lists.price_list import ListAsked, price_list
    from pricing.studies.prices_out import prices_out

    if retail and audience == "buyers":
        raise UsageFault("--retail is for a list for shops; for buyers name the channel with --channel.")
    targets = to or [default_path(context.obj, f"-price-list-{audience}.html")]
    printing.check_targets(targets, force)
    wanted_out = wanted_prices(edition, asked)
    out = prices_out(cost(context.obj, asked_for(day(as_of))), wanted_out)
    costing = out.costing
    stated = costing.folder.stated
    listed = ListAsked(
        audience,
        tuple(chosen_goods(sku, costing.folder)),
        tuple(chosen("alloy", alloy, stated.alloys)),
        channel,
        retail,
        day(valid_until),
        printing.paper_named(paper),
    )
    pictures = None if no_pictures else Pictures(context.obj)
    habit = printing.habit_of(costing, locale)
    sheet = price_list(out, listed, habit, pictures, printing.watched("pictures"))
    printing.write(sheet, targets, force)
    printing.say(costing, pictures, out)
