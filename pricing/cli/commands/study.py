"""`troytag study FOLDER QUESTION`: how far metal may move, how often to reprice, and more."""

from __future__ import annotations

import typer

from pricing.cli.commands import (
    study_alloy,
    study_assay,
    study_band,
    study_breakeven,
    study_map,
    study_quantity,
    study_refiner,
    study_sale,
)
from pricing.cli.options import Folder

app = typer.Typer(no_args_is_help=True, rich_markup_mode=None, subcommand_metavar="QUESTION …")


@app.callback(invoke_without_command=True)
def study(context: typer.Context, folder: Folder) -> None:
    """Answer a question: break-even, how often to reprice, a sale."""
    context.obj = folder
    if context.invoked_subcommand is None:
        print(context.get_help())


app.command("breakeven")(study_breakeven.breakeven)
app.command("band")(study_band.band)
app.command("assay")(study_assay.assay)
app.command("refiner")(study_refiner.refiner)
app.command("sale")(study_sale.sale)
app.command("quantity")(study_quantity.quantity)
app.command("alloy")(study_alloy.alloy)
app.command("map")(study_map.map_)
