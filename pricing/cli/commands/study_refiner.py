"""`troytag study FOLDER refiner`: what scrap and filings should settle at, and how short a settlement came."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import AsOf, Json, chosen, day, number

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from pricing.parcels.refining import Sent


def refiner(
    context: typer.Context,
    name: Annotated[
        list[str] | None,
        typer.Option("--refiner", help="Of refiners.toml; all of them if left out (may be repeated).",
                     show_default=False),
    ] = None,
    scrap: Annotated[
        list[str] | None,
        typer.Option(metavar="ALLOY=GRAMS", help="Clean scrap in the lot (may be repeated).", show_default=False),
    ] = None,
    lemel: Annotated[
        list[str] | None,
        typer.Option(metavar="ALLOY=GRAMS", help="Filings and dust in it (may be repeated).", show_default=False),
    ] = None,
    returned: Annotated[
        bool, typer.Option("--returned", help="Of the drawer send the clean returns too, not the lemel alone.")
    ] = False,
    paid: Annotated[
        str | None, typer.Option(metavar="AMOUNT", help="What the refiner paid for it.", show_default=False)
    ] = None,
    as_of: AsOf = None,
    json: Json = False,
) -> None:  # fmt: skip
    """What a refiner's lot should settle at, and how short it came.

    The lot is what --scrap and --lemel say, else the filings and dust that lie in the drawer.
    """
    from pricing.cli.screens import parcels as screens
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.parcels.refining import lot_in_drawer, settlement
    from pricing.shown import shown_of

    costing = cost(context.obj, asked_for(day(as_of)))
    stated = costing.folder.stated
    if not stated.refiners:
        raise UsageFault("no terms of a refiner are stated. Write them into refiners.toml.")
    names = chosen("refiner", name, stated.refiners)
    settled = number(paid, "--paid")
    if settled is not None and (not 0 <= settled < float("inf") or len(names) != 1):
        raise UsageFault("--paid: write what one refiner paid, 0 or more, and name him by --refiner.")
    sent = (*_typed(scrap, stated.alloys, False), *_typed(lemel, stated.alloys, True))
    if sent and returned:
        raise UsageFault("--returned is of what lies in the drawer: leave out --scrap and --lemel, or it.")
    sent = sent or lot_in_drawer(costing, returned)
    if not sent:
        raise UsageFault("nothing for a refiner lies in the drawer. State it: --lemel sterling=120 --scrap gold-9ct=8.")
    found = [settlement(costing, each, sent) for each in names]
    shown = shown_of(stated)
    if json:
        screen.print_json(screens.lot_records(found, settled))
    else:
        lot = ", ".join(f"{shown.mass(s.grams)} of {s.alloy}{' lemel' if s.is_lemel else ''}" for s in sent)
        screen.out().print(f"{stated.workshop.name}, {costing.asked.as_of}: a lot of {lot}.")
        for each in found:
            screen.out().print()
            screens.show_lot(costing, each, settled)
    screen.advise([note for each in found for note in screens.lot_notes(each, shown)])


def _typed(texts: Sequence[str] | None, alloys: Iterable[str], is_lemel: bool) -> tuple[Sent, ...]:
    from pricing.errors import UsageFault
    from pricing.parcels.refining import Sent

    found = []
    option = "--lemel" if is_lemel else "--scrap"
    for text in texts or ():
        alloy, mark, amount = text.partition("=")
        grams = number(amount, f"{option} {text}:") if mark else None
        if grams is None or not 0 < grams < 1e9:
            raise UsageFault(f"{option} {text}: write an alloy and its grams, as sterling=120.")
        chosen("alloy", [alloy], alloys)
        found.append(Sent(alloy, grams, is_lemel))
    return tuple(found)
