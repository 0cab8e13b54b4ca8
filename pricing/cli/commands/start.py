"""`troytag start`: a new workshop folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer


def start(
    folder: Annotated[
        Path, typer.Argument(help="Where it shall be; nothing there is overwritten.", show_default=False)
    ],
    currency: Annotated[str, typer.Option(help="The money you count in, by its ISO 4217 code.")] = "GBP",
    name: Annotated[str | None, typer.Option(help="Name of the workshop.", show_default="the folder's")] = None,
) -> None:
    """Write a new workshop folder, commented, with one example.

    Every figure in it is an example to replace; it can be checked and costed at once.
    """
    import shlex
    from datetime import date

    from pricing.folder.files import described
    from pricing.starting import new_folder

    called = name if name is not None else _spoken(folder)
    written = new_folder(folder, called, currency, date.today())
    print(f"{folder} is a workshop folder now.\nIts figures are examples: put your own in their place.\n")
    for file in written:
        print(f"  {file:<30}{described(file).purpose}")
    print("\nNext:")
    path = shlex.quote(str(folder))
    for words, purpose in (
        (f"troytag cost {path}", "what the example costs, and what to ask for it"),
        (f"troytag check {path}", "after every change"),
        ("troytag words", "what a name means"),
    ):
        print(f"  {words:<{len(path) + 16}}{purpose}")


def _spoken(folder: Path) -> str:
    """A name for a workshop that was given none: the folder's, with blanks and capitals."""
    return folder.resolve().name.replace("-", " ").replace("_", " ").strip().title()[:120] or "Workshop"
