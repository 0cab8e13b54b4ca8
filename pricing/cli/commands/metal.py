"""`troytag metal FOLDER add / list / pull`: the price history."""

from __future__ import annotations

from typing import Annotated

import typer

from pricing.cli.options import AsOf, Csv, FigureLast, Folder, FolderFirst, Json, day
from pricing.errors import UsageFault

app = typer.Typer(cls=FolderFirst, no_args_is_help=True, rich_markup_mode=None, subcommand_metavar="add|list|pull …")


@app.callback(invoke_without_command=True)
def metal(context: typer.Context, folder: Folder) -> None:
    """Type a metal price, look at the history, or pull prices."""
    context.obj = folder
    if context.invoked_subcommand is None:
        print(context.get_help())


@app.command("add", cls=FigureLast)
def add(
    context: typer.Context,
    metal: Annotated[str, typer.Argument(help="Ag, Au, a supplier's grain, or a currency.", show_default=False)],
    price: Annotated[str, typer.Argument(help="The number, with a point.", show_default=False)],
    per: Annotated[
        str | None, typer.Option(help="ozt, dwt, g, kg, lb, t; unit for a currency.", show_default="as last time")
    ] = None,
    currency: Annotated[str | None, typer.Option(help="Its ISO 4217 code.", show_default="as last time")] = None,
    date: Annotated[
        str | None, typer.Option(metavar="DATE", help="The day of the quote.", show_default="today")
    ] = None,
    source: Annotated[str, typer.Option(help="Where you read it.", show_default=False)] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Also if the price or the name looks like a slip.")] = False,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would move, and write nothing.")] = False,
) -> None:
    """Type a price into the history."""
    from datetime import date as Date

    from pricing.cli.screens import metal as metal_screens
    from pricing.cli.screens import screen
    from pricing.folder.prices.append import append_quote, typed_quote
    from pricing.folder.prices.in_force import exchange_problem
    from pricing.folder.prices.moves import last_before
    from pricing.folder.prices.read import read_metal_prices

    prices = read_metal_prices(context.obj)
    screen.tell(prices.notes)
    per, currency = metal_screens.as_last_time(prices, metal, per, currency)
    on = day(date) or Date.today()
    quote = metal_screens.understood(
        typed_quote,
        {"date": on.isoformat(), "metal": metal, "price": price, "per": per, "currency": currency, "source": source},
    )
    if problem := exchange_problem(quote, prices.workshop.currency):
        raise UsageFault(f"{problem[0]}: {problem[1]}. {problem[2]}")
    if not yes:
        metal_screens.ask_about_slips(prices, quote, price.strip())
    if dry_run:
        from pricing.costing import asked_for, cost
        from pricing.editions.chain import newest
        from pricing.model.workshop import Show
        from pricing.shown import shown_of
        from pricing.studies.repricing.would_move import would_move

        costing = cost(context.obj, asked_for(max(on, Date.today())))
        found = would_move(costing, newest(context.obj), quote)
        metal_screens.would_move(found, shown_of(costing.folder.stated, Show()))
        return
    before = last_before(prices.quotes, quote)
    append_quote(context.obj, quote, price.strip())
    print(metal_screens.added(prices, quote, price.strip(), before))


@app.command("list")
def show(
    context: typer.Context,
    metal: Annotated[str | None, typer.Argument(help="Only this one, with a plot.", show_default=False)] = None,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Show what is in force, how old, and how it moved.

    Changes are against the price in force a week, a month and a year before the day.
    """
    from datetime import date as Date

    from pricing.cli.screens import metal as metal_screens
    from pricing.cli.screens import screen
    from pricing.errors import Faults, did_you_mean
    from pricing.folder.prices.read import read_metal_prices
    from pricing.metal.changes import standings
    from pricing.model.metals import symbol_meant

    prices = read_metal_prices(context.obj)
    screen.tell(prices.notes)
    if prices.faults:
        raise Faults(prices.faults)
    known = sorted({quote.metal for quote in prices.quotes})
    if metal is not None and metal not in known:
        meant = symbol_meant(metal)
        mend = f'Did you mean "{meant}"?' if meant in known else did_you_mean(metal, known)
        raise UsageFault(f'there is no quote of "{metal}". {mend}')
    found = standings(prices.quotes, day(as_of) or Date.today(), prices.workshop.currency)
    found = [standing for standing in found if metal in (None, standing.quote.metal)]
    if not found:
        raise UsageFault("there is no quote on or before that day. Add one: troytag metal FOLDER add …")
    if json:
        screen.print_json([metal_screens.record(standing, prices, bool(metal)) for standing in found])
    elif csv:
        screen.print_csv([metal_screens.record(standing, prices, False) for standing in found])
    elif metal is not None:
        for standing in found:
            metal_screens.one(standing, prices)
    else:
        metal_screens.all_of_them(found, prices)
    metal_screens.tell_ages(found, prices)


@app.command("pull")
def pull(
    context: typer.Context,
    names: Annotated[list[str] | None, typer.Argument(metavar="[SOURCE]…", help="Only these sources.")] = None,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Show what would be added, and write nothing.")] = False,
    json: Json = False,
) -> None:
    """Pull prices from the sources in workshop.toml.

    A source is refused where its price moved by more than its band, 20 % where it states none.
    """
    from datetime import date as Date

    from pricing.cli.options import chosen
    from pricing.cli.screens import metal as metal_screens
    from pricing.cli.screens import screen
    from pricing.folder.prices.append import append_quotes
    from pricing.folder.prices.read import read_metal_prices
    from pricing.metal.pull import pull as pull_from

    prices = read_metal_prices(context.obj)
    screen.tell(prices.notes)
    if not prices.workshop.sources:
        raise UsageFault(metal_screens.NO_SOURCES)
    wanted = chosen("source", names, prices.workshop.sources)
    with screen.err().status(f"asking {len(wanted)} {'source' if len(wanted) == 1 else 'sources'} …"):
        found = pull_from(prices, wanted, Date.today())
    new = [(each.quote, each.number) for each in found if each.quote is not None and not each.known]
    if new and not dry_run:
        append_quotes(context.obj, new)
    if json:
        screen.print_json([metal_screens.pulled_record(each, dry_run) for each in found])
    else:
        metal_screens.pulled(found, dry_run)
    if any(each.fault for each in found):
        raise SystemExit(1)
