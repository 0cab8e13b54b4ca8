"""From a volume to the mass in every alloy, and from what was weighed back to the volume."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from typing import NamedTuple

from pricing.errors import UsageFault, did_you_mean
from pricing.formulas.by_itself import by_itself
from pricing.formulas.graph import cost_model
from pricing.model.alloy import Alloy
from pricing.model.process import Step
from pricing.shown import percent


class Mass(NamedTuple):
    """Mass of one piece in an alloy, in gram; `finished_g` is None where no process says what finishing takes off."""

    alloy: str
    density: float
    as_cast_g: float
    finished_g: float | None
    pour_c: float | None


def masses(volume_cm3: float, alloys: Mapping[str, Alloy], steps: Iterable[Step] | None = None) -> list[Mass]:
    """The mass of this volume in every alloy: volume × density, without shrinkage, and after the steps' losses."""
    steps = None if steps is None else tuple(steps)
    as_cast, finished = by_itself("as_cast_g"), by_itself("finished_g")
    found = []
    for name, alloy in alloys.items():
        cast = as_cast(casting_count=[1.0], casting_metal_cm3=[volume_cm3], size_growth=1.0, density=alloy.density)
        left = (
            None
            if steps is None
            else finished(as_cast_g=cast, finished_share=finishing_leaves(steps, name, alloy.composition))
        )
        found.append(Mass(name, alloy.density, float(cast), None if left is None else float(left), alloy.pour_c))
    return found


def finishing_leaves(steps: Iterable[Step], alloy: str, composition: Collection[str]) -> float:
    """What a process leaves of a casting in this alloy: the product of 1 - metal_loss of its steps."""
    losses = [step.metal_loss for step in steps if step.is_done_in(alloy, composition)]
    return float(by_itself("finished_share")(metal_loss=losses))


def volume_stated(figures: Mapping[str, float], density: float = 1.0, leaves: float = 1.0) -> float:
    """Volume of one casting in cm3, by the figures of whichever way states it, by their keys in a casting.

    A piece of metal has this density (g/cm3), and of one that was weighed finished so much is left (fraction).
    """
    taken = {need.parameter for need in cost_model().quantities["stated_cm3"].needs}
    stated = {companion: True for key in figures if (companion := f"{key}_stated") in taken}
    volume = by_itself("stated_cm3")(density=density, **stated, **figures)
    return float(by_itself("casting_pattern_cm3")(weighed_finished=True, stated_cm3=volume, finished_share=leaves))


def left_by(
    processes: Mapping[str, tuple[Step, ...]], process: str | None, alloy: str, composition: Collection[str]
) -> float:
    """What finishing left of a piece that was weighed finished.

    Without a `process` all of them must agree. Raises UsageFault where they do not, and for an unknown one.
    """
    if process is not None:
        if process not in processes:
            raise UsageFault(f'no process "{process}". {did_you_mean(process, processes)}')
        return finishing_leaves(processes[process], alloy, composition)
    shares = {
        name: finishing_leaves(steps, alloy, composition)
        for name, steps in processes.items()
        if any(step.takes_metal for step in steps)
    }
    if not shares:
        raise UsageFault("--weighed finished needs a process of the folder, which says what finishing takes off.")
    if max(shares.values()) - min(shares.values()) > 1e-9:
        told = ", ".join(f"{name} takes off {percent(1 - share, 1)}" for name, share in shares.items())
        raise UsageFault(f"--weighed finished: say by which --process it was made ({told}).")
    return next(iter(shares.values()))
