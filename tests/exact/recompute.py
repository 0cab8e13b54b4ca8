"""The cost model recomputed from a workshop folder in exact fractions, one variant after another.

Nothing here comes from the package: files are read with `tomllib` and `csv`, figures are
`fractions.Fraction` from the text that the maker wrote, and every quantity is a loop and an `if`
that can be read beside the contract. Only pi is a float's, so that float64 can be compared with it.
Meshes are left out. Reading is in `recompute_folder.py`, prices are in `recompute_prices.py`.

Assumed where the contract is silent:

- variants come in the order of the products' file names, then of the product's own alloys;
- with the design charged to a run of Q sets, the design step's `units` are 1/Q too, shared or not;
- `--charge-design` without a run changes nothing.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from fractions import Fraction
from pathlib import Path

from .recompute_folder import Folder, merged, read_folder, spot_per_g
from .recompute_prices import prices_of

PI = Fraction(math.pi)
TOLERANCE = Fraction(1, 10**9)
FLOAT_NOISE = Fraction(3, 10**14)  # relative; what some hundred float64 operations may leave


@dataclass(frozen=True)
class CloseCall:
    """A decision that float64 noise may take the other way.

    `kind` is "edge" where the figure lies on the very edge of a stated tolerance, and "tie" where two
    figures are equal and the contract states no tolerance. `where` is "steps: burn out" or "prices: shop",
    `gap` is the distance to the edge.
    """

    sku: str
    alloy: str
    where: str
    kind: str
    what: str
    gap: Fraction


def recompute(
    folder: Path,
    as_of: date,
    run: int | None = None,
    charge_design: bool = False,
    close_calls: list[CloseCall] | None = None,
    number: type = Fraction,
) -> list[dict]:
    """Every variant of a folder, in the form of the `variants` of `cost --json`, in fractions.

    `run` is the number of sets of a quotation, None for the steady state. Decisions that float noise
    may take the other way are appended to `close_calls`. Undefined quantities are None. With
    `number=float` the same lines run on float64, which shows what noise alone does.
    """
    read = read_folder(folder, as_of, number)
    calls: list[CloseCall] = []
    variants = []
    for product in read.products:
        for alloy in product["alloys"]:
            variants.append(variant_of(read, product, alloy, run, charge_design, calls))
    if close_calls is not None:
        close_calls.extend(calls)
    return variants


# Metal price per gram --------------------------------------------------------------------------


def metal_prices(folder: Folder, alloy: str, cut: bool) -> dict:
    """The five prices per gram of an alloy; `cut` says that it is bought as sheet, wire or rod."""
    stated = folder.alloys[alloy]
    if stated["priced_by"] == "quote":
        melt_value = scrap_value = spot_per_g(folder, stated["quote"])
    else:
        melt_value = scrap_value = Fraction(0)
        for element, share in stated["composition"].items():
            if element in stated.get("unpriced", []):
                continue
            value = share * spot_per_g(folder, element)
            melt_value += value
            if "scrap_pays" not in stated or element in stated["scrap_pays"]:
                scrap_value += value
    premium = stated.get("premium", Fraction(0))
    fabrication = stated.get("fabrication_per_g", Fraction(0))
    if cut:
        premium = stated.get("stock_premium", premium)
        fabrication = stated.get("stock_fabrication_per_g", fabrication)
    tax = folder.workshop.get("unreclaimed_tax", Fraction(0))
    scrap = scrap_value * stated.get("scrap_payout", Fraction(0)) - stated.get("scrap_fee_per_g", Fraction(0))
    lemel = scrap_value * stated.get("lemel_payout", Fraction(0)) - stated.get("lemel_fee_per_g", Fraction(0))
    return {
        "melt_value_per_g": melt_value,
        "scrap_value_per_g": scrap_value,
        "buy_price_per_g": (melt_value * (1 + premium) + fabrication) * (1 + tax),
        "scrap_price_per_g": max(Fraction(0), scrap),
        "lemel_price_per_g": max(Fraction(0), lemel),
    }


# Workshop rates --------------------------------------------------------------------------------


def role_rate(workshop: dict, role: str) -> Fraction:
    """An hour of a role, with what comes on top."""
    return workshop["labour"][role]["rate"] * (1 + workshop["labour"][role].get("on_cost", Fraction(0)))


def overhead_rate(workshop: dict) -> Fraction:
    """Overhead on an attended hour."""
    return workshop["overhead"]["per_month"] / workshop["overhead"]["productive_hours"]


def machine_rate(workshop: dict, name: str) -> Fraction:
    """An hour of a machine."""
    machine = workshop["machines"][name]
    wear = (machine["purchase"] - machine.get("residual", Fraction(0))) / machine["life_hours"]
    power = machine.get("power_kw", Fraction(0)) * machine.get("duty", Fraction(1))
    return wear + machine.get("maintenance_per_hour", Fraction(0)) + power * workshop["energy"]["price_per_kwh"]


def material_rate(workshop: dict, name: str) -> Fraction:
    """One unit of a material, waste and tax in it."""
    material = workshop["materials"][name]
    price = material["pack_price"] / material["pack_size"] * (1 + material.get("waste", Fraction(0)))
    return price * (1 + workshop.get("unreclaimed_tax", Fraction(0)))


def powder_g(flask: dict) -> Fraction:
    """Investment powder for one empty flask, in grams."""
    if "powder_g" in flask:
        return flask["powder_g"]
    diameter_cm, height_cm = flask["diameter_mm"] / 10, flask["height_mm"] / 10
    slurry = PI / 4 * diameter_cm**2 * height_cm * flask["slurry_density"]
    return slurry / (1 + flask["water_per_100"] / 100)


# One variant -----------------------------------------------------------------------------------


def ceiling(number: Fraction) -> Fraction:
    """The contract's whole number: ceil(x - 1e-9)."""
    return Fraction(math.ceil(number - TOLERANCE))


