"""`troytag study FOLDER assay`: what goes to the assay office, and how many to hold back for a full parcel."""

from __future__ import annotations

from typing import Annotated

import typer

from pricing.cli.options import AsOf, Json, day


def assay(
    context: typer.Context,
    have: Annotated[
        list[str] | None,
        typer.Option("--have", metavar="SKU:ALLOY=COUNT", help="Finished sets that lie ready (may be repeated).",
                     show_default=False),
    ] = None,
    as_of: AsOf = None,
    json: Json = False,
) -> None:  # fmt: skip
    """What must be marked, and how many to hold back to fill a parcel.

    By the steps of the processes that are done from a mass upward (from_g), held against published limits.
    """
    from pricing.cli.screens import parcels as screens
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.parcels.assay import lying_of, marked, parcels

    lying = lying_of(have or ())
    costing = cost(context.obj, asked_for(day(as_of)))
    found, kinds = marked(costing), parcels(costing, lying)
    if json:
        screen.print_json(screens.assay_records(found, kinds))
    elif not found:
        print("Nothing here is of a metal that is hallmarked.")
        return
    else:
        screens.show_assay(costing, found, kinds)
    notes = screens.assay_notes(found)
    screen.advise(notes, len(notes))
