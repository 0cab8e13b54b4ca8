"""`troytag pour`: what to make for what is wanted, how it fills flasks and kiln, and what to weigh."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import AsOf, Csv, Folder, Json, chosen, day, number

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pricing.costing import Costing
    from pricing.pouring.figures import Plan
    from pricing.pouring.wants import Want

Wanted = Annotated[
    list[str] | None,
    typer.Option(
        "--want",
        metavar="SKU:ALLOY[:SIZE]=Q",
        help="So many good ones, as thimble:sterling=12; may be repeated.",
        show_default=False,
    ),
]
WantsFile = Annotated[
    Path | None,
    typer.Option("--wants", metavar="FILE", help="A CSV: sku, alloy, size, quantity.", show_default=False),
]
OrdersFile = Annotated[
    Path | None,
    typer.Option(
        "--for-list",
        metavar="FILE",
        help="A list of orders: the same, and order, for, stone, deposit, due, note.",
        show_default=False,
    ),
]
Sure = Annotated[
    str | None,
    typer.Option(
        metavar="PERCENT", help="How sure each is to have enough good ones. [default: 90]", show_default=False
    ),
]
Mean = Annotated[bool, typer.Option("--mean", help="Make so many as give enough on the mean, and no more.")]


def pour(
    folder: Folder,
    want: Wanted = None,
    wants: WantsFile = None,
    for_list: OrdersFile = None,
    sure: Sure = None,
    mean: Mean = False,
    mix: Annotated[
        list[str] | None,
        typer.Option(metavar="ALLOY", help="Tell its fresh metal by element, to mix it.", show_default=False),
    ] = None,
    tree: Annotated[
        list[str] | None,
        typer.Option(
            metavar="ALLOY[:FLASK]=GRAMS", help="Metal for a tree weighed in wax or resin.", show_default=False
        ),
    ] = None,
    wax_density: Annotated[str, typer.Option(metavar="G/CM3", help="Of the wax or resin of such a tree.")] = "1.0",
    bring: Annotated[
        list[str] | None,
        typer.Option(metavar="OLD:NEW=GRAMS", help="What brings so much of an alloy to another.", show_default=False),
    ] = None,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Plan a pour: what to make, how it fills flasks and kiln, what to weigh."""
    from pricing.cli.screens import pour as screens
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.pouring.records import flat_records, plan_record
    from pricing.pouring.told import all_poured
    from pricing.shown import shown_of

    if json and csv:
        raise UsageFault("--json and --csv: say which of the two.")
    share, asked = share_of(sure, mean), wanted(want, wants, for_list)
    density = number(wax_density, "--wax-density") or 0.0
    costing = cost(folder, asked_for(day(as_of)))
    stated = costing.folder.stated
    mixed = chosen("alloy", mix, stated.alloys) if mix else []
    weighed = screens.weighed_trees(costing, tree or (), density)
    brought = screens.brought_alloys(costing, bring or ())
    if not asked:
        if not weighed and not brought:
            raise UsageFault("nothing is wanted: say what by --want SKU:ALLOY=QUANTITY, --wants or --for-list.")
        screens.show_beside(shown_of(stated), weighed, brought)
        return
    made = planned(costing, asked, share)
    all_poured(mixed, made)
    if json:
        document = {"as_of": costing.asked.as_of.isoformat(), "currency": stated.workshop.currency}
        warnings = [warning.headline() for warning in costing.warnings]
        screen.print_json({**document, "warnings": warnings, **plan_record(made)})
        return
    if csv:
        screen.print_csv(flat_records(made))
        return
    screens.show(costing, made, mixed)
    screens.show_beside(shown_of(stated), weighed, brought)
    screen.advise([*(warning.headline() for warning in costing.warnings), *made.notes])


def planned(costing: Costing, asked: Sequence[Want], share: float | None) -> Plan:
    """The plan of what is wanted, out of the drawer. Raises UsageFault, with the option that helps, for too many."""
    from pricing.drawer.on_hand import on_hand
    from pricing.errors import UsageFault
    from pricing.pouring.chances import TooMany
    from pricing.pouring.plan import plan

    try:
        return plan(costing, asked, share, on_hand(costing.folder.root, costing.asked.as_of) or None)
    except TooMany as told:
        raise UsageFault(f"{told} By the mean alone: --mean.") from None


def share_of(sure: str | None, mean: bool) -> float | None:
    """How sure, as a fraction; None for the mean. Raises UsageFault for what is no chance."""
    from pricing.errors import UsageFault
    from pricing.pouring.plan import SURE

    if mean and sure is not None:
        raise UsageFault("--mean and --sure: say which of the two.")
    if mean:
        return None
    percent = number(sure, "--sure")
    if percent is None:
        return SURE
    if not 50 <= percent <= 99.9:
        raise UsageFault(f"--sure {percent:g}: write a percentage from 50 to 99.9.")
    return percent / 100


def wanted(want: list[str] | None, wants: Path | None, orders: Path | None) -> list[Want]:
    """All that is wanted, from every place where something is said. Raises UsageFault or Faults."""
    from pricing.pouring.wants import orders_of_file, want_of, wants_of_file

    found = [want_of(text) for text in want or ()]
    found += wants_of_file(wants) if wants else []
    return found + ([order.want for order in orders_of_file(orders)] if orders else [])