def steps_of(folder: Folder, figures: dict, alloy: str) -> list[dict]:
    """The steps that this alloy has, with the product's own figures in them."""
    steps = []
    for general in folder.processes[figures["process"]]:
        step = merged(general, figures.get("steps", {}).get(general["name"], {}))
        if "alloys" not in step or alloy in step["alloys"]:
            steps.append(step)
    return steps


def metal_step_of(steps: list[dict]) -> int:
    """Where in the list the metal comes in."""
    places = [place for place, step in enumerate(steps) if "takes_metal" in step]
    if len(places) != 1:
        raise ValueError(f"{len(places)} steps take metal")
    return places[0]


def sizes(folder: Folder, figures: dict, alloy: str, left_by_finishing: Fraction) -> dict:
    """Pattern volume (cm3), surface (cm2) and as-cast mass (g) of a set."""
    scale = figures.get("scale", Fraction(1))
    shrinkage = figures.get("shrinkage", Fraction(0))
    volume = surface = mass = count = Fraction(0)
    for casting in figures["castings"]:
        left_by_shrinking = (1 - shrinkage) ** 3
        if "volume_cm3" in casting:
            one = casting["volume_cm3"]
        elif "model_g" in casting:
            one = casting["model_g"] / casting["model_density"]
        else:
            one = casting["metal_g"] / folder.alloys[casting["in_alloy"]]["density"]
            if casting["weighed"] == "finished":
                one /= left_by_finishing
            left_by_shrinking = Fraction(1)
        one *= scale**3
        count += casting["count"]
        volume += casting["count"] * one
        surface += casting["count"] * casting.get("area_cm2", Fraction(0)) * scale**2
        mass += casting["count"] * one * left_by_shrinking * folder.alloys[alloy]["density"]
    return {"volume": volume, "surface": surface, "as_cast_g": mass, "castings_per_set": count}


