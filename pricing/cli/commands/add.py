"""`troytag add FOLDER …`: one more alloy, process, channel or product, by the same questions as `start`."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

import typer

from pricing.cli.options import Folder


def add(
    folder: Folder,
    what: Annotated[str, typer.Argument(help="alloy, process, channel or product.", show_default=False)],
    names: Annotated[
        list[str] | None,
        typer.Argument(
            help="Which of the library, such as gold-9ct-yellow; asked for if left out.", show_default=False
        ),
    ] = None,
    called: Annotated[
        str | None, typer.Option("--as", metavar="NAME", help="Give it this name.", show_default="the library's")
    ] = None,
    answers: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Take the answers from this TOML file.", show_default=False)
    ] = None,
    ask: Annotated[
        bool, typer.Option("--ask/--no-ask", help="Ask on the terminal; else all that is not told is guessed.")
    ] = True,
) -> None:
    """Add an alloy, a process, a channel or a product.

    From the library of ready pieces, with all that it needs. What is not told is a guess, marked in its file, with its
    range in doubts.toml. What stands in the files stays as it is.
    """
    import shlex
    from datetime import date

    from pricing.cli.options import there
    from pricing.cli.screens import asking
    from pricing.errors import UsageFault
    from pricing.folder.read import read_folder
    from pricing.folder.whole_files import held
    from pricing.starting.adding import PIECES, Adding, known_what, put
    from pricing.starting.answers import answered, read_answers

    kind = known_what(what)
    typed: dict[str, Any] = {}
    if names:
        typed = {"piece": " ".join(names)} if kind == "product" else {PIECES[kind][0]: names}
    adding = Adding(read_folder(there(folder)), kind, called)
    if answers is not None:
        found = read_answers(answers, typed, adding.asking)
    elif ask and asking.can_ask():
        found = asking.asked_through(typed, adding.asking, adding.library)
    else:
        if kind in PIECES and not names:
            known = ", ".join(adding.library({}).names(PIECES[kind][1]))
            raise UsageFault(f"Say which {kind}: troytag add {shlex.quote(str(folder))} {kind} NAME. Known: {known}.")
        found = answered(typed, adding.asking)
    with held(folder):
        added = put(adding.again(), found, date.today())  # others may have added while it was asked
    print(f"Added: {', '.join(added.names)}.")
    for file in added.files:
        print(f"  {file}")
