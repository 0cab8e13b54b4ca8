"""`troytag export FOLDER card`: a card for each pour, or for each order."""

from __future__ import annotations

from typing import Annotated, Literal

import typer

from pricing.cli.commands.export import Force, default_path
from pricing.cli.commands.pour import Mean, OrdersFile, Sure, Wanted, WantsFile, planned, share_of, wanted
from pricing.cli.commands.printed_exports import Locale, Paper, Targets
from pricing.cli.options import AsOf, chosen, day


def export_card(
    context: typer.Context,
    kind: Annotated[
        Literal["pour", "order"], typer.Option(help="A page for each pour, or a card for each order of --for-list.")
    ] = "pour",
    want: Wanted = None,
    wants: WantsFile = None,
    for_list: OrdersFile = None,
    sure: Sure = None,
    mean: Mean = False,
    mix: Annotated[
        list[str] | None,
        typer.Option(metavar="ALLOY", help="Tell its fresh metal by element, to mix it.", show_default=False),
    ] = None,
    to: Targets = None,
    as_of: AsOf = None,
    locale: Locale = None,
    paper: Paper = None,
    force: Force = False,
) -> None:
    """Write job cards: a page for each pour, or a card for each order."""
    from pricing.cli.commands import printed_exports as printing
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.lists.order_card import order_cards
    from pricing.lists.pour_card import pour_card
    from pricing.pouring.told import all_poured
    from pricing.pouring.wants import orders_of_file

    targets = to or [default_path(context.obj, f"-{kind}-cards.pdf")]
    printing.check_targets(targets, force)
    share, asked, size = share_of(sure, mean), wanted(want, wants, for_list), printing.paper_named(paper)
    if kind == "order" and for_list is None:
        raise UsageFault("--kind order: name the list of orders with --for-list.")
    if not asked:
        raise UsageFault("nothing is wanted: say what by --want SKU:ALLOY=QUANTITY, --wants or --for-list.")
    costing = cost(context.obj, asked_for(day(as_of)))
    mixed = chosen("alloy", mix, costing.folder.stated.alloys) if mix else []
    habit = printing.habit_of(costing, locale)
    if kind == "order" and for_list is not None:
        printing.write(order_cards(costing, orders_of_file(for_list), habit, size), targets, force)
        return
    made = planned(costing, asked, share)
    all_poured(mixed, made)
    if not made.flasks:
        raise UsageFault("nothing of this is poured: what is cut or bought needs no pour card.")
    printing.write(pour_card(costing, made, habit, mixed, size), targets, force)
    printing.say(costing)
    screen.advise(made.notes)