def variant_of(
    folder: Folder, product: dict, alloy: str, run: int | None, charge_design: bool, calls: list[CloseCall]
) -> dict:
    """One product in one alloy: metal prices, balance, costs, steps and prices."""
    figures = merged(product, product.get("for_alloy", {}).get(alloy, {}))
    steps = steps_of(folder, figures, alloy)
    metal_step = metal_step_of(steps)
    cut = steps[metal_step]["takes_metal"] == "cut"
    prices = metal_prices(folder, alloy, cut)

    def note(where: str, kind: str, what: str, gap: Fraction, size: Fraction) -> None:
        if abs(gap) < FLOAT_NOISE * max(abs(size), 1):
            calls.append(CloseCall(product["sku"], alloy, where, kind, what, gap))

    left_by_finishing = Fraction(1)
    for step in steps:
        left_by_finishing *= 1 - step.get("metal_loss", Fraction(0))
    size = sizes(folder, figures, alloy, left_by_finishing)
    as_cast_g = size["as_cast_g"]
    finished_g = as_cast_g * left_by_finishing

    # Starts run backwards from one good set; mass runs forwards from the metal step.
    starts = [Fraction(1)] * (len(steps) + 1)
    for place in reversed(range(len(steps))):
        starts[place] = starts[place + 1] / steps[place].get("good", Fraction(1))
    mass_in = {metal_step: as_cast_g}
    for place in range(metal_step + 1, len(steps)):
        mass_in[place] = mass_in[place - 1] * (1 - steps[place - 1].get("metal_loss", Fraction(0)))

    rows = []
    flasks_per_set = Fraction(0)
    for place, step in enumerate(steps):
        units, times, flasks = counts(step, starts[place], size["castings_per_set"], figures, run, charge_design, note)
        if step["per"] == "flask" and place == metal_step:
            flasks_per_set = flasks
        if "from_g" in step:
            note(f"steps: {step['name']}", "tie", "finished_g against from_g", finished_g - step["from_g"], finished_g)
            if finished_g < step["from_g"]:
                times = Fraction(0)
        row = {"name": step["name"], "starts": starts[place], "units": units, "times": times}
        row |= step_costs(folder, figures, step, row, flasks, size)
        if place >= metal_step:
            row["mass_in"] = mass_in[place]
        rows.append(row)

    balance = metal_balance(folder, figures, alloy, steps, rows, flasks_per_set)
    variant = {"sku": product["sku"], "alloy": alloy, **prices}
    variant |= {"castings_per_set": size["castings_per_set"], "as_cast_g": as_cast_g, "finished_g": finished_g}
    variant |= balance
    variant["metal_cost"] = (
        balance["fresh_g"] * prices["buy_price_per_g"]
        - balance["surplus_g"] * prices["scrap_price_per_g"]
        - balance["caught_g"] * prices["lemel_price_per_g"]
    )
    variant["melt_value"] = finished_g * prices["melt_value_per_g"]
    for quantity in ("labour_hours", "labour_cost", "overhead_cost", "machine_cost", "material_cost", "fee_cost"):
        variant[quantity] = sum((row["step_" + quantity] for row in rows), Fraction(0))
    variant |= findings_costs(folder, figures, alloy)
    variant["unit_cost"] = sum(
        variant[part + "_cost"] for part in ("metal", "labour", "overhead", "machine", "material", "fee", "findings")
    )
    variant["steps"] = rows
    variant["prices"] = prices_of(folder, figures, variant, note)
    return variant


def counts(step: dict, starts: Fraction, castings: Fraction, figures: dict, run, charge_design: bool, note):
    """`units` and `times` of a step, and how many flasks' powder it takes, per good set."""
    together = step.get("together", Fraction(1))
    if step["per"] == "design":
        units = 1 / figures["expected_sales"]
        if run is not None and charge_design:
            return units, Fraction(1, run) / together, units
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


