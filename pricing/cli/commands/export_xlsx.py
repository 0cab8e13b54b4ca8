"""`troytag export FOLDER xlsx`: the live workbook."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import typer

from pricing.cli.commands.export import Force, To, default_path
from pricing.cli.options import Asked, AsOf, Edition, day, wanted_prices


def export_xlsx(
    context: typer.Context,
    to: To = None,
    as_of: AsOf = None,
    edition: Edition = None,
    asked: Asked = False,
    force: Force = False,
) -> None:
    """Write a live workbook: change one cell, and every price moves."""
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.safe_files import check_free
    from pricing.workbook.sheets import write_workbook

    wanted = wanted_prices(edition, asked)
    path = to or default_path(context.obj, ".xlsx")
    check_free(path, force)
    costing = cost(context.obj, asked_for(day(as_of)))
    with _progress() as tell:
        write_workbook(costing, path, force, tell, wanted)
    print(path)
    screen.tell(costing.warnings)


@contextmanager
def _progress() -> Iterator[Callable[[int, int], None] | None]:
    """A bar on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield None
        return
    from rich.progress import Progress

    from pricing.cli.screens.screen import err

    with Progress(console=err(), transient=True) as bar:
        task = bar.add_task("rows", total=None)
        yield lambda done, total: bar.update(task, completed=done, total=total)
