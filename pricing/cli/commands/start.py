"""`troytag start`: a new workshop folder from a dozen answers."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

if TYPE_CHECKING:
    from pricing.starting.answers import Answers


def start(
    folder: Annotated[
        Path | None, typer.Argument(help="Where it shall be; nothing there is overwritten.", show_default=False)
    ] = None,
    answers: Annotated[
        Path | None, typer.Option(metavar="FILE", help="Take the answers from this TOML file.", show_default=False)
    ] = None,
    currency: Annotated[
        str | None, typer.Option(help="The money you count in, by its ISO 4217 code.", show_default="GBP")
    ] = None,
    name: Annotated[str | None, typer.Option(help="Name of the workshop.", show_default="the folder's")] = None,
    ask: Annotated[
        bool, typer.Option("--ask/--no-ask", help="Ask on the terminal; else all that is not told is guessed.")
    ] = True,
    questions: Annotated[
        bool, typer.Option("--questions", help="Print a file of answers to fill in, and write nothing.")
    ] = False,
) -> None:
    """Ask a dozen plain questions, and write a whole workshop folder.

    Everything may be left unknown: a guess is written then, marked in its file, with its range in doubts.toml. On a
    terminal it asks; with --answers, or where nobody sits before it, it does not.
    """
    from datetime import date

    from pricing.cli.commands.cost import cost
    from pricing.cli.screens import asking
    from pricing.errors import UsageFault
    from pricing.starting import start_folder

    if questions:
        from pricing.starting.in_words import to_fill_in

        print(to_fill_in(), end="")
        return
    if folder is None:
        raise UsageFault("Name the folder that shall be: troytag start FOLDER.")
    told = {key: value for key, value in (("currency", currency), ("name", name)) if value is not None}
    asks = answers is None and ask and asking.can_ask()
    found = _asked(folder, told) if asks else _unasked(answers, told)
    written = start_folder(folder, found, date.today())
    _tell(folder, written, found.knows("pieces"))
    if asks:
        print("\nAnd what it comes to:\n")
        cost(folder)


def _unasked(file: Path | None, told: dict[str, Any]) -> Answers:
    from pricing.starting.answers import answered, read_answers

    return answered(told) if file is None else read_answers(file, told)


def _asked(folder: Path, told: dict[str, Any]) -> Answers:
    from pricing.cli.screens import asking
    from pricing.starting import refuse_what_stands
    from pricing.starting.answers import answered

    refuse_what_stands(folder, answered(told))  # before a dozen answers are typed for nothing
    return asking.asked_through(told)


def _tell(folder: Path, written: list[str], knows_its_week: bool) -> None:
    import shlex

    from pricing.folder.files import DOUBTS_FILE, FILES, described

    known = {each.name for each in FILES}
    print(f"{folder} is a workshop folder now.")
    print("What you did not tell is guessed, and says so: put your own in its place.\n")
    for file in written:
        purpose = described(file).purpose if file in known or file.startswith("products/") else "as you gave it"
        print(f"  {file:<30}{purpose}")
    guesses = (folder / DOUBTS_FILE).read_text(encoding="utf-8").count("low =")
    print(f"\n{guesses} figures are guesses, each with its range in {DOUBTS_FILE}.")
    print("\nNext:")
    path = shlex.quote(str(folder))
    nexts = (
        (f"troytag cost {path}", "what it costs, and what to ask for it"),
        (f"troytag page {path}", "the same in a browser, to play with"),
        *([(f"troytag study {path} week", "whether it adds up to the week you told")] if knows_its_week else []),
        (f"troytag study {path} doubt", "which figures to measure first"),
        (f"troytag add {path} product", "the next design; alloy, process, channel too"),
        (f"troytag check {path}", "after every change"),
    )
    widest = max(len(words) for words, _ in nexts)
    for words, purpose in nexts:
        print(f"  {words:<{widest}}  {purpose}")
