"""`troytag demo`: the main job on a copy of the sample."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from pricing.costing import Costing

#: What the demo shows side by side.
SHOWN_SKU, SHOWN_ALLOYS = "acorn-knob", ("yellow-brass", "sterling")


def demo(
    into: Annotated[Path, typer.Option(help="Where the copy of the sample goes.")] = Path("fernhollow"),
    force: Annotated[bool, typer.Option("--force", help="Put the sample's own files back as they were.")] = False,
) -> None:
    """Do the main job on a copy of the sample workshop.

    It ends with what to open and what to try next. Nothing is deleted.
    """
    import shlex
    import shutil
    import sys

    from pricing.advice import advice, advice_in_words
    from pricing.cli.screens import cost as cost_screens
    from pricing.cli.screens import screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault, told_once
    from pricing.folder.files import WORKSHOP_FILE
    from pricing.folder.read import read_folder
    from pricing.resources import sample_catalog
    from pricing.shown import shown_of
    from pricing.studies.prices_out import prices_out

    if into.exists() and not (into / WORKSHOP_FILE).is_file():
        raise UsageFault(f"{into} stands already and is no workshop folder. Name another with --into.")
    if force or not into.exists():
        _copy(sample_catalog(), into)
    day = max(quote.date for quote in read_folder(into).stated.quotes)
    costing = cost(into, asked_for(day))
    out = prices_out(costing)
    variants = costing.computed.resolved.variants
    channels = [channel.name for channel in costing.computed.resolved.channels]
    pair = [row for row, each in enumerate(variants) if each.sku == SHOWN_SKU and each.alloy in SHOWN_ALLOYS]
    print(f"The workshop folder {into} is yours to change: plain files, read anew at every command.\n")
    cost_screens.side_by_side(cost_screens.View(costing, pair, channels, out), list(SHOWN_ALLOYS))
    print("\nEverything it makes:\n")
    cost_screens.overview(cost_screens.View(costing, list(range(len(variants))), channels, out))
    hints = advice_in_words(advice(costing.computed), shown_of(costing.folder.stated))
    screen.advise([*told_once(costing.warnings), *hints])
    written = _written(costing, into)
    print("\nWritten:")
    for path, what in written:
        print(f"  {str(path):42} {what}")
    named = shlex.quote(str(into))
    command = "troytag" if shutil.which("troytag") else shlex.quote(sys.argv[0])
    print("\nTry next:")
    for words, what in (
        (f"cost {named} --sku thimble", "what one piece is made of"),
        (f"cost {named} --sku thimble --steps", "what each step takes"),
        (f"cost {named} --sku thimble --show-work", "every figure, with its numbers"),
        (f"check {named}", "after you changed a file"),
        ("words metal_cost", "what a name means"),
        (f"page {named}", "all of it in the browser"),
        ("start my-workshop", "your own: a dozen questions, and Enter is an answer"),
    ):
        print(f"  {command} {words}\n      {what}")


def _copy(sample: Path, into: Path) -> None:
    """The sample's files in the folder, all or none, in the place of those that stand there."""
    from pricing.errors import TroytagError
    from pricing.several_files import hash_at, only_change, put_all

    files = {str(path.relative_to(sample).as_posix()): path for path in sample.rglob("*") if path.is_file()}
    try:
        into.mkdir(parents=True, exist_ok=True)
        with only_change(into):
            standing = {file: hash_at(into / file) for file in files}
            put_all(into, {file: path.read_bytes() for file, path in files.items()}, standing, "demo")
    except OSError as refused:
        raise TroytagError(f"{into} cannot be written to ({refused.strerror or refused}), and nothing was.") from None


def _written(costing: Costing, into: Path) -> list[tuple[Path, str]]:
    """The workbook and the price list, written into the copy; the list only where its extra is installed."""
    from pricing.cli.commands import printed_exports as printing
    from pricing.errors import TroytagError
    from pricing.lists.pictures import Pictures
    from pricing.lists.price_list import ListAsked, price_list
    from pricing.several_files import place_all
    from pricing.studies.prices_out import prices_out
    from pricing.workbook.sheets import write_workbook

    workbook = into / "workbook.xlsx"
    write_workbook(costing, workbook, force=True)
    written = [(workbook, "change one cell, and every price moves")]
    stated = costing.folder.stated
    asked = ListAsked("shops", tuple(stated.products), tuple(stated.alloys))
    try:
        sheet = price_list(prices_out(costing), asked, printing.habit_of(costing, None), Pictures(into))
        purposes = (
            (into / "price-list.html", "for a shop, to look at"),
            (into / "price-list.pdf", "the same, to print"),
        )
        place_all({path: sheet.laid_out(path.suffix) for path, _ in purposes}, True, "demo")
        written += purposes
    except TroytagError as missing:
        print(f"\nNo price list: {missing}")
    return written
