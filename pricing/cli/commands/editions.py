"""`troytag editions FOLDER`: the published editions of the prices: list, show, compare two, the one of a day."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pricing.cli.options import AsOf, Csv, Folder, FolderFirst, Json, Skus, day, there

if TYPE_CHECKING:
    from pricing.editions.chain import Edition

app = typer.Typer(
    cls=FolderFirst,
    rich_markup_mode=None,
    subcommand_metavar="[list | show N | compare N M | on DATE | withdraw]",
)

Alloys = Annotated[
    list[str] | None, typer.Option("--alloy", help="Only this alloy (may be repeated).", show_default=False)
]
Work = Annotated[bool, typer.Option("--show-work", help="Print symbols, numbers, result of every figure.")]
Of = Annotated[
    list[str] | None,
    typer.Option("--of", metavar="QUANTITY", help="With --show-work: only what leads to this.", show_default=False),
]


@app.callback(invoke_without_command=True)
def editions(context: typer.Context, folder: Folder) -> None:
    """Show the published editions of the prices.

    Without a further word, list them. What is wrong with any of them is told.
    """
    from pricing.cli.screens import screen
    from pricing.editions.chain import look_over
    from pricing.several_files import finish

    screen.tell(finish(there(folder)))
    chain = look_over(folder)
    screen.tell([*chain.faults, *(each.fault for each in chain.notes)])
    context.obj = folder
    if context.invoked_subcommand is None:
        list_editions(context)


@app.command("list")
def list_editions(context: typer.Context, json: Json = False, csv: Csv = False) -> None:
    """List all editions: their day, what changed, what metal cost."""
    from pricing.cli.screens import editions as editions_screens
    from pricing.cli.screens import screen
    from pricing.editions.chain import look_over, read
    from pricing.editions.told import head
    from pricing.errors import Faults

    folder: Path = context.obj
    chain, records = look_over(folder), []
    spoilt: list[Any] = []
    for link in chain.links:
        try:
            records.append(head(read(folder, link.number)))
        except Faults as wrong:  # its hash is right, and it makes no sense
            spoilt += wrong.faults
    if json:
        screen.print_json({"editions": records})
    elif csv:
        screen.print_csv([{name: value for name, value in record.items() if name != "quotes"} for record in records])
    elif records:
        editions_screens.show_list(records)
    elif not (spoilt or chain.wrong):
        print(f"No edition is published yet. To publish the first: troytag reprice {folder} --publish")
    screen.tell(spoilt)
    if spoilt or chain.wrong:
        raise SystemExit(1)


@app.command("show")
def show(
    context: typer.Context,
    number: Annotated[int | None, typer.Argument(metavar="[N]", help="Its number; the newest if left out.")] = None,
    sku: Skus = None,
    alloy: Alloys = None,
    show_work: Work = False,
    of: Of = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Show the prices of an edition and what they come from, as they were published."""
    from pricing.editions.chain import newest, read
    from pricing.errors import UsageFault

    folder: Path = context.obj
    edition = newest(folder) if number is None else read(folder, number)
    if edition is None:
        raise UsageFault(f"no edition is published yet. To publish the first: troytag reprice {folder} --publish")
    _show(folder, edition, sku, alloy, show_work, of, json, csv)


@app.command("on")
def on(
    context: typer.Context,
    when: Annotated[str, typer.Argument(metavar="DATE", help="A day, as 2026-11-20.")],
    sku: Skus = None,
    alloy: Alloys = None,
    show_work: Work = False,
    of: Of = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Show the edition whose prices were in force on a day."""
    from pricing.editions.chain import in_force_on, numbers, read
    from pricing.errors import UsageFault

    folder: Path = context.obj
    on = day(when)
    assert on is not None  # a day that was given
    edition = in_force_on(folder, on)
    if edition is None:
        known = numbers(folder)
        first = f"The first edition is of {read(folder, known[0]).as_of}." if known else "None is published yet."
        raise UsageFault(f"no edition was in force on {when}. {first}")
    _show(folder, edition, sku, alloy, show_work, of, json, csv)


@app.command("withdraw")
def withdraw(
    context: typer.Context,
    back_to: Annotated[
        int | None,
        typer.Option(
            "--back-to", metavar="N", help="The edition to restore; the one before it if left out.", show_default=False
        ),
    ] = None,
    as_of: AsOf = None,
    yes: Annotated[bool, typer.Option("--yes", help="Without asking on a terminal.")] = False,
) -> None:
    """Put the prices of an earlier edition in force again, as a new edition; none is deleted.

    For a slip that was published: withdraw restores the edition before the newest, --back-to N another. They are in
    force from today, or from the day of --as-of.
    """
    from pricing.cli.screens import reprice as reprice_screens
    from pricing.costing import asked_for, cost
    from pricing.editions.chain import newest, read
    from pricing.errors import UsageFault
    from pricing.studies.publishing.new_edition import publish_prices
    from pricing.studies.repricing.reprice import restoring

    folder: Path = context.obj
    current = newest(folder)
    number = back_to if back_to is not None else (current.number - 1 if current else 0)
    if current is None or not 1 <= number < current.number:
        raise UsageFault("there is no earlier edition to restore.")
    repricing = restoring(cost(folder, asked_for(day(as_of))), current, read(folder, number))
    if not reprice_screens.may_publish(repricing, yes):
        raise SystemExit("Nothing is published.")
    edition = publish_prices(repricing)
    print(
        f"Published: edition {edition.number} of {edition.as_of}, which puts the prices of edition {number} in force "
        f"again. Nothing was deleted: troytag editions {folder}"
    )


@app.command("compare")
def compare(
    context: typer.Context,
    before: Annotated[int, typer.Argument(metavar="N", help="The number of one edition.", show_default=False)],
    after: Annotated[int, typer.Argument(metavar="M", help="The number of another.", show_default=False)],
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Show what differs between two editions: prices, costs and why."""
    from pricing.cli.screens import editions_compare, screen
    from pricing.editions.chain import read
    from pricing.editions.inputs import channel_currencies
    from pricing.studies.publishing.editions_compared import flat, records

    first, second = read(context.obj, before), read(context.obj, after)
    found = records(first, second)
    if json:
        screen.print_json(found)
    elif csv:
        screen.print_csv(flat(found))
    else:
        editions_compare.show(found, {**channel_currencies(first), **channel_currencies(second)})


def _show(
    folder: Path,
    edition: Edition,
    sku: Sequence[str] | None,
    alloy: Sequence[str] | None,
    show_work: bool,
    of: list[str] | None,
    json: bool,
    csv: bool,
) -> None:
    from pricing.cli.options import chosen
    from pricing.cli.screens import editions as editions_screens
    from pricing.cli.screens import screen
    from pricing.editions.told import flat
    from pricing.errors import UsageFault

    variants = edition.content["variants"]
    skus = chosen("product", sku, dict.fromkeys(each["sku"] for each in variants))
    alloys = chosen("alloy", alloy, dict.fromkeys(each["alloy"] for each in variants))
    rows = [row for row, each in enumerate(variants) if each["sku"] in skus and each["alloy"] in alloys]
    if not rows:
        raise UsageFault("none of these products was made in such an alloy.")
    if json:
        screen.print_json(editions_screens.document(edition, rows))
    elif csv:
        screen.print_csv(flat(edition, rows))
    elif show_work:
        editions_screens.show_work(edition, rows, of)
    else:
        editions_screens.show(folder, edition, rows)
