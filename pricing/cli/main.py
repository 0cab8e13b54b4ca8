"""The command `troytag`: one small file a command; each imports what it needs when it runs."""

from __future__ import annotations

import os
import sys
from functools import cache
from typing import Annotated

import typer
from typer.core import TyperCommand, TyperGroup

from pricing import __version__
from pricing.cli.commands import (
    check,
    cost,
    demo,
    editions,
    export,
    import_file,
    log,
    measure,
    metal,
    page,
    pour,
    reprice,
    start,
    stock,
    study,
    words,
)
from pricing.cli.screens import signs
from pricing.cli.screens.plain_help import plain
from pricing.errors import TroytagError

app = typer.Typer(
    name="troytag",
    help="What each piece really costs in each metal today, and what to ask for it in every channel.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)


def _tell_version(asked: bool) -> None:
    if asked:
        print(f"troytag {__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool, typer.Option("--version", help="Say which version this is.", is_eager=True, callback=_tell_version)
    ] = False,
) -> None:
    pass


app.command("demo")(demo.demo)
app.command("start")(start.start)
app.command("check")(check.check)
app.command("measure")(measure.measure)
app.command("cost")(cost.cost)
app.add_typer(metal.app, name="metal")
app.add_typer(export.app, name="export")
app.command("import")(import_file.import_file)
app.command("reprice")(reprice.reprice)
app.add_typer(editions.app, name="editions")
app.add_typer(log.app, name="log")
app.add_typer(stock.app, name="stock")
app.add_typer(study.app, name="study")
app.command("pour")(pour.pour)
app.command("page")(page.page)
app.command("words")(words.words)


@cache
def command() -> TyperCommand | TyperGroup:
    """The whole command, its help in plain words; made once, since that takes as long as reading a small folder."""
    made: TyperCommand | TyperGroup = plain(typer.main.get_command(app))
    return made


def main() -> None:
    """Run the command line; faults are told in words, with exit code 1 for the data and 2 for the command."""
    signs.make_printable()
    try:
        command()(prog_name="troytag")  # however it was started: what it says can be typed
        code: str | int | None = 0
    except SystemExit as left:
        code = left.code
    except TroytagError as fault:
        print(f"{fault}", file=sys.stderr)
        code = fault.exit_code
    except OSError as refused:
        code = _tell_refusal(refused)
    try:
        sys.stdout.flush()  # here and not at the interpreter's own end, where a refusal is exit code 120
    except OSError as refused:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # what is left is not tried once more
        code = code or _tell_refusal(refused)
    raise SystemExit(code)


def _tell_refusal(refused: OSError) -> int:
    """Tell what the system refused, but leave quietly where nobody reads on; the exit code."""
    if not isinstance(refused, BrokenPipeError):
        named = f"{refused.filename}: " if refused.filename else ""
        print(f"{named}{(refused.strerror or str(refused)).lower()}. Nothing else was done.", file=sys.stderr)
    return 1


if __name__ == "__main__":
    main()
