"""`troytag export FOLDER KIND`: what the maker opens, changes, prints and sends.

How a kind is added: a module `pricing/cli/export_KIND.py` with a function `export_KIND(context, …)`, a command
as typer reads it, whose first parameter is `context: typer.Context`; `context.obj` is the workshop folder (a Path).
Its first docstring line is the help. A module is imported only when its kind is asked for (or help is), and what it
needs beyond typer it imports inside the function. Files are put in place by `pricing.safe_files.placed`, which
writes them whole or not at all and refuses to overwrite unasked. The options that kinds share stand below.
"""

from __future__ import annotations

from importlib import import_module
from importlib.util import find_spec
from pathlib import Path
from typing import Annotated, Any

import typer

from pricing.cli.options import Folder, FolderFirst
from pricing.errors import UsageFault, did_you_mean

#: In the order in which help lists them; a kind whose module is not there yet is left out.
KINDS = ("xlsx", "list", "quote", "tags", "card", "csv", "parquet", "template")

To = Annotated[
    Path | None,
    typer.Option(
        "--to", metavar="FILE", help="Where it goes; here, by the folder's name, if left out.", show_default=False
    ),
]
Force = Annotated[bool, typer.Option("--force", help="Overwrite a file that stands already.")]


class Kinds(FolderFirst):
    """Commands that are imported when they are asked for."""

    def list_commands(self, ctx: Any) -> list[str]:
        return [kind for kind in KINDS if find_spec(f"pricing.cli.commands.export_{kind}")]

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        if cmd_name not in self.list_commands(ctx):
            return None
        function = getattr(import_module(f"pricing.cli.commands.export_{cmd_name}"), f"export_{cmd_name}")
        single = typer.Typer(add_completion=False, rich_markup_mode=None, pretty_exceptions_enable=False)
        single.command(cmd_name)(function)
        return typer.main.get_command(single)

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        kinds = self.list_commands(ctx)
        if args[0] in ctx.help_option_names:  # `export FOLDER --help`: the folder ends the group's own options
            typer.echo(ctx.get_help())
            ctx.exit()
        if args[0] not in kinds and not args[0].startswith("-") and str(ctx.params.get("folder")) not in kinds:
            raise UsageFault(f'there is no export "{args[0]}". {did_you_mean(args[0], kinds)}')
        return super().resolve_command(ctx, args)


app = typer.Typer(cls=Kinds, no_args_is_help=True, rich_markup_mode=None, subcommand_metavar="KIND …")


@app.callback()
def export(context: typer.Context, folder: Folder) -> None:
    """Write a workbook, price list, quotation, tags, cards, upload sheet, Parquet, template."""
    context.obj = folder


def default_path(folder: Path, suffix: str) -> Path:
    """Where an export goes that was given no place: in the current directory, by the folder's name."""
    return Path(f"{folder.resolve().name}{suffix}")
