"""`troytag stock FOLDER`: the metal drawer: what lies in it, what was paid for it, what it is worth today."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.options import (
    Asked,
    AsOf,
    Csv,
    Edition,
    FigureLast,
    Folder,
    FolderFirst,
    Json,
    Skus,
    chosen,
    day,
    there,
)

app = typer.Typer(
    cls=FolderFirst, rich_markup_mode=None, subcommand_metavar="[show | add … | list | margins | strike N]"
)

OverGap = Annotated[bool, typer.Option("--over-gap", help="Go on although an entry is lost for good.")]


@app.callback(invoke_without_command=True)
def stock(context: typer.Context, folder: Folder) -> None:
    """Show the metal drawer: grams, what was paid, what it is worth today.

    Without a further word, show it.
    """
    context.obj = there(folder)
    if context.invoked_subcommand is None:
        show(context)


@app.command("show")
def show(context: typer.Context, as_of: AsOf = None, json: Json = False, csv: Csv = False) -> None:
    """Show what lies in the drawer, by alloy and form.

    Cost is the moving average of what was paid. Today's worth: fresh metal at what it costs to buy, returned metal
    and lemel at what the refiner pays.
    """
    from pricing.cli.screens import screen
    from pricing.cli.screens import stock as screens
    from pricing.costing import asked_for, cost_if_priced
    from pricing.drawer import records
    from pricing.drawer.on_hand import read_drawer
    from pricing.drawer.worth import lying
    from pricing.shown import shown_of

    folder: Path = context.obj
    asked = asked_for(day(as_of))
    read, costing, lacking = cost_if_priced(folder, asked)
    screen.tell(lacking)
    drawer = read_drawer(folder, asked.as_of)
    found = lying(drawer, costing.computed if costing else None)
    if json:
        screen.print_json(records.records(found, read.stated.workshop.currency, asked.as_of))
    elif csv:
        screen.print_csv([records.record(each) for each in found])
    elif found:
        screens.drawer(found, shown_of(read.stated), asked.as_of)
    else:
        print(f"The drawer is empty. Weigh metal in: {screens.EXAMPLE.format(folder=folder)}")
    if not (json or csv) and (ahead := screens.ahead(read_drawer(folder), drawer)):
        screen.advise([ahead])


@app.command("add", cls=FigureLast)
def add(
    context: typer.Context,
    what: Annotated[str, typer.Argument(help="bought, used, returned, swept, sold, counted.", show_default=False)],
    alloy: Annotated[str, typer.Argument(help="An alloy of alloys.toml.", show_default=False)],
    grams: Annotated[str, typer.Argument(help="Weighed, in grams or as 12.5dwt.", show_default=False)],
    paid: Annotated[
        str, typer.Option(help="What was paid in total; of sold metal, what it brought.", show_default=False)
    ] = "",
    form: Annotated[str, typer.Option(help="fresh, returned or lemel.", show_default="by what happened")] = "",
    currency: Annotated[str, typer.Option(help="Of the money.", show_default="the workshop's")] = "",
    date: Annotated[str | None, typer.Option(metavar="DATE", help="The day.", show_default="today")] = None,
    note: Annotated[str, typer.Option(help="From whom, for whom, why.", show_default=False)] = "",
    corrects: Annotated[str, typer.Option(metavar="N", help="Take the place of entry N.", show_default=False)] = "",
    yes: Annotated[bool, typer.Option("--yes", help="Also if it looks like a slip.")] = False,
    over_gap: OverGap = False,
) -> None:
    """Weigh metal in or out, or count what lies there.

    bought, returned and swept put metal in, used and sold take it out; counted sets what lies there and books the
    difference.
    """
    from datetime import date as Date

    from pricing.cli.screens import screen
    from pricing.cli.screens import stock as screens
    from pricing.costing import asked_for, cost_if_priced
    from pricing.drawer.adding import doubts, write_entry
    from pricing.drawer.on_hand import read_drawer
    from pricing.drawer.read import read_every_entry
    from pricing.drawer.typed import typed_entry
    from pricing.errors import UsageFault
    from pricing.shown import shown_of

    folder: Path = context.obj
    read, costing, _ = cost_if_priced(folder, asked_for(None))
    texts = {"what": what, "alloy": alloy, "form": form, "grams": grams, "money": paid, "currency": currency}
    texts |= {"day": (day(date) or Date.today()).isoformat(), "note": note, "corrects": corrects}
    entry = screens.understood(lambda: typed_entry(texts, read.stated, costing.computed if costing else None))
    written = () if over_gap else read_every_entry(folder)
    if not yes and (slips := list(doubts(written, entry, Date.today()))):
        raise UsageFault("\n".join(f"{slip}. If it is right, add --yes." for slip in slips))
    kept = write_entry(folder, entry, over_gap)
    drawer = None if over_gap else read_drawer(folder, max(kept.day, Date.today()))
    screen.out().print(screens.added(kept, drawer, shown_of(read.stated), Date.today()))


@app.command("list")
def show_entries(
    context: typer.Context,
    alloy: Annotated[str | None, typer.Option(help="Only this alloy.", show_default=False)] = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """List every entry with what it did, the newest last. Corrected ones are left out."""
    from pricing.cli.screens import screen
    from pricing.cli.screens import stock as screens
    from pricing.drawer import records
    from pricing.drawer.on_hand import read_drawer
    from pricing.folder.read import read_folder
    from pricing.shown import shown_of

    folder: Path = context.obj
    if alloy is not None:
        chosen("alloy", [alloy], read_folder(folder).stated.alloys)
    moves = [move for move in read_drawer(folder).moves if alloy in (None, move.line.alloy)]
    if json:
        screen.print_json([records.move_record(move) for move in moves])
    elif csv:
        screen.print_csv([records.move_record(move) for move in moves])
    elif moves:
        screens.moves(moves, shown_of(read_folder(folder).stated))
    else:
        print(f"Nothing was weighed yet. Weigh metal in: {screens.EXAMPLE.format(folder=folder)}")


@app.command("margins")
def margins(
    context: typer.Context,
    sku: Skus = None,
    as_of: AsOf = None,
    edition: Edition = None,
    asked: Asked = False,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Set margins at what was paid for metal beside those at what it costs to replace.

    Prices stand on what metal costs to replace. Where it has risen since it was bought, more is earned on what lies in
    the drawer, as long as that lasts: the columns "paid".
    """
    from pricing.cli.options import chosen_goods, wanted_prices
    from pricing.cli.screens import screen
    from pricing.cli.screens import variance as screens
    from pricing.costing import asked_for, cost
    from pricing.drawer.on_hand import read_drawer
    from pricing.shown import shown_of
    from pricing.studies.actual.earned import at_cost_paid, margin_records
    from pricing.studies.prices_out import prices_out

    folder: Path = context.obj
    out = prices_out(cost(folder, asked_for(day(as_of))), wanted_prices(edition, asked))
    stated = out.costing.folder.stated
    skus, drawer = set(chosen_goods(sku, out.costing.folder)), read_drawer(folder)
    rows = [
        row for row, each in enumerate(out.computed.resolved.variants)
        if each.sku in skus and drawer.of(each.alloy, "fresh").grams > 0
    ]  # fmt: skip
    records = margin_records(out.computed, at_cost_paid(out.computed, drawer), rows)
    if json:
        screen.print_json(records)
    elif csv:
        screen.print_csv(records)
    elif records:
        screens.margins(records, shown_of(stated))
    else:
        print(f"Nothing lies in the drawer of what these are made of. See: troytag stock {folder}")


@app.command("strike")
def strike(
    context: typer.Context,
    number: Annotated[int, typer.Argument(metavar="N", help="The number of the entry.", show_default=False)],
    note: Annotated[str, typer.Option(help="Why.", show_default=False)] = "",
    over_gap: OverGap = False,
) -> None:
    """Strike an entry out: it stays in its file and counts no more."""
    from datetime import date as Date

    from pricing.cli.screens.stock import understood
    from pricing.drawer.adding import write_entry
    from pricing.drawer.model import Entry
    from pricing.folder.prices.read import read_metal_prices
    from pricing.folder.typed_values import built

    currency = read_metal_prices(context.obj).workshop.currency
    said = {"day": Date.today(), "currency": currency, "note": note, "corrects": number}
    write_entry(context.obj, understood(lambda: built(Entry, said)), over_gap)
    print(f"Entry {number} is struck out.")
