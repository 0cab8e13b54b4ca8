"""What `troytag measure` finds out about each thing, and how it shows it."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from pricing.cli.screens import screen
from pricing.errors import UsageFault, did_you_mean, shortened
from pricing.model.alloy import Alloy
from pricing.model.process import Step
from pricing.model.stated import Stated
from pricing.shown import Shown
from pricing.weighing import left_by, masses, volume_stated

if TYPE_CHECKING:
    from rich.table import Table

    from pricing.meshes import Measured

#: Keys of a record in `--json`, of which a thing that was weighed has only some.
KEYS = ("file", "unit", "volume_cm3", "area_cm2", "extent_mm", "sound", "faults")


@dataclass(frozen=True)
class MeasuredThing:
    """Something with a volume: a mesh that was read, one that could not be, or something on the scale.

    `title` says what it is; `volume_cm3` is None where nobody knows it.
    """

    title: str
    volume_cm3: float | None
    faults: tuple[str, ...] = ()
    mesh: Measured | None = None
    file: str | None = None

    @property
    def reliable(self) -> bool:
        return self.volume_cm3 is not None and (self.mesh is None or self.mesh.priceable)

    def record(self) -> dict[str, Any]:
        """The seven fields of `--json`; None for what the thing does not have."""
        if self.mesh is not None:
            return self.mesh.as_json()
        made = dict.fromkeys(KEYS)
        sound = None if self.file is None else False
        return {**made, "file": self.file, "volume_cm3": self.volume_cm3, "sound": sound, "faults": list(self.faults)}


def measured(files: Iterable[str], unit: str | None) -> Iterator[MeasuredThing]:
    """Every mesh; one that cannot be read does not stand in the way of the others."""
    from pricing.meshes import MeshFault, measure

    for file in files:
        with screen.err().status(f"measuring {file} …"):
            try:
                mesh = measure(file, unit)
            except MeshFault as unread:
                told = tuple(f"{fault.problem}. {fault.mend}" for fault in unread.faults)
                yield MeasuredThing(shortened(file), None, told, file=file)
                continue
        yield MeasuredThing(shortened(file), mesh.volume_cm3, mesh.faults, mesh, file)


def weighed(
    stated: Stated | None,
    model_g: float | None,
    model_density: float | None,
    metal_g: float | None,
    in_alloy: str | None,
    state: str | None,
    process: str | None,
) -> Iterator[MeasuredThing]:
    """What was put on the scale. Raises UsageFault for what is missing beside it or makes no sense."""
    figures = {"--model-g": model_g, "--model-density": model_density, "--metal-g": metal_g}
    for option, figure in figures.items():
        if figure is not None and not 0 < figure < float("inf"):
            raise UsageFault(f"{option} {figure:g}: state a number above 0.")
    _together({"--model-g": model_g, "--model-density": model_density})
    _together({"--metal-g": metal_g, "--in-alloy": in_alloy, "--weighed": state})
    if model_g is not None and model_density is not None:
        title = f"model of {model_g:g} g at {model_density:g} g/cm3"
        yield MeasuredThing(title, volume_stated({"model_g": model_g, "model_density": model_density}))
    if metal_g is None or in_alloy is None:
        return
    if stated is None:
        raise UsageFault("--in-alloy is an alloy of a workshop folder: name it with --folder.")
    if in_alloy not in stated.alloys:
        raise UsageFault(f'no alloy "{in_alloy}". {did_you_mean(in_alloy, stated.alloys)}')
    if state not in ("as-cast", "finished"):
        raise UsageFault(f'--weighed "{state}": write as-cast or finished.')
    leaves = (
        left_by(stated.processes, process, in_alloy, stated.alloys[in_alloy].composition)
        if state == "finished"
        else 1.0
    )
    of = f"{in_alloy} of {metal_g:g} g, " + ("as cast" if state == "as-cast" else "finished")
    yield MeasuredThing(of, volume_stated({"metal_g": metal_g}, stated.alloys[in_alloy].density, leaves))


def _together(options: Mapping[str, object]) -> None:
    given = [option for option, value in options.items() if value is not None]
    missing = [option for option, value in options.items() if value is None]
    if given and missing:
        raise UsageFault(f"{given[0]} needs {' and '.join(missing)} beside it.")


def card(
    thing: MeasuredThing, alloys: Mapping[str, Alloy], steps: Iterable[Step] | None, shown: Shown, first: bool
) -> None:
    """One thing: its figures, what is wrong with it, its masses."""
    console = screen.out()
    if not first:
        console.print()
    console.print(thing.title, style="bold", soft_wrap=True)
    if thing.volume_cm3 is not None:
        _line("volume", f"{figure(thing.volume_cm3)} cm³")
    if thing.mesh is not None:
        mesh = thing.mesh
        _line("surface", f"{figure(mesh.area_cm2)} cm²")
        _line("extent", shown.lengths(mesh.extent_mm))
        if not mesh.unit_stated:
            inches = shown.lengths(mesh.extent_if_inches_mm)
            _line("", f"The file says no unit; mm is assumed. Drawn in inches it would be {inches}: --unit in.")
        for remark in mesh.remarks:
            _line("", f"{remark[0].upper()}{remark[1:]}.")
        _line("sound", "yes" if not thing.faults else "no")
    for fault in thing.faults:
        _line("", f"{fault[0].upper()}{fault[1:]}")
    if alloys and thing.volume_cm3 is not None:
        console.print()
        if thing.reliable:
            console.print(_table(thing.volume_cm3, alloys, steps, shown))
        else:
            console.print("No masses: the volume may be off by more than a hundredth.")


def figure(amount: float) -> str:
    """Four significant figures, and all that stand before the point."""
    digits = 3 - math.floor(math.log10(amount)) if amount > 0 else 0
    return f"{amount:,.{max(0, digits)}f}"


def _line(word: str, text: str) -> None:
    width = min(screen.out().width, 80)
    print(textwrap.fill(text, width, initial_indent=f"  {word:<9}", subsequent_indent=" " * 11, break_on_hyphens=False))


def _table(volume_cm3: float, alloys: Mapping[str, Alloy], steps: Iterable[Step] | None, shown: Shown) -> Table:
    found = masses(volume_cm3, alloys, steps)
    unit = shown.show.mass
    with_pour = any(mass.pour_c is not None for mass in found)
    heads = ["in", "g/cm3", f"as cast, {unit}"]
    heads += [f"finished, {unit}"] * (steps is not None) + ["poured at"] * with_pour
    rows = []
    for mass in found:
        row = [mass.alloy, f"{mass.density:.2f}", shown.mass(mass.as_cast_g, unit=False)]
        row += [shown.mass(mass.finished_g, unit=False)] * (steps is not None)
        row += [shown.temperature(mass.pour_c)] * with_pour
        rows.append(row)
    return screen.table(heads, rows)


def flat(thing: MeasuredThing, alloys: Mapping[str, Alloy], steps: Iterable[Step] | None) -> dict[str, Any]:
    """One thing for `--csv`: the fields of `--json`, and gram in every alloy."""
    record = thing.record()
    extent = record.pop("extent_mm") or (None, None, None)
    faults = record.pop("faults")
    record |= dict(zip(("x_mm", "y_mm", "z_mm"), extent, strict=True))
    if thing.file is None:
        record["file"] = thing.title
    record["faults"] = " ".join(faults)
    for mass in masses(thing.volume_cm3, alloys, steps) if thing.volume_cm3 is not None and thing.reliable else ():
        record[f"{mass.alloy} as_cast_g"] = mass.as_cast_g
        if mass.finished_g is not None:
            record[f"{mass.alloy} finished_g"] = mass.finished_g
    return record
