"""`troytag study FOLDER quantity`: what a run of each size costs, the best sizes, and what may come off for more."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import Asked, AsOf, Csv, Json, day

if TYPE_CHECKING:
    from pricing.shown import Shown
    from pricing.studies.lots import Lots

#: Rows of the staircase as it is drawn, and places that are left free beside it.
PLOT_ROWS, BESIDE = 6, 4


def quantity(
    context: typer.Context,
    sku: Annotated[str, typer.Option("--sku", help="The product.", show_default=False)],
    alloy: Annotated[
        str | None, typer.Option("--alloy", help="Its alloy; the first if left out.", show_default=False)
    ] = None,
    channel: Annotated[
        str | None, typer.Option("--channel", help="Where it is sold; the first if left out.", show_default=False)
    ] = None,
    up_to: Annotated[int, typer.Option("--up-to", metavar="N", help="The largest lot.")] = 50,
    charge_design: Annotated[bool, typer.Option("--charge-design", help="Charge the whole design to the run.")] = False,
    plot: Annotated[
        Path | None,
        typer.Option(metavar="NAME", help="Write the staircase as NAME.svg and NAME.png.", show_default=False),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite pictures that stand already.")] = False,
    asked: Asked = False,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """What a lot of each size costs, the best sizes, a ladder of discounts."""
    from pricing.cli.options import chosen
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.shown import metal_of, shown_of
    from pricing.studies.lots import lot_records, lots
    from pricing.studies.prices_out import prices_out

    out = prices_out(cost(context.obj, asked_for(day(as_of))), "asked" if asked else None)
    stated, variants = out.costing.folder.stated, out.computed.resolved.variants
    chosen("product", [sku], dict.fromkeys(each.sku for each in variants))
    own = [each for each in variants if each.sku == sku]
    (picked,) = chosen("alloy", [alloy or own[0].alloy], [each.alloy for each in own])
    sold = [price.channel for each in own if each.alloy == picked for price in each.prices if price.sold]
    if not sold:
        raise UsageFault(f"{sku} in {picked} is sold nowhere. State a channel for it in its file.")
    (place,) = chosen("channel", [channel or sold[0]], stated.channels)
    found = lots(out, sku, picked, place, up_to, charge_design)
    basis = f"edition {out.edition.number} of {out.edition.as_of}" if out.edition else "what the policy asks"
    if plot:
        _write_pictures(plot, found, stated.workshop.currency, force)
    if json:
        screen.print_json(
            {
                "as_of": out.costing.asked.as_of.isoformat(),
                "currency": stated.workshop.currency,
                "prices": basis,
                "price_in_force": found.price_in_force,
                "margin": found.margin,
                "best": [lot.quantity for lot in found.best],
                "ladder": [{"quantity": rung.quantity, "discount": rung.discount} for rung in found.ladder],
                "rows": lot_records(found),
            }
        )
        return
    if csv:
        screen.print_csv(lot_records(found))
        return
    screen.out().print(f"{stated.workshop.name}, {stated.workshop.currency}, {metal_of(out.computed.resolved)}")
    screen.out().print(f"Prices: {basis}")
    _show(found, shown_of(stated))
    screen.tell(out.costing.warnings)


def _show(found: Lots, shown: Shown) -> None:
    from pricing.cli.screens import screen
    from pricing.shown import percent
    from pricing.studies.lots import loads_in_words

    console, price = screen.out(), shown.price(found.channel, found.price_in_force)
    earns = percent(found.margin, 1)
    console.print(f"\n{found.sku} in {found.alloy}, {shown.channel(found.channel)}: {price}, which earns {earns}.")
    _draw(found, shown)
    wanted = {1, len(found.lots)} | {lot.quantity for lot in found.best} | {rung.quantity for rung in found.ladder}
    lines = [
        (
            f"{lot.quantity}{' best' if lot.is_best else ''}",
            lot.flasks or "",
            shown.money(lot.unit_cost),
            shown.price(found.channel, lot.price),
            shown.price(found.channel, lot.keeping),
            percent(-lot.discount, 1, signed=True),
            loads_in_words(lot),
        )
        for lot in found.lots
        if lot.quantity in wanted
    ]
    console.print(screen.table(("lot", "flasks", "costs", "asked", "to keep it", "off or on", "loads"), lines))
    if not found.ladder:
        console.print(f"\nNo lot up to {len(found.lots)} keeps {earns} at the price in force.")
        return
    console.print(f"\nEvery lot up to {len(found.lots)} keeps {earns}")
    for rung in found.ladder:
        off = f"{percent(rung.discount)} off" if rung.discount else "at the price in force"
        console.print(f"  from {rung.quantity}: {off}")


def _draw(found: Lots, shown: Shown) -> None:
    """The staircase of unit costs, one place a lot as far as the screen is wide."""
    from pricing.cli.screens import plots, screen

    console = screen.out()
    every = -(-len(found.lots) // max(1, console.width - BESIDE))
    costs = [lot.unit_cost for lot in found.lots[::every]]
    console.print(f"\nCost of one in a lot of 1 to {len(found.lots)}: {shown.money(max(costs))} at the top, "
                  f"{shown.money(min(costs))} at the foot\n")  # fmt: skip
    for line in plots.columns(costs, PLOT_ROWS):
        console.print(f"  {line}")
    console.print()


def _write_pictures(plot: Path, found: Lots, currency: str, force: bool) -> None:
    from pricing.cli.screens import screen
    from pricing.several_files import place_all
    from pricing.studies.lots_plot import staircase_pictures

    pictures = staircase_pictures(found, currency)
    named = {plot.with_name(f"{plot.name}.{form}"): content for form, content in pictures.items()}
    screen.tell(place_all(named, force, "export"))
