"""`troytag export FOLDER csv`: the upload sheet for an online shop."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.commands.export import Force, To, default_path
from pricing.cli.options import Asked, AsOf, Edition, Skus, chosen, chosen_goods, day, wanted_prices


def export_csv(
    context: typer.Context,
    to: To = None,
    columns: Annotated[
        Path | None,
        typer.Option(
            metavar="FILE", help="Which columns, a TOML file; the built-in ones if left out.", show_default=False
        ),
    ] = None,
    show_columns: Annotated[
        bool, typer.Option("--show-columns", help="Print the built-in columns, to be changed, and stop.")
    ] = False,
    channel: Annotated[
        list[str] | None, typer.Option(help="Only this channel (may be repeated).", show_default=False)
    ] = None,
    sku: Skus = None,
    alloy: Annotated[
        list[str] | None, typer.Option(help="Only this alloy (may be repeated).", show_default=False)
    ] = None,
    as_of: AsOf = None,
    edition: Edition = None,
    asked: Asked = False,
    changed_since: Annotated[
        str | None,
        typer.Option(
            metavar="N|FILE",
            help="Only prices set after edition N, or lines that an earlier sheet does not have.",
            show_default=False,
        ),
    ] = None,
    force: Force = False,
) -> None:
    """Write an upload sheet: one row a variant and channel, columns as you state them."""
    from pricing.cli.commands import printed_exports as printing
    from pricing.costing import asked_for, cost
    from pricing.lists.upload_sheet import columns_from, upload_sheet
    from pricing.resources import templates
    from pricing.studies.prices_out import prices_out

    if show_columns:
        print((templates() / "upload_columns.toml").read_text(encoding="utf-8"), end="")
        return
    target = to or default_path(context.obj, "-upload.csv")
    printing.check_targets([target], force, (".csv",))
    heads = columns_from(columns)
    since = _since(changed_since)
    wanted_out = wanted_prices(edition, asked)
    out = prices_out(cost(context.obj, asked_for(day(as_of))), wanted_out)
    costing = out.costing
    stated = costing.folder.stated
    skus, alloys = chosen_goods(sku, costing.folder), chosen("alloy", alloy, stated.alloys)
    variants = costing.computed.resolved.variants
    rows = [row for row, each in enumerate(variants) if each.sku in skus and each.alloy in alloys]
    sheet = upload_sheet(out, rows, chosen("channel", channel, stated.channels), heads, since)
    printing.put(target, sheet, force)
    printing.say(costing, out=out)


def _since(text: str | None) -> int | Path | None:
    """The number of an edition, or the file of an earlier sheet."""
    return None if text is None else int(text) if text.isdecimal() else Path(text)
