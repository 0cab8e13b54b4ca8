"""`troytag log FOLDER`: the batch log: what was poured, what came out of it, what is missing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.commands import log_learn
from pricing.cli.commands.pour import OrdersFile, Wanted, WantsFile, wanted
from pricing.cli.options import Csv, Folder, FolderFirst, Json, chosen, day, there

app = typer.Typer(
    cls=FolderFirst,
    rich_markup_mode=None,
    subcommand_metavar="[list | add … | show N | variance | learn | blank | strike N]",
)

OverGap = Annotated[bool, typer.Option("--over-gap", help="Go on although a batch is lost for good.")]
From = Annotated[
    str | None, typer.Option("--from", metavar="DATE", help="The first day.", show_default="the first batch")
]
To = Annotated[str | None, typer.Option("--to", metavar="DATE", help="The last day.", show_default="today")]


@app.callback(invoke_without_command=True)
def log(context: typer.Context, folder: Folder) -> None:
    """Write down what came out of a pour, and see what is missing.

    Without a further word, list the batches.
    """
    context.obj = there(folder)
    if context.invoked_subcommand is None:
        list_batches(context)


@app.command("list")
def list_batches(
    context: typer.Context,
    alloy: Annotated[str | None, typer.Option(help="Only this alloy.", show_default=False)] = None,
    since: From = None,
    until: To = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """List the batches, each with its mass balance.

    charge = castings + button and sprues back + rejects + missing. What is missing is told in grams and, at the price
    of its day, in money, beside the melt loss that was expected.
    """
    from pricing.batches import records
    from pricing.batches.read import between, read_log
    from pricing.cli.screens import log as screens
    from pricing.cli.screens import screen
    from pricing.folder.read import read_folder
    from pricing.shown import shown_of

    folder: Path = context.obj
    batches = between(read_log(folder), day(since), day(until))
    if alloy is not None:
        chosen("alloy", [alloy], read_folder(folder).stated.alloys)
        batches = tuple(batch for batch in batches if alloy in batch.alloys)
    if json:
        screen.print_json([records.record(batch) for batch in batches])
    elif csv:
        screen.print_csv([line for batch in batches for line in records.flat(batch, alloy)])
    elif batches:
        screens.show_list(batches, alloy, shown_of(read_folder(folder).stated))
    else:
        print(f"No batch is written down. Write one: troytag log {folder} add, or fill in: troytag log {folder} blank")


@app.command("show")
def show(
    context: typer.Context,
    number: Annotated[int, typer.Argument(metavar="N", help="The number of the batch.", show_default=False)],
    json: Json = False,
) -> None:
    """Show one batch: its flasks, its castings and what became of them, its minutes."""
    from pricing.batches import records
    from pricing.batches.read import read_every_batch
    from pricing.cli.screens import log as screens
    from pricing.cli.screens import screen
    from pricing.errors import UsageFault, did_you_mean
    from pricing.folder.read import read_folder
    from pricing.shown import shown_of

    known = {batch.number: batch for batch in read_every_batch(context.obj)}
    if number not in known:
        raise UsageFault(f"there is no batch {number}. {did_you_mean(str(number), map(str, known))}")
    if json:
        screen.print_json(records.record(known[number]))
    else:
        screens.one(known[number], shown_of(read_folder(context.obj).stated))


@app.command("add")
def add(
    context: typer.Context,
    card: Annotated[
        Path | None, typer.Argument(help="A filled card: a TOML file, or a CSV table.", show_default=False)
    ] = None,
    alloy: Annotated[str, typer.Option(help="Without a file: the alloy of the one flask.", show_default=False)] = "",
    fresh: Annotated[str, typer.Option(metavar="G", help="Fresh metal weighed in.", show_default=False)] = "",
    returned: Annotated[str, typer.Option(metavar="G", help="Returned metal weighed in.", show_default=False)] = "",
    back: Annotated[str, typer.Option(metavar="G", help="Button and sprues back.", show_default=False)] = "",
    castings: Annotated[str, typer.Option(metavar="G", help="Good castings, as cast.", show_default=False)] = "",
    rejected: Annotated[str, typer.Option(metavar="G", help="Spoiled castings.", show_default=False)] = "",
    lemel: Annotated[str, typer.Option(metavar="G", help="Filings swept up.", show_default=False)] = "",
    piece: Annotated[
        list[str] | None, typer.Option(metavar="SKU[:SIZE]=N", help="Castings begun with.", show_default=False)
    ] = None,
    reject: Annotated[
        list[str] | None, typer.Option(metavar="SKU[:SIZE]:STEP=N", help="Castings spoiled.", show_default=False)
    ] = None,
    minutes: Annotated[
        list[str] | None, typer.Option(metavar="STEP=N", help="Minutes of a step.", show_default=False)
    ] = None,
    date: Annotated[str | None, typer.Option(metavar="DATE", help="The day of the pour.", show_default="today")] = None,
    note: Annotated[str, typer.Option(help="What else there is to say.", show_default=False)] = "",
    corrects: Annotated[
        int | None, typer.Option(metavar="N", help="Take the place of batch N.", show_default=False)
    ] = None,
    no_stock: Annotated[bool, typer.Option("--no-stock", help="Take nothing from the metal drawer.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Also if it looks like a slip.")] = False,
    over_gap: OverGap = False,
) -> None:
    """Write a filled card down: from a file, from options, or asked on a terminal.

    What was weighed is in grams, or has its unit: 12.5dwt, 3ozt.

    Where a metal drawer is kept, the charge is taken from it, and button, sprues and spoiled castings go back.
    """
    from pricing.cli.commands import log_add
    from pricing.cli.screens import screen

    typed = log_add.Typed(alloy, fresh, returned, back, castings, rejected, lemel, piece or [], reject or [],
                          minutes or [], date, note)  # fmt: skip
    said = log_add.add(context.obj, card, typed, corrects, not no_stock, yes, over_gap)
    screen.out().print(said)


app.command("learn")(log_learn.learn)


@app.command("variance")
def variance(
    context: typer.Context,
    since: From = None,
    until: To = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Set what the batches really cost beside what they should have.

    The difference is split into price, usage, loss and time, which add up to it; below it the margins really earned.
    Standard prices are those of the last day. Above 0 more was spent than the standard.
    """
    from pricing.batches.read import between, read_log
    from pricing.cli.screens import screen
    from pricing.cli.screens import variance as screens
    from pricing.costing import asked_for, cost
    from pricing.drawer.on_hand import read_drawer
    from pricing.shown import shown_of
    from pricing.studies.actual.variance import variances
    from pricing.studies.prices_out import prices_out

    folder: Path = context.obj
    batches = between(read_log(folder), day(since), day(until))
    if not batches:
        print(f"No batch of that time is written down. Write one: troytag log {folder} add")
        return
    out = prices_out(cost(folder, asked_for(day(until))))
    found = variances(batches, read_drawer(folder), out.computed)
    if json:
        screen.print_json(screens.record(found, out.computed, batches))
    elif csv:
        screen.print_csv(screens.flat(found))
    else:
        screens.show(found, out.computed, batches, shown_of(out.costing.folder.stated))


