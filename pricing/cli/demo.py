"""`troytag demo`: the main job on a copy of the sample."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

#: What the demo shows side by side.
SHOWN_SKU, SHOWN_ALLOYS = "acorn-knob", ("yellow-brass", "sterling")


def demo(
    into: Annotated[Path, typer.Option(help="Where the copy of the sample goes.")] = Path("fernhollow"),
    force: Annotated[bool, typer.Option("--force", help="Start over where that folder stands already.")] = False,
) -> None:
    """Do the main job on a copy of the sample workshop, and say what to try next."""
    import shutil

    from pricing.advice import advice
    from pricing.cli import cost_screens, screen
    from pricing.costing import asked_for, cost
    from pricing.errors import UsageFault
    from pricing.folder.read import read_folder
    from pricing.resources import sample_catalog

    if into.exists():
        if not force and not (into / "workshop.toml").is_file():
            raise UsageFault(f"{into} stands already and is no workshop folder. Name another with --into.")
        if force:
            shutil.rmtree(into)
    if not into.exists():
        shutil.copytree(sample_catalog(), into)
    day = max(quote.date for quote in read_folder(into).stated.quotes)
    costing = cost(into, asked_for(day))
    variants = costing.computed.resolved.variants
    channels = [channel.name for channel in costing.computed.resolved.channels]
    pair = [row for row, each in enumerate(variants) if each.sku == SHOWN_SKU and each.alloy in SHOWN_ALLOYS]
    print(f"The workshop folder {into} is yours to change: plain files, read anew at every command.\n")
    cost_screens.side_by_side(cost_screens.View(costing, pair, channels), list(SHOWN_ALLOYS))
    print("\nEverything it makes:\n")
    cost_screens.overview(cost_screens.View(costing, list(range(len(variants))), channels))
    screen.advise([*(warning.headline() for warning in costing.warnings), *advice(costing.computed)])
    print(
        f"\nTry next:\n"
        f"  troytag cost {into} --sku thimble                what one piece is made of\n"
        f"  troytag cost {into} --sku thimble --show-work    every figure, step by step\n"
        f"  troytag check {into}                             after you changed a file\n"
        f"  troytag words metal_cost                              what a name means"
    )
