"""`troytag study FOLDER QUESTION`: how far metal may move, how often to reprice, and more."""

from __future__ import annotations

import typer

from pricing.cli.commands import study_assay, study_breakeven, study_refiner
from pricing.cli.commands.study_questions import command_of
from pricing.cli.options import Folder, FolderFirst
from pricing.questions.every import QUESTIONS

app = typer.Typer(cls=FolderFirst, no_args_is_help=True, rich_markup_mode=None, subcommand_metavar="QUESTION …")


@app.callback(invoke_without_command=True)
def study(context: typer.Context, folder: Folder) -> None:
    """Answer a question: break-even, how sure, what to make, a sale, a year."""
    context.obj = folder
    if context.invoked_subcommand is None:
        print(context.get_help())


app.command("breakeven")(study_breakeven.breakeven)
app.command("assay")(study_assay.assay)
app.command("refiner")(study_refiner.refiner)
for question in QUESTIONS.values():
    app.command(question.name)(command_of(question))