@app.command("blank")
def blank(context: typer.Context, want: Wanted = None, wants: WantsFile = None, for_list: OrdersFile = None) -> None:
    """Print a card to fill in, as log blank > card.toml; with --want for each flask that is planned.

    When it is filled in: log add card.toml.
    """
    from pricing.cli.commands import log_add

    asked = wanted(want, wants, for_list) if want or wants or for_list else []
    print(log_add.blank(context.obj, asked), end="")


@app.command("strike")
def strike(
    context: typer.Context,
    number: Annotated[int, typer.Argument(metavar="N", help="The number of the batch.", show_default=False)],
    note: Annotated[str, typer.Option(help="Why.", show_default=False)] = "",
    over_gap: OverGap = False,
) -> None:
    """Strike a batch out: it stays in its file and counts no more. What it took from the drawer goes back."""
    from datetime import date as Date

    from pricing.batches.adding import write_batch
    from pricing.batches.model import Card
    from pricing.cli.screens.stock import understood
    from pricing.folder.prices.read import read_metal_prices
    from pricing.folder.typed_values import built

    folder: Path = context.obj
    card = understood(lambda: built(Card, {"day": Date.today(), "note": note, "corrects": number}))
    currency = read_metal_prices(folder).workshop.currency
    _, entry = write_batch(folder, card, currency, {}, draws=False, over_gap=over_gap)
    print(f"Batch {number} is struck out{'' if entry is None else ', and its metal lies in the drawer again'}.")
