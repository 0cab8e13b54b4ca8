"""`troytag export FOLDER xlsx`: the live workbook."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.commands.export import Force, To, default_path
from pricing.cli.options import Asked, AsOf, Edition, day, wanted_prices

if TYPE_CHECKING:
    from pricing.costing import Costing
    from pricing.studies.doubt.in_doubt import InDoubt
    from pricing.studies.prices_out import Wanted


def export_xlsx(
    context: typer.Context,
    to: To = None,
    as_of: AsOf = None,
    edition: Edition = None,
    asked: Asked = False,
    map_: Annotated[
        list[str] | None,
        typer.Option(
            "--map",
            metavar="SKU[:ALLOY[:CHANNEL]]",
            help="A sheet with a price and a margin against two figures, stated, not live (may be repeated).",
            show_default=False,
        ),
    ] = None,
    across: Annotated[
        str | None, typer.Option(metavar="FIGURE=A..B", help="Of maps, as study map.", show_default=False)
    ] = None,
    down: Annotated[
        str | None, typer.Option(metavar="FIGURE=A..B", help="Of maps, as study map.", show_default=False)
    ] = None,
    sure: Annotated[
        bool,
        typer.Option("--sure", help="On Prices, between which prices the policy asks, as sure as your figures are."),
    ] = False,
    force: Force = False,
) -> None:
    """Write a live workbook: change one cell, and every price moves.

    Of very many products it is of little use, too large to open at ease or to be brought back: it says so.
    """
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.questions.map import maps_named
    from pricing.safe_files import check_free
    from pricing.workbook.sheets import write_workbook

    wanted = wanted_prices(edition, asked)
    path = to or default_path(context.obj, ".xlsx")
    check_free(path, force)
    costing = cost(context.obj, asked_for(day(as_of)))
    maps = maps_named(costing, map_ or (), {"across": across, "down": down}, wanted)
    doubt = _in_doubt(costing, wanted) if sure else None
    with _progress() as tell:
        write_workbook(costing, path, force, tell, wanted, maps, doubt, lambda note: screen.advise([note]))
    print(path)
    screen.tell(costing.warnings)
    screen.advise(doubt.notes if doubt else ())


def _in_doubt(costing: Costing, wanted: Wanted) -> InDoubt:
    """How sure all prices are, by the worlds of `study doubt`."""
    from pricing.cli.screens.progress import progress
    from pricing.learning.posteriors import posteriors
    from pricing.studies.doubt.in_doubt import in_doubt
    from pricing.studies.prices_out import prices_out

    with progress("drawing the worlds") as tell:
        return in_doubt(prices_out(costing, wanted), posteriors(costing), shares=False, progress=tell)


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
