"""The command `troytag`: one small file a command; each imports what it needs when it runs."""

from __future__ import annotations

import os
import sys

import typer

from pricing.cli.commands import (
    check,
    cost,
    demo,
    editions,
    export,
    import_file,
    measure,
    metal,
    page,
    reprice,
    start,
    study,
    words,
)
from pricing.cli.screens import signs
from pricing.errors import TroytagError

app = typer.Typer(
    name="troytag",
    help="What each piece really costs in each metal today, and what to ask for it in every channel.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 80},
)
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
app.add_typer(study.app, name="study")
app.command("page")(page.page)
app.command("words")(words.words)


def main() -> None:
    """Run the command line; faults are told in words, with exit code 1 for the data and 2 for the command."""
    signs.make_printable()
    try:
        app()
    except TroytagError as fault:
        print(f"{fault}", file=sys.stderr)
        raise SystemExit(fault.exit_code) from None
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # nobody reads on; leave quietly
        raise SystemExit(1) from None
    except OSError as refused:
        named = f"{refused.filename}: " if refused.filename else ""
        print(f"{named}{(refused.strerror or str(refused)).lower()}. Nothing else was done.", file=sys.stderr)
        raise SystemExit(1) from None


if __name__ == "__main__":
    main()
