"""The cost model recomputed from a workshop folder in exact fractions, one variant after another.

Nothing here comes from the package: files are read with `tomllib` and `csv`, figures are
`fractions.Fraction` from the text that the maker wrote, and every quantity is a loop and an `if`
that can be read beside the contract. Only pi is a float's, so that float64 can be compared with it.
Meshes are left out. Reading is in `recompute_folder.py`, sizes are in `recompute_sizes.py`, metal in
`recompute_metal.py`, steps in `recompute_steps.py`, prices in `recompute_prices.py`, the ladder in
`recompute_ladder.py`, quotations in `recompute_quote.py`.

Assumed where the contract is silent:

- variants come in the order of the products' file names, then of the product's own alloys, then of its sizes;
- with the design charged to a run of Q sets, the design step's `times` are 1/Q, its `units` still 1 / expected_sales;
- `--charge-design` without a run changes nothing;
- a product without castings, whose metal prices decide nothing, shows those of grain;
- what is told of every size in a run is that of a run of Q sets of that size.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import date
from fractions import Fraction
from pathlib import Path

from .recompute_folder import Folder, figures_of, read_folder
from .recompute_ladder import prices_of
from .recompute_metal import NO_METAL, ZERO, metal_balance, metal_prices, purchase_tax
from .recompute_prices import at_price
from .recompute_sizes import mean_growth, sizes_of
from .recompute_steps import counts, is_own, metal_step_of, step_costs, steps_of, too_light

FLOAT_NOISE = Fraction(3, 10**14)  # relative; what some hundred float64 operations may leave
LINES = tuple(line + "_cost" for line in ("metal", "labour", "overhead", "machine", "material", "fee", "findings"))
HOURS = ("labour_hours", "own_labour_hours", "own_labour_cost")


@dataclass(frozen=True)
class CloseCall:
    """A decision that float64 noise may take the other way.

    `kind` is "edge" where the figure lies on the very edge of a stated tolerance, and "tie" where two
    figures are equal and the contract states no tolerance. `where` is "steps: burn out" or "prices: shop",
    `gap` is the distance to the edge. A step of a part is told of the variant that the part goes into.
    """

    sku: str
    alloy: str
    where: str
    kind: str
    what: str
    gap: Fraction


@dataclass(frozen=True)
class Question:
    """What is asked of a folder: the steady state, or a run of so many sets."""

    folder: Folder
    number: type
    run: Fraction | None = None
    charge_design: bool = False
    calls: list[CloseCall] = field(default_factory=list)

    def noting(self, sku: str, alloy: str) -> Callable:
        """A function that writes down what noise may decide in one variant."""

        def note(where: str, kind: str, what: str, gap: Fraction, size: Fraction) -> None:
            if abs(gap) < FLOAT_NOISE * max(abs(size), 1):
                self.calls.append(CloseCall(sku, alloy, where, kind, what, gap))

        return note


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
    question = Question(read, number, None if run is None else Fraction(run), charge_design)
    variants = []
    for product in read.products:
        for alloy in product["alloys"]:
            variants += variants_of(question, product, alloy)
    if close_calls is not None:
        close_calls.extend(question.calls)
    return variants


def variants_of(question: Question, product: dict, alloy: str) -> list[dict]:
    """A product in one alloy, priced: one variant, or one for every size that has its own price."""
    figures = figures_of(product, alloy)
    sizes = sizes_of(figures, question.number)
    if sizes and figures["sizes"].get("each_priced", False):
        return [priced(question, figures, alloy, size.growth, size.name) for size in sizes]
    variant = priced(question, figures, alloy, mean_growth(sizes), None)
    if sizes:
        variant["sizes"] = [told_of_a_size(question, figures, variant, size) for size in sizes]
    return [variant]


def priced(question: Question, figures: dict, alloy: str, growth: Fraction, size: str | None) -> dict:
    """One variant with its prices; the sku of a size that has its own price ends in the size."""
    sku = figures["sku"] if size is None else f"{figures['sku']}-{size}"
    note = question.noting(sku, alloy)
    variant = {"sku": sku} | costed(question, figures, alloy, growth, False, question.run, note)
    if size is not None:
        variant["size"] = size
    variant["prices"] = prices_of(question.folder, figures, variant, note)
    return variant


def told_of_a_size(question: Question, figures: dict, variant: dict, size) -> dict:
    """What one size weighs and costs, and what is left of the price that all sizes have."""
    alloy = variant["alloy"]
    note = question.noting(variant["sku"], alloy)
    alone = costed(question, figures, alloy, size.growth, False, question.run, note)
    margins = {
        channel: at_price(question.folder, figures, alone, channel, price["price"], note)["margin"]
        for channel, price in variant["prices"].items()
    }
    return {
        "size": size.name,
        "length_mm": size.length_mm,
        "finished_g": alone["finished_g"],
        "total_g": alone["total_g"],
        "unit_cost": alone["unit_cost"],
        "margin": margins,
    }


# Costs -----------------------------------------------------------------------------------------


def volumes(folder: Folder, figures: dict, alloy: str, left_by_finishing: Fraction, growth: Fraction) -> dict:
    """Pattern volume (cm3), surface (cm2), as-cast mass (g), castings and mean effort of a set."""
    scale = figures.get("scale", Fraction(1))
    shrinkage = figures.get("shrinkage", ZERO)
    volume = surface = mass = count = effort = ZERO
    for casting in figures.get("castings", []):
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
        one *= growth * scale**3
        count += casting["count"]
        effort += casting["count"] * casting.get("effort", Fraction(1))
        volume += casting["count"] * one
        surface += casting["count"] * casting.get("area_cm2", ZERO) * growth * scale**2
        mass += casting["count"] * one * left_by_shrinking * folder.alloys[alloy]["density"]
    return {
        "volume": volume,
        "surface": surface,
        "as_cast_g": mass,
        "castings_per_set": count,
        "mean_effort": effort / count if count else None,
    }


def costed(question: Question, figures: dict, alloy: str, growth: Fraction, as_part: bool, run, note: Callable) -> dict:
    """A product in one alloy without its prices: metal prices, balance, costs, steps and parts."""
    folder = question.folder
    steps = steps_of(folder, figures, alloy, as_part)
    metal_step = metal_step_of(steps)
    prices = metal_prices(folder, alloy, "pour" if metal_step is None else steps[metal_step]["takes_metal"])
    left_by_finishing = Fraction(1)
    for step in steps:
        left_by_finishing *= 1 - step.get("metal_loss", ZERO)
    size = volumes(folder, figures, alloy, left_by_finishing, growth)
    if (metal_step is None) != (size["castings_per_set"] == 0):
        raise ValueError(f"{figures['sku']}: castings and a step that takes metal go together")
    finished_g = size["as_cast_g"] * left_by_finishing

    rows, flasks_per_set = step_rows(question, figures, steps, metal_step, size, finished_g, run, note)
    balance = NO_METAL
    if metal_step is not None:
        balance = metal_balance(folder, figures, alloy, steps, rows, metal_step, flasks_per_set)
    variant = {"alloy": alloy, **prices}
    variant |= {quantity: size[quantity] for quantity in ("castings_per_set", "mean_effort", "as_cast_g")}
    variant |= {"finished_g": finished_g, **balance}
    variant["metal_cost"] = (
        balance["fresh_g"] * prices["buy_price_per_g"]
        - balance["surplus_g"] * prices["scrap_price_per_g"]
        - balance["caught_g"] * prices["lemel_price_per_g"]
    )
    variant["melt_value"] = finished_g * prices["melt_value_per_g"]
    variant["total_g"] = finished_g
    for quantity in ("labour_hours", "labour_cost", "overhead_cost", "machine_cost", "material_cost", "fee_cost"):
        variant[quantity] = sum((row["step_" + quantity] for row in rows), ZERO)
    own = [
        row
        for step, row in zip(steps, rows, strict=True)
        if "labour" in step and is_own(folder.workshop, step["labour"])
    ]
    variant["own_labour_hours"] = sum((row["step_labour_hours"] for row in own), ZERO)
    variant["own_labour_cost"] = sum((row["step_labour_cost"] for row in own), ZERO)
    add_findings(question, figures, alloy, variant, run, note)
    variant["unit_cost"] = sum((variant[line] for line in LINES), ZERO)
    variant["steps"] = rows
    return variant


def step_rows(
    question: Question, figures: dict, steps: list, metal_step: int | None, size: dict, finished_g, run, note: Callable
) -> tuple[list[dict], Fraction]:
    """The row of every step, and the flasks of the metal step per set."""
    # Starts run backwards from one good set; mass runs forwards from the metal step.
    starts = [Fraction(1)] * (len(steps) + 1)
    for place in reversed(range(len(steps))):
        starts[place] = starts[place + 1] / steps[place].get("good", Fraction(1))
    mass_in = {}
    if metal_step is not None:
        mass_in[metal_step] = size["as_cast_g"]
        for place in range(metal_step + 1, len(steps)):
            mass_in[place] = mass_in[place - 1] * (1 - steps[place - 1].get("metal_loss", ZERO))
    rows = []
    flasks_per_set = ZERO
    for place, step in enumerate(steps):
        castings = size["castings_per_set"]
        units, times, flasks = counts(step, starts[place], castings, figures, run, question.charge_design, note)
        if step["per"] == "flask" and place == metal_step:
            flasks_per_set = flasks
        if too_light(step, finished_g, castings, note):
            times = ZERO
        row = {"name": step["name"], "starts": starts[place], "units": units, "times": times}
        row |= step_costs(question.folder, figures, step, row, flasks, size)
        if place in mass_in:
            row["mass_in"] = mass_in[place]
        rows.append(row)
    return rows, flasks_per_set


def add_findings(question: Question, figures: dict, alloy: str, variant: dict, run, note: Callable) -> None:
    """Adds to a variant what is bought for it and what of the maker's own goes into it."""
    folder = question.folder
    variant["findings_cost"] = variant["findings_metal_cost"] = ZERO
    parts = []
    for finding in figures.get("findings", []):
        if "alloys" in finding and alloy not in finding["alloys"]:
            continue
        quantity = finding["quantity"]
        often = quantity * (1 + finding.get("spoil", ZERO))
        if "product" in finding:
            part = costed_part(question, finding, alloy, None if run is None else run * often, note)
            for line in (*LINES, *HOURS, "findings_metal_cost"):
                variant[line] += often * part[line]
            variant["melt_value"] += quantity * part["melt_value"]
            variant["total_g"] += quantity * part["total_g"]
            parts.append(told_of_a_part(finding, part))
            continue
        metal_g = finding.get("metal_g", ZERO)
        in_metal = ZERO
        if metal_g:
            melt_value_per_g = metal_prices(folder, finding["alloy"])["melt_value_per_g"]
            in_metal = metal_g * melt_value_per_g * (1 + finding.get("premium", ZERO))
            variant["melt_value"] += quantity * metal_g * melt_value_per_g
        taxed = often * (1 + purchase_tax(folder))
        variant["findings_metal_cost"] += taxed * in_metal
        variant["findings_cost"] += taxed * (finding.get("price", ZERO) + in_metal)
        variant["total_g"] += quantity * (metal_g + finding.get("other_g", ZERO))
    if parts:
        variant["parts"] = parts


