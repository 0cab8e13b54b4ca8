"""The steps of a process in exact fractions: how often each is done, and what it costs."""

from __future__ import annotations

import math
from fractions import Fraction

from .recompute_folder import Folder, merged
from .recompute_metal import ZERO, metal_prices, purchase_tax
from .recompute_sizes import PI

TOLERANCE = Fraction(1, 10**9)


# Workshop rates --------------------------------------------------------------------------------


def role_rate(workshop: dict, role: str) -> Fraction:
    """An hour of a role, with what comes on top."""
    return workshop["labour"][role]["rate"] * (1 + workshop["labour"][role].get("on_cost", ZERO))


def is_own(workshop: dict, role: str) -> bool:
    """Whether an hour of this role is the maker's own, not hired help."""
    return workshop["labour"][role].get("own", True)


def overhead_rate(workshop: dict) -> Fraction:
    """Overhead on an attended hour."""
    return workshop["overhead"]["per_month"] / workshop["overhead"]["productive_hours"]


def machine_rate(workshop: dict, name: str) -> Fraction:
    """An hour of a machine."""
    machine = workshop["machines"][name]
    wear = (machine["purchase"] - machine.get("residual", ZERO)) / machine["life_hours"]
    power = machine.get("power_kw", ZERO) * machine.get("duty", Fraction(1))
    return wear + machine.get("maintenance_per_hour", ZERO) + power * workshop["energy"]["price_per_kwh"]


def material_rate(folder: Folder, name: str) -> Fraction:
    """One unit of a material, waste and tax in it."""
    material = folder.workshop["materials"][name]
    price = material["pack_price"] / material["pack_size"] * (1 + material.get("waste", ZERO))
    return price * (1 + purchase_tax(folder))


def powder_g(flask: dict) -> Fraction:
    """Investment powder for one empty flask, in grams."""
    if "powder_g" in flask:
        return flask["powder_g"]
    diameter_cm, height_cm = flask["diameter_mm"] / 10, flask["height_mm"] / 10
    slurry = PI / 4 * diameter_cm**2 * height_cm * flask["slurry_density"]
    return slurry / (1 + flask["water_per_100"] / 100)


# Steps -----------------------------------------------------------------------------------------


def steps_of(folder: Folder, figures: dict, alloy: str, as_part: bool) -> list[dict]:
    """The steps that this alloy has, with the product's own figures in them."""
    holds = folder.alloys[alloy]["composition"]
    steps = []
    for general in folder.processes[figures["process"]]:
        step = merged(general, figures.get("steps", {}).get(general["name"], {}))
        if "alloys" in step and alloy not in step["alloys"]:
            continue
        if "holding" in step and not any(holds.get(element, ZERO) > 0 for element in step["holding"]):
            continue
        if as_part and not step.get("as_part", True) and "takes_metal" not in step:
            continue
        steps.append(step)
    return steps


def metal_step_of(steps: list[dict]) -> int | None:
    """Where in the list the metal comes in; None for what is only joined of parts."""
    places = [place for place, step in enumerate(steps) if "takes_metal" in step]
    if len(places) > 1:
        raise ValueError(f"{len(places)} steps take metal")
    return places[0] if places else None


def ceiling(number: Fraction) -> Fraction:
    """The contract's whole number: ceil(x - 1e-9)."""
    return Fraction(math.ceil(number - TOLERANCE))


def counts(step: dict, starts: Fraction, castings: Fraction, figures: dict, run, charge_design: bool, note):
    """`units` and `times` of a step, and how many flasks' powder it takes, per good set."""
    together = step.get("together", Fraction(1))
    if step["per"] == "design":
        units = 1 / figures["expected_sales"]
        if run is not None and charge_design:
            return units, 1 / run / together, units
        return units, units / together, units
    if step["per"] == "piece":
        units = castings * starts
    elif step["per"] == "flask":
        units = castings * starts / figures["pieces_per_flask"]
    else:
        units = starts
    if run is None or step.get("shared", False):
        return units, units / together, units
    if step["per"] == "flask":
        note_count(note, step, run * units)
        whole = ceiling(run * units)
        return units, ceiling(whole / together) / run, whole / run
    if together > 1:
        note_count(note, step, run * units / together)
        return units, ceiling(run * units / together) / run, units
    return units, units, units


def note_count(note, step: dict, number: Fraction) -> None:
    """A count that lies 1e-9 above a whole number is on the edge of being made one more."""
    shifted = number - TOLERANCE
    note(f"steps: {step['name']}", "edge", "whole count", shifted - round(shifted), number)


def too_light(step: dict, finished_g: Fraction, castings: Fraction, note) -> bool:
    """Whether a step is not done, because the set or the casting is lighter than it is done from."""
    if "from_g" not in step:
        return False
    mass = finished_g / castings if step["per"] == "piece" else finished_g
    short_by = step["from_g"] - TOLERANCE - mass
    note(f"steps: {step['name']}", "edge", "finished mass against from_g", short_by, mass)
    return short_by > 0


def step_costs(folder: Folder, figures: dict, step: dict, row: dict, flasks: Fraction, size: dict) -> dict:
    """Hours and costs of one step."""
    workshop = folder.workshop
    minutes = row["times"] * step.get("minutes", ZERO)
    minutes += row["units"] * step.get("rework", ZERO) * step.get("rework_minutes", ZERO)
    if step["per"] == "piece":
        minutes *= size["mean_effort"]
    hours = minutes / 60
    labour = hours * role_rate(workshop, step["labour"]) if "labour" in step else ZERO
    machine = ZERO
    if "machine" in step:
        machine = row["times"] * step.get("machine_minutes", ZERO) / 60 * machine_rate(workshop, step["machine"])
    material = ZERO
    for use in step.get("uses", []):
        often = row["times"] if step["per"] == "design" else row["starts"]
        if "microns" in use:
            material += often * plating(folder, use, size)
            continue
        rate = material_rate(folder, use["material"])
        if "per_cm3" in use:
            material += often * use["per_cm3"] * size["volume"] * rate
        elif "per_cm2" in use:
            material += often * use["per_cm2"] * size["surface"] * rate
        elif "per_g" in use:
            material += often * use["per_g"] * size["as_cast_g"] * rate
        elif use["quantity"] == "flask":
            material += flasks * powder_g(workshop["flasks"][figures["flask"]]) * rate
        else:
            material += row["times"] * use["quantity"] * rate
    return {
        "step_labour_hours": hours,
        "step_labour_cost": labour,
        "step_overhead_cost": hours * overhead_rate(workshop),
        "step_machine_cost": machine,
        "step_material_cost": material,
        "step_fee_cost": row["times"] * step.get("fee", ZERO) * (1 + purchase_tax(folder)),
    }


def plating(folder: Folder, use: dict, size: dict) -> Fraction:
    """What a layer on a whole set costs: its thickness over the surface, bought as grain."""
    layer_cm3 = size["surface"] * use.get("covers", Fraction(1)) * use["microns"] / 10000
    layer_g = layer_cm3 * folder.alloys[use["alloy"]]["density"]
    return layer_g * (1 + use.get("waste", ZERO)) * metal_prices(folder, use["alloy"])["buy_price_per_g"]
