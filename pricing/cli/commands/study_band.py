"""`troytag study FOLDER band`: how often, and from which difference on, it pays to change prices."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from pricing.cli.options import AsOf, Csv, Json, chosen, day

if TYPE_CHECKING:
    from pricing.studies.band import Fared

#: The intervals and bands of the table on the screen; all are in the JSON and the CSV.
SHOWN_INTERVALS = (7, 28, 91, 182, 365)
SHOWN_BANDS = (0.0, 0.01, 0.02, 0.04, 0.06, 0.10)


def band(
    context: typer.Context,
    history: Annotated[
        Path | None,
        typer.Option(metavar="FILE", help="A table of days and prices; the kept price history if left out.",
                     show_default=False),
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option(metavar="METAL=NAME", help="Which column of the table is a metal's (may be repeated).",
                     show_default=False),
    ] = None,
    mend: Annotated[bool, typer.Option("--mend", help="Leave out days with slips instead of refusing them.")] = False,
    channel: Annotated[
        list[str] | None, typer.Option(help="Only this channel (may be repeated).", show_default=False)
    ] = None,
    at_most: Annotated[
        float | None,
        typer.Option(metavar="N", help="Recommend no more than so many changes a year.", show_default=False),
    ] = None,
    look_every: Annotated[
        int, typer.Option(metavar="DAYS", help="Recommend to look no more often than every so many days.")
    ] = 7,
    plot: Annotated[
        Path | None,
        typer.Option(metavar="NAME", help="Write the picture as NAME.svg and NAME.png.", show_default=False),
    ] = None,
    force: Annotated[bool, typer.Option("--force", help="Overwrite pictures that stand already.")] = False,
    as_of: AsOf = None,
    json: Json = False,
    csv: Csv = False,
) -> None:  # fmt: skip
    """How often to reprice: bands and intervals tried on a real history of metal."""
    from dataclasses import asdict

    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.studies.band import back_test, frontier, recommended
    from pricing.studies.history import check_long_enough, kept_history, read_history

    costing = cost(context.obj, asked_for(day(as_of)))
    stated = costing.folder.stated
    channels = chosen("channel", channel, stated.channels)
    resolved = costing.computed.resolved
    named = _columns(column or ())
    if history is not None:
        told = read_history(history, resolved, named, mend)
    elif named or mend:
        raise UsageFault("--column and --mend are about a table. Name it with --history.")
    else:
        told = kept_history(stated.quotes, resolved)
    check_long_enough(told)
    with _progress() as progress:
        results = back_test(costing, told, channels, progress=progress)
    if not results:
        raise UsageFault("every price in these channels is fixed: there is nothing to try.")
    open_to = [each for each in results if each.interval >= look_every]
    if not open_to:
        raise UsageFault(
            f"--look-every {look_every}: the longest interval tried is {max(r.interval for r in results)}."
        )
    best = recommended(open_to, at_most)
    source = "the kept price history" if history is None else history.name
    span = f"{source}, {told.first} to {told.last}, {len(told.days)} days with prices"
    if plot:
        _write_pictures(plot, results, best, f"{stated.workshop.name}: {span}", force)
    if json:
        edge = {(each.keep_within, each.interval) for each in frontier(results)}
        rows = [{**asdict(each), "on_frontier": (each.keep_within, each.interval) in edge} for each in results]
        document = {"first": told.first.isoformat(), "last": told.last.isoformat(), "days": len(told.days)}
        screen.print_json({**document, "notes": list(told.notes), "policies": rows, "recommended": asdict(best)})
        return
    if csv:
        screen.print_csv([asdict(each) for each in results])
    else:
        screen.out().print(f"{stated.workshop.name}: {span}.")
        screen.out().print(f"All but metal as on {resolved.as_of}; {', '.join(channels)}.")
        _show(results, best)
    screen.advise([f"{context.obj if history is None else history}: {note}" for note in told.notes])


@contextmanager
def _progress() -> Iterator[Callable[[float], None]]:
    """A bar on a terminal, nothing elsewhere."""
    if not sys.stderr.isatty():
        yield lambda share: None
        return
    from rich.progress import Progress

    from pricing.cli.screens import screen

    with Progress(console=screen.err(), transient=True) as bar:
        task = bar.add_task("trying policies", total=1.0)
        yield lambda share: bar.update(task, completed=share)


def _columns(texts: Sequence[str]) -> dict[str, str]:
    from pricing.errors import UsageFault

    found = {}
    for text in texts:
        metal, sign, name = text.partition("=")
        if not (metal and sign and name):
            raise UsageFault(f"--column {text}: write a metal and its column, as Au=gold.")
        found[metal] = name
    return found


def _show(results: Sequence[Fared], best: Fared) -> None:
    from pricing.cli.screens import screen

    console = screen.out()
    known = {(each.interval, each.keep_within): each for each in results}
    intervals = sorted({*SHOWN_INTERVALS, best.interval} & {each.interval for each in results})
    bands = sorted({*SHOWN_BANDS, best.keep_within} & {each.keep_within for each in results})
    console.print("\nChanges a year of each price / points of margin given away on average,")
    console.print("by how often you look, and how many points of margin you let pass:\n")
    lines = []
    for interval in intervals:
        cells = [known[interval, width] for width in bands]
        told = [f"{each.changes_per_year:.1f}/{100 * each.shortfall:.2f}" for each in cells]
        lines.append((f"every {interval} days", *told))
    console.print(screen.table(("", *[f"{100 * width:g} points" for width in bands]), lines))
    console.print("\nRecommended", style="bold")
    band = f"hold within {100 * best.keep_within:g} points (keep_within = {best.keep_within:g})"
    worst = f"{100 * best.worst_month:.2f} in the worst month"
    console.print(
        f"  Look every {best.interval} days, {band}\n"
        f"  {best.changes_per_year:.2f} changes a year of each price, {best.changes} in all\n"
        f"  {100 * best.shortfall:.2f} points of margin given away on average, {worst}\n"
        f"  {best.days_below:.1f} days a year below least_margin\n"
        "  It is where one change more begins to save less than the changes before it."
    )


def _write_pictures(plot: Path, results: Sequence[Fared], best: Fared, told: str, force: bool) -> None:
    from pricing.cli.screens import screen
    from pricing.several_files import place_all
    from pricing.studies.band_plot import frontier_pictures

    pictures = frontier_pictures(results, best, told)
    named = {plot.with_name(f"{plot.name}.{form}"): content for form, content in pictures.items()}
    screen.tell(place_all(named, force, "export"))