def costed_part(question: Question, finding: dict, alloy: str, run, note: Callable) -> dict:
    """One piece of the maker's own, as a part; `run` is how many of them the whole's run takes."""
    named = finding["product"]
    in_alloy = finding.get("alloy", alloy)
    for product in question.folder.products:
        if in_alloy not in product["alloys"]:
            continue
        figures = figures_of(product, in_alloy)
        sizes = sizes_of(figures, question.number)
        if sizes and figures["sizes"].get("each_priced", False):
            for size in sizes:
                if named == f"{product['sku']}-{size.name}":
                    return {"sku": named} | costed(question, figures, in_alloy, size.growth, True, run, note)
        elif named == product["sku"]:
            return {"sku": named} | costed(question, figures, in_alloy, mean_growth(sizes), True, run, note)
    raise LookupError(f"no piece {named} in {in_alloy}")


def told_of_a_part(finding: dict, part: dict) -> dict:
    """What is shown of a part: one of them, without spoil."""
    told = {"sku": part["sku"], "alloy": part["alloy"], "quantity": finding["quantity"]}
    told["spoil"] = finding.get("spoil", ZERO)
    shown = ("finished_g", "total_g", "melt_value", "labour_hours", *LINES, "findings_metal_cost", "unit_cost")
    return told | {quantity: part[quantity] for quantity in shown}
