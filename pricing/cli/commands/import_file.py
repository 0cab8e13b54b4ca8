"""`troytag import FILE --into FOLDER`: a workbook that was changed, or a filled template, back into the folder."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.options import day


def import_file(
    file: Annotated[Path, typer.Argument(help="An exported workbook, or a filled template.", show_default=False)],
    into: Annotated[Path, typer.Option("--into", metavar="FOLDER", help="The workshop folder.", show_default=False)],
    as_of: Annotated[
        str | None,
        typer.Option("--as-of", metavar="DATE", help="The day of metal prices typed in it.", show_default="today"),
    ] = None,
    write: Annotated[bool, typer.Option("--write", "--yes", help="Write it; without this it is only shown.")] = False,
) -> None:
    """Take what was changed in a workbook into the folder.

    Shows file by file what would change; comments in the files are kept. With --write it is written.
    """
    from pricing.cli.screens import import_changes as import_screens
    from pricing.cli.screens import screen
    from pricing.workbook.back import writing
    from pricing.workbook.incoming import propose

    on = day(as_of)
    with screen.err().status(f"reading {file.name} …"):
        found = propose(file, into, on)
    import_screens.show(found, dated=on is not None)
    screen.advise(found.notes, most=len(found.notes))
    if not found.files:
        return
    if write:
        writing.write(found)
        import_screens.tell_written(found)
    else:
        screen.err().print("\nNothing is written yet. Add --write to write it.")
