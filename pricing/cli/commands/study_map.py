"""`troytag study FOLDER map`: what the policy asks and what today's price earns, against any two figures."""

from __future__ import annotations

from typing import Annotated

import typer

from pricing.cli.options import Asked, AsOf, Csv, Json, day


def map_(
    context: typer.Context,
    sku: Annotated[str, typer.Option("--sku", help="The product, or one size of it.", show_default=False)],
    alloy: Annotated[str | None, typer.Option("--alloy", help="Its alloy; the first.", show_default=False)] = None,
    channel: Annotated[str | None, typer.Option("--channel", help="The first if left out.", show_default=False)] = None,
    across: Annotated[
        str | None,
        typer.Option(
            metavar="FIGURE=A..B",
            help="A figure as doubts.toml names it, or metal_prices.Ag; the leading metal's price if left out.",
            show_default=False,
        ),
    ] = None,
    down: Annotated[
        str | None,
        typer.Option(metavar="FIGURE=A..B", help="Another; the first rate of pay if left out.", show_default=False),
    ] = None,
    steps: Annotated[int, typer.Option(help="Values along each side.")] = 5,
    asked: Asked = False,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """A price and a margin against any two figures."""
    from pricing.cli.options import chosen
    from pricing.cli.screens import screen
    from pricing.costing import asked_for
    from pricing.errors import UsageFault
    from pricing.folder.read import read_folder
    from pricing.shown import metal_of, percent, shown_of
    from pricing.studies.maps import MOST_STEPS, map_records, price_map, side

    if not 2 <= steps <= MOST_STEPS:
        raise UsageFault(f"--steps {steps}: write a number from 2 to {MOST_STEPS}.")
    folder, on = read_folder(context.obj), asked_for(day(as_of))
    chosen("product", [sku], folder.goods)
    chosen("alloy", [alloy] if alloy else None, folder.stated.alloys)
    chosen("channel", [channel] if channel else None, folder.stated.channels)
    sides = [side(each, steps) if each else None for each in (across, down)]
    found = price_map(folder, (sku, alloy, channel), sides[0], sides[1], steps, on, "asked" if asked else None)
    if json:
        screen.print_json(
            {
                "as_of": on.as_of.isoformat(),
                "currency": folder.stated.workshop.currency,
                "held": found.held,
                "rows": list(map_records(found)),
            }
        )
        return
    if csv:
        screen.print_csv(list(map_records(found)))
        return
    console, shown = screen.out(), shown_of(folder.stated)
    resolved = found.out.computed.resolved
    console.print(f"{folder.stated.workshop.name}, {shown.currency_in(found.channel)}, {metal_of(resolved)}")
    console.print(f"{sku} in {found.alloy}, {found.channel}. Down: {found.down.path}. Across: {found.across.path}.")
    heads = ("", *[f"{value:.4g}" for value in found.across.values])
    told = (
        (f"Margin at {shown.price(found.channel, found.held)}", found.margins, percent),
        ("Price that the policy asks", found.prices, lambda price: shown.price(found.channel, price)),
    )
    for title, lines, written in told:
        rows = [(f"{value:.4g}", *map(written, line)) for value, line in zip(found.down.values, lines, strict=True)]
        console.print(f"\n{title}\n")
        console.print(screen.table(heads, rows))
    screen.tell(found.out.costing.warnings)
