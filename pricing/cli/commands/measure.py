"""`troytag measure`: a mesh, a weighed model or a weighed casting; its volume, and its mass in every alloy."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from pricing.cli.options import Csv, Json


def measure(
    meshes: Annotated[
        list[str] | None, typer.Argument(metavar="MESH", help="STL, OBJ, PLY or 3MF files.", show_default=False)
    ] = None,
    folder: Annotated[
        Path | None, typer.Option(help="A workshop folder: gives the mass in its alloys.", show_default=False)
    ] = None,
    unit: Annotated[
        str | None, typer.Option(help="What the meshes are drawn in: mm, cm, m, in.", show_default="the file's, or mm")
    ] = None,
    model_g: Annotated[
        float | None, typer.Option("--model-g", help="Weight of a wax or resin model, in g.", show_default=False)
    ] = None,
    model_density: Annotated[
        float | None, typer.Option("--model-density", help="Its density, in g/cm3.", show_default=False)
    ] = None,
    metal_g: Annotated[
        float | None, typer.Option("--metal-g", help="Weight of a piece in metal, in g.", show_default=False)
    ] = None,
    in_alloy: Annotated[
        str | None, typer.Option("--in-alloy", help="The folder's alloy that it is of.", show_default=False)
    ] = None,
    weighed: Annotated[str | None, typer.Option(help="as-cast or finished.", show_default=False)] = None,
    process: Annotated[
        str | None, typer.Option(help="Gives the finished mass too, after its losses.", show_default=False)
    ] = None,
    json: Json = False,
    csv: Csv = False,
) -> None:
    """Measure a mesh, or what was weighed.

    Volume, surface, extent and soundness of a mesh; its mass in every alloy of a folder. A model on the scale
    (--model-g 2.5 --model-density 1.12) or a casting (--metal-g 21.4 --in-alloy sterling --weighed finished)
    give a volume and masses too.
    """
    from pricing.cli.screens import measure as measure_screens
    from pricing.cli.screens import screen
    from pricing.errors import UsageFault, did_you_mean
    from pricing.folder.read import read_folder
    from pricing.shown import Shown

    stated = read_folder(folder).stated if folder is not None else None
    if process is not None and stated is None:
        raise UsageFault("--process is a process of a workshop folder: name it with --folder.")
    if stated is not None and process is not None and process not in stated.processes:
        raise UsageFault(f'no process "{process}". {did_you_mean(process, stated.processes)}')
    things = [
        *measure_screens.weighed(stated, model_g, model_density, metal_g, in_alloy, weighed, process),
        *measure_screens.measured(meshes or [], unit),
    ]
    if not things:
        ways = "--model-g with --model-density, or --metal-g with --in-alloy and --weighed"
        raise UsageFault(f"name a mesh, or what was weighed: {ways}.")
    steps = stated.processes[process] if stated is not None and process is not None else None
    alloys = stated.alloys if stated is not None else {}
    if json:
        screen.print_json([thing.record() for thing in things])
    elif csv:
        screen.print_csv([measure_screens.flat(thing, alloys, steps) for thing in things])
    else:
        shown = Shown("XXX") if stated is None else Shown(stated.workshop.currency, stated.workshop.show)
        for place, thing in enumerate(things):
            measure_screens.card(thing, alloys, steps, shown, first=not place)
    if any(thing.faults for thing in things):
        raise SystemExit(1)