def step_costs(folder: Folder, figures: dict, step: dict, row: dict, flasks: Fraction, size: dict) -> dict:
    """Hours and costs of one step."""
    workshop = folder.workshop
    zero = Fraction(0)
    minutes = row["times"] * step.get("minutes", zero)
    minutes += row["units"] * step.get("rework", zero) * step.get("rework_minutes", zero)
    hours = minutes / 60
    labour = hours * role_rate(workshop, step["labour"]) if "labour" in step else zero
    machine = zero
    if "machine" in step:
        machine = row["times"] * step.get("machine_minutes", zero) / 60 * machine_rate(workshop, step["machine"])
    material = zero
    for use in step.get("uses", []):
        rate = material_rate(workshop, use["material"])
        often = row["times"] if step["per"] == "design" else row["starts"]
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
        "step_fee_cost": row["times"] * step.get("fee", zero) * (1 + workshop.get("unreclaimed_tax", zero)),
    }


def metal_balance(
    folder: Folder, figures: dict, alloy: str, steps: list[dict], rows: list[dict], flasks_per_set: Fraction
) -> dict:
    """Where the metal goes, in grams per good set; `rows` hold what is known of the steps so far."""
    stated = folder.alloys[alloy]
    zero = Fraction(0)
    metal_step = metal_step_of(steps)
    melt_loss = stated.get("melt_loss", zero)
    share = stated.get("max_return_share", folder.workshop.get("max_return_share", Fraction(1, 2)))
    if steps[metal_step]["takes_metal"] == "cut":
        melt_loss = share = zero
    poured = rows[metal_step]["starts"] * rows[metal_step]["mass_in"]
    sprue = figures["sprue_ratio"] * poured
    if flasks_per_set:
        button_cm3 = folder.workshop["flasks"][figures["flask"]].get("button_cm3", zero)
        sprue += button_cm3 * stated["density"] * flasks_per_set
    charge = (poured + sprue) / (1 - melt_loss)
    removed = caught = rejected = refined = lost = zero
    for step, row in zip(steps[metal_step:], rows[metal_step:], strict=True):
        loss = step.get("metal_loss", zero)
        entering = row["starts"] * row["mass_in"]
        removed += entering * loss
        caught += entering * loss * step.get("caught", zero)
        spoiled = entering * (1 - step.get("good", Fraction(1))) * (1 - loss)
        rejected += spoiled
        if step.get("rejects", "crucible") == "refiner":
            refined += spoiled
        elif step.get("rejects", "crucible") == "lost":
            lost += spoiled
    returns = sprue + rejected - refined - lost
    reused = min(returns, share * charge)
    return {
        "poured_g": poured,
        "flasks_per_set": flasks_per_set,
        "sprue_g": sprue,
        "charge_g": charge,
        "melt_lost_g": charge * melt_loss,
        "removed_g": removed,
        "caught_g": caught,
        "rejected_g": rejected,
        "reject_refined_g": refined,
        "reject_lost_g": lost,
        "returns_g": returns,
        "reused_g": reused,
        "surplus_g": returns - reused + refined,
        "fresh_g": charge - reused,
    }


def findings_costs(folder: Folder, figures: dict, alloy: str) -> dict:
    """Bought parts that belong to this alloy, and the metal in them (bought as grain)."""
    tax = folder.workshop.get("unreclaimed_tax", Fraction(0))
    whole = metal = Fraction(0)
    for finding in figures.get("findings", []):
        if "alloys" in finding and alloy not in finding["alloys"]:
            continue
        in_metal = Fraction(0)
        if finding.get("metal_g"):
            in_metal = finding["metal_g"] * metal_prices(folder, finding["alloy"], cut=False)["buy_price_per_g"]
        spoiled = finding["quantity"] * (1 + finding.get("spoil", Fraction(0)))
        whole += spoiled * (finding["price"] * (1 + tax) + in_metal)
        metal += spoiled * in_metal
    return {"findings_metal_cost": metal, "findings_cost": whole}
