"""What the exports that are printed have in common: options, where they go, progress, what is said at the end."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, TypeVar

import typer

if TYPE_CHECKING:
    from pricing.costing import Costing
    from pricing.lists import rendering
    from pricing.lists.number_habits import Habit
    from pricing.lists.pictures import Pictures
    from pricing.studies.prices_out import PricesOut

Each = TypeVar("Each")

Targets = Annotated[
    list[Path] | None,
    typer.Option(
        "--to", metavar="FILE", help="Where it goes, ending in .html or .pdf; twice for both.", show_default=False
    ),
]
Locale = Annotated[
    str | None,
    typer.Option(
        metavar="LOCALE",
        help="How numbers and dates are written, as en_GB; if left out the environment's habit, else the currency's.",
        show_default=False,
    ),
]
Paper = Annotated[
    str | None, typer.Option(metavar="A4|Letter", help="Paper of a PDF; the locale's if left out.", show_default=False)
]
ValidUntil = Annotated[
    str | None, typer.Option("--valid-until", metavar="DATE", help="Until when the prices hold.", show_default=False)
]
NoPictures = Annotated[bool, typer.Option("--no-pictures", help="Leave the pictures out.")]


def paper_named(stated: str | None) -> str | None:
    """`A4` or `Letter` as written in either case. Raises UsageFault for any other."""
    from pricing.errors import UsageFault, did_you_mean
    from pricing.lists.cut_sheets import PAPERS

    if stated is None:
        return None
    for name in PAPERS:
        if name.lower() == stated.lower():
            return name
    raise UsageFault(f'no paper "{stated}". {did_you_mean(stated, PAPERS)}')


def habit_of(costing: Costing, locale: str | None) -> Habit:
    """The habit in which a workshop's figures are written."""
    from pricing.lists.number_habits import habit

    workshop = costing.folder.stated.workshop
    return habit(workshop.currency, workshop.show, locale)


def check_targets(targets: Sequence[Path], force: bool, known: tuple[str, ...] = (".html", ".htm", ".pdf")) -> None:
    """Refuse a file that would be overwritten unasked or that cannot be written, before any work is done."""
    from pricing.lists.rendering import check_suffix
    from pricing.safe_files import check_free

    for target in targets:
        check_suffix(target.suffix, known)
        check_free(target, force)


def write(sheet: rendering.Paper, targets: Sequence[Path], force: bool) -> None:
    """Lay the sheet out for every target, then put all of them in place."""
    from pricing.cli.screens import screen
    from pricing.several_files import place_all

    screen.tell(place_all({target: sheet.laid_out(target.suffix) for target in targets}, force, "export"))
    for target in targets:
        print(target)


def put(target: Path, content: bytes, force: bool) -> None:
    """The file in its place, whole or not at all, and its name on stdout."""
    from pricing.safe_files import placed

    with placed(target, force) as beside:
        beside.write_bytes(content)
    print(target)


def watched(label: str) -> Callable[[Iterable[Each]], Iterable[Each]]:
    """Passes things through and shows how many are done, where somebody looks and it takes a while."""

    def watch(things: Iterable[Each]) -> Iterable[Each]:
        things = list(things)
        if not sys.stderr.isatty() or len(things) < 2:
            return iter(things)
        from rich.progress import track

        from pricing.cli.screens.screen import err

        return track(things, label, console=err(), transient=True)

    return watch


def say(costing: Costing, pictures: Pictures | None = None, out: PricesOut | None = None) -> None:
    """To stderr: warnings of the folder, which prices these are, what pictures could not be made."""
    from pricing.cli.screens import screen
    from pricing.studies.prices_out import standing

    notes = [warning.headline() for warning in costing.warnings]
    notes += standing(out) if out else []
    screen.advise(notes + (pictures.notes if pictures else []))
