"""`troytag reprice`: which prices to hold, raise or lower, and why; `--publish` makes the new edition."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import AsOf, Csv, Json, Skus, chosen, chosen_goods, day

if TYPE_CHECKING:
    from collections.abc import Iterable

    from pricing.costing import Costing
    from pricing.studies.repricing.reprice import Chosen, Word


def reprice(
    context: typer.Context,
    folder: Annotated[Path | None, typer.Argument(help="The workshop folder.", show_default=False)] = None,
    sku: Skus = None,
    alloy: Annotated[
        list[str] | None, typer.Option(help="Only this alloy (may be repeated).", show_default=False)
    ] = None,
    channel: Annotated[
        list[str] | None, typer.Option(help="Only this channel (may be repeated).", show_default=False)
    ] = None,
    as_of: AsOf = None,
    accept: Annotated[
        list[str] | None,
        typer.Option(metavar="SKU:ALLOY", help="Take what the policy asks, at once and whole (or SKU:ALLOY:CHANNEL).",
                     show_default=False),
    ] = None,
    hold: Annotated[
        list[str] | None,
        typer.Option(metavar="SKU:ALLOY", help="Keep the price in force (or SKU:ALLOY:CHANNEL).", show_default=False),
    ] = None,
    interactive: Annotated[bool, typer.Option("--interactive", help="Decide price by price on a terminal.")] = False,
    publish: Annotated[bool, typer.Option("--publish", help="Make it the new edition of the prices.")] = False,
    yes: Annotated[bool, typer.Option("--yes", help="Publish without asking on a terminal.")] = False,
    ahead: Annotated[
        bool, typer.Option("--ahead", help="Publish for a day that is still to come: no other before it.")
    ] = False,
    over_gap: Annotated[
        bool, typer.Option("--over-gap", help="Publish though an edition before it is lost or spoilt.")
    ] = False,
    everything: Annotated[bool, typer.Option("--all", help="Show the prices that stay, too.")] = False,
    xlsx: Annotated[
        Path | None, typer.Option("--xlsx", metavar="FILE", help="Write the rows to a workbook.", show_default=False)
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite that workbook.")] = False,
    json: Json = False,
    csv: Csv = False,
    many: Annotated[
        Path | None,
        typer.Option("--from", metavar="FILE|FOLDER", help="Very many variants in Parquet, in place of a folder.",
                     show_default=False),
    ] = None,
    to: Annotated[
        Path | None,
        typer.Option(metavar="FILE|FOLDER", help="With --from: where the prices go; one file if it ends in .parquet.",
                     show_default=False),
    ] = None,
    summary: Annotated[
        bool, typer.Option("--summary", help="With --from: only what they come to; nothing is written.")
    ] = False,
    under: Annotated[float, typer.Option(metavar="MARGIN", help="With --from: count margins below this.")] = 0.0,
    spot: Annotated[
        list[str] | None,
        typer.Option(metavar="METAL=PRICE", help="With --from: at this price, as it is quoted (may be repeated).",
                     show_default=False),
    ] = None,
    workshop: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="With --from: the workshop's tables, if not workshop.parquet beside it.",
                     show_default=False),
    ] = None,
    workers: Annotated[
        int | None,
        typer.Option(metavar="N", help="With --from: so many workers on this machine (troytag[cluster]).",
                     show_default=False),
    ] = None,
    scheduler: Annotated[
        str | None,
        typer.Option(metavar="ADDRESS", show_default=False,
                     help="With --from: the workers of a Dask scheduler, as tls://host:8786. Whoever reaches it can "
                     "run any program on its workers: only in a network that you trust, and with TLS."),
    ] = None,
) -> None:  # fmt: skip
    """Tell which prices to hold, raise or lower, and why.

    Against the edition of the prices in force. With --from: of variants that
    `troytag export FOLDER parquet` wrote, or that another program wrote so, as
    many as there are; what is broken off is continued by the same command.
    """
    from pricing.cli.commands.reprice_many import Asked, reprice_many
    from pricing.errors import UsageFault

    if many is not None:
        _nothing_else(context)
        reprice_many(Asked(many, to, summary, under, spot or (), workshop, workers, scheduler), force, json)
        return
    if folder is None:
        raise UsageFault("Name the workshop folder, or very many variants in Parquet: --from FILE.")
    if (to, workshop, workers, scheduler) != (None,) * 4 or summary or under or spot:
        raise UsageFault("--to, --summary, --under, --spot, --workshop, --workers and --scheduler go with --from FILE.")
    from pricing.cli.screens import reprice as reprice_screens
    from pricing.cli.screens import reprice_records, screen
    from pricing.costing import asked_for, cost
    from pricing.editions.chain import look_over, newest
    from pricing.studies.causes.of_repricing import changes
    from pricing.studies.repricing.reprice import reprice as look_again

    if xlsx:
        from pricing.safe_files import check_free

        check_free(xlsx, force)
    costing = cost(folder, asked_for(day(as_of)))
    words = {**_words(costing, accept or (), "accept"), **_words(costing, hold or (), "hold")}
    chain = look_over(folder)
    repricing = look_again(costing, newest(folder, over_gap, chain), words)
    stated = costing.folder.stated
    skus, alloys = chosen_goods(sku, costing.folder), chosen("alloy", alloy, stated.alloys)
    channels = chosen("channel", channel, stated.channels)
    if interactive:
        from pricing.cli.screens.reprice_walk import walk

        repricing, publish = walk(repricing, words, (skus, alloys, channels), publish)
        yes = True
    rows = [row for row in repricing.rows if row.sku in skus and row.alloy in alloys and row.channel in channels]
    if not (sku or alloy or channel):
        rows = list(repricing.rows)
    found = changes(folder, repricing, rows, of_prices=json)
    edition = None
    if publish and repricing.moved():
        from pricing.studies.publishing.new_edition import publish_prices

        if not reprice_screens.may_publish(repricing, yes or json or csv):
            raise SystemExit("Nothing is published.")
        edition = publish_prices(repricing, over_gap=over_gap, ahead=ahead)
    if xlsx:
        from pricing.lists.record_sheet import write_records
        from pricing.model.currency import minor_unit_digits

        digits = minor_unit_digits(stated.workshop.currency)
        write_records(xlsx, "Repricing", reprice_records.flat(rows, found), digits, force)
    hints = [*reprice_screens.hints(repricing, found), *(edition.notes if edition else ())]
    warnings = [*costing.warnings, *chain.faults]
    if json:
        document = reprice_records.document(repricing, rows, found, edition)
        screen.print_json({**document, "warnings": [each.headline() for each in warnings] + hints})
        return
    if csv:
        screen.print_csv(reprice_records.flat(rows, found))
    else:
        reprice_screens.show(folder, repricing, rows, found, everything)
        reprice_screens.what_next(folder, repricing, edition, publish)
    screen.tell(warnings)
    screen.advise(hints)


def _nothing_else(context: typer.Context) -> None:
    """Raise UsageFault for what is said beside --from and has no meaning there."""
    from pricing.errors import UsageFault

    taken = {"many", "to", "summary", "under", "spot", "workshop", "workers", "scheduler", "force", "json"}
    for name, value in context.params.items():
        if value and name not in taken:
            said = "A folder" if name == "folder" else f"--{name.replace('_', '-')}"
            raise UsageFault(f"{said} does not go with --from.")


def _words(costing: Costing, texts: Iterable[str], word: Word) -> dict[Chosen, Word]:
    """The maker's own decisions. Raises UsageFault for what is no SKU:ALLOY or SKU:ALLOY:CHANNEL that is priced."""
    from pricing.errors import UsageFault, did_you_mean

    variants = costing.computed.resolved.variants
    priced: dict[str, Chosen] = {f"{each.sku}:{each.alloy}": (each.sku, each.alloy, None) for each in variants}
    spots = [(each.sku, each.alloy, each.prices[place].channel) for each in variants for place in each.sold_places]
    wholly: dict[str, Chosen] = {":".join(spot): spot for spot in spots}
    found: dict[Chosen, Word] = {}
    for text in texts:
        name = priced.get(text) or wholly.get(text)
        if name is None:
            raise UsageFault(f"--{word} {text}: there is no such price. {did_you_mean(text, {**priced, **wholly})}")
        found[name] = word
    return found
