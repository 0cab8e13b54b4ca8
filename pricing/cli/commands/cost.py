"""`troytag cost`: what a piece, a pair or a set costs and must fetch."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated, Any

import typer

from pricing.cli.options import (
    Asked,
    AsOf,
    Csv,
    Edition,
    Folder,
    Json,
    Skus,
    chosen,
    chosen_goods,
    day,
    number,
    wanted_prices,
)

if TYPE_CHECKING:
    from pricing.studies.doubt.in_doubt import InDoubt
    from pricing.studies.prices_out import PricesOut


def cost(
    folder: Folder,
    sku: Skus = None,
    alloy: Annotated[
        list[str] | None, typer.Option(help="Only this alloy; twice or more: side by side.", show_default=False)
    ] = None,
    channel: Annotated[
        list[str] | None, typer.Option(help="Only this channel (may be repeated).", show_default=False)
    ] = None,
    as_of: AsOf = None,
    run: Annotated[
        str | None, typer.Option(metavar="Q", help="For a run of Q sets, not the steady state.", show_default=False)
    ] = None,
    charge_design: Annotated[bool, typer.Option("--charge-design", help="Charge the design to the run.")] = False,
    steps: Annotated[bool, typer.Option("--steps", help="What each step takes and costs.")] = False,
    show_work: Annotated[
        bool, typer.Option("--show-work", help="Print symbols, numbers, result of every figure.")
    ] = False,
    of: Annotated[
        list[str] | None,
        typer.Option(metavar="QUANTITY", help="Show the work of this figure and what leads to it.", show_default=False),
    ] = None,
    sure: Annotated[
        bool, typer.Option("--sure", help="How sure costs and prices are, by doubts.toml, the log and moving metal.")
    ] = False,
    edition: Edition = None,
    asked: Asked = False,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Tell what each product costs, and what to ask for it.

    In every alloy that it is made in and in every channel that it is sold in.
    """
    from pricing.advice import advice, advice_in_words
    from pricing.cli.screens import cost as cost_screens
    from pricing.cli.screens import cost_records, screen
    from pricing.costing import asked_for
    from pricing.costing import cost as cost_of
    from pricing.errors import UsageFault
    from pricing.model.workshop import Show
    from pricing.records import where_sold
    from pricing.shown import shown_of
    from pricing.studies.prices_out import prices_out

    wanted_prices(edition, asked)
    if json and csv:
        raise UsageFault("--json and --csv: say which of the two.")
    if (json or csv) and (show_work or of or steps):
        raise UsageFault("--steps, --show-work and --of are for people to read: leave out --json or --csv.")
    if sure and (show_work or of or steps):
        raise UsageFault("--sure stands beside costs and prices: leave out --steps, --show-work and --of.")
    costing = cost_of(folder, asked_for(day(as_of), number(run, "--run"), charge_design))
    resolved, stated = costing.computed.resolved, costing.folder.stated
    skus = chosen_goods(sku, costing.folder)
    alloys = chosen("alloy", alloy, stated.alloys)
    channels = chosen("channel", channel, stated.channels)
    rows = [row for row, each in enumerate(resolved.variants) if each.sku in skus and each.alloy in alloys]
    if not rows:
        said = "none of these products is made in such an alloy." if stated.products else "there is no product yet."
        raise UsageFault(said)
    out = prices_out(costing, "asked" if asked or run else edition)
    shown = shown_of(stated, Show() if json else None)
    hints = advice_in_words(advice(costing.computed, rows), shown)
    doubt = None
    if sure:
        from pricing.studies.doubt.told import in_short

        doubt = _in_doubt(out, rows)
    if json:
        document: dict[str, Any] = {"as_of": resolved.as_of.isoformat(), "currency": resolved.currency}
        if costing.asked.run is not None:
            document["run"] = costing.asked.run
        warnings = [warning.headline() for warning in costing.warnings] + hints
        told = cost_records.variants(out, where_sold(costing.computed, rows, channels), doubt)
        screen.print_json({**document, "warnings": warnings, "variants": told})
        return
    if csv:
        screen.tell(costing.warnings)
        screen.print_columns(cost_records.columns(out, where_sold(costing.computed, rows, channels), doubt))
        return
    view = cost_screens.View(costing, rows, channels, out, doubt)
    if show_work or of:
        cost_screens.work(view, of)
    elif steps:
        cost_screens.steps(view)
    elif alloy and len(alloy) > 1:
        cost_screens.side_by_side(view, list(dict.fromkeys(alloy)))
    elif len(rows) <= cost_screens.MOST_CARDS:
        cost_screens.cards(view)
    else:
        cost_screens.overview(view)
    screen.tell(costing.warnings)
    screen.advise(hints)
    if doubt:
        screen.advise([*doubt.notes, f"P10–P90: eight times in ten it lies there. {in_short(doubt).capitalize()}."])


def _in_doubt(out: PricesOut, rows: Sequence[int]) -> InDoubt:
    """How sure these variants are; with a bar on a terminal, since it takes seconds."""
    from pricing.cli.screens.progress import progress
    from pricing.learning.posteriors import posteriors
    from pricing.studies.doubt.in_doubt import in_doubt

    with progress("drawing the worlds") as tell:
        return in_doubt(out, posteriors(out.asked), rows=rows, shares=False, progress=tell)
