"""How many to make at once: cost and price of a run of every size, and what may come off for whoever takes more.

A run pays for whole flasks, kiln loads and barrels, so its unit cost falls in stairs. Every run is the engine's own,
all of them at once as worlds of other numbers of sets; the folder is read and resolved once.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any

import numpy as np

from pricing.costing import postage_faults, price_faults
from pricing.errors import Faults, UsageFault
from pricing.formulas.engine import Computed, compute
from pricing.formulas.worlds import Landing, Worlds
from pricing.records import decimal_price, number
from pricing.studies.prices_out import PricesOut
from pricing.what_if import asking, in_a_run, in_one_order, only

#: The longest staircase.
MOST_LOTS = 2000
#: A cost that differs by no more than this share is the same: noise of the arithmetic.
COST_NOISE = 1e-12
#: So much more comes off from one rung of a ladder to the next.
RUNG = 0.05
#: What is taken of the steps of a run: flasks begun, and how often what is done together is done.
STEPS = ("whole_units", "times", "is_made_whole", "is_flask", "is_design", "together")


@dataclass(frozen=True)
class Lot:
    """A run of so many sets, sold as one order: prices in the channel's currency, costs in the workshop's.

    `price` is what the policy asks of it; `keeping` the list price that earns `Lots.margin`, before rounding;
    `discount` what comes off the price in force then, as a share, below 0 where the lot must cost more. `flasks` and
    `loads`, by the step that is done together, are of the piece itself, not of pieces joined to it. `is_best` says that
    one more costs more apiece, and no smaller lot less.
    """

    quantity: int
    unit_cost: float
    price: float
    keeping: float
    discount: float
    flasks: int
    loads: Mapping[str, int]
    is_best: bool


@dataclass(frozen=True)
class Rung:
    """From so many sets on, and for every lot up to the longest looked at, so much may come off."""

    quantity: int
    discount: float


@dataclass(frozen=True)
class Lots:
    """The staircase of a variant in a channel, and the margin that its price in force earns of a usual order."""

    sku: str
    alloy: str
    channel: str
    price_in_force: float
    margin: float
    lots: tuple[Lot, ...]

    @property
    def best(self) -> tuple[Lot, ...]:
        """The best lot sizes, by rising quantity."""
        return tuple(lot for lot in self.lots if lot.is_best)

    @property
    def ladder(self) -> tuple[Rung, ...]:
        """What may come off, by rising quantity, in steps of `RUNG`, the first 0: every lot from there keeps the
        margin."""
        safe = np.minimum.accumulate([lot.discount for lot in reversed(self.lots)])[::-1]
        found: list[Rung] = []
        for place in range(int(1 / RUNG)):
            off = round(RUNG * place, 2)
            fine = np.flatnonzero(safe >= off - COST_NOISE)
            if not len(fine):
                break
            rung = Rung(self.lots[fine[0]].quantity, off)
            if found and found[-1].quantity == rung.quantity:
                found.pop()  # the same lot allows more
            found.append(rung)
        return tuple(found)


def lots(out: PricesOut, sku: str, alloy: str, channel: str, up_to: int, charge_design: bool = False) -> Lots:
    """Runs of 1 to `up_to` sets of a variant, each sent as one order in a channel.

    Raises UsageFault where there is no such variant or it has no price there, Faults where no price can be had or the
    longest order is heavier than every tier.
    """
    if not 1 <= up_to <= MOST_LOTS:
        raise UsageFault(f"--up-to {up_to}: write a number from 1 to {MOST_LOTS}.")
    resolved = out.computed.resolved
    row = next((row for row, each in enumerate(resolved.variants) if (each.sku, each.alloy) == (sku, alloy)), None)
    column = out.costing.column(channel)
    if row is None or not out.computed.sold_places[row, column]:
        raise UsageFault(f"{sku} in {alloy} has no price in {channel}. Name another alloy or channel.")
    in_force, margin = (float(out.computed[name][row, column]) for name in ("price", "margin"))
    if not np.isfinite(margin) or in_force <= 0:
        raise UsageFault(f"{sku} in {alloy} is sold for nothing in {channel}: there is no margin to keep.")
    longest = in_one_order(in_a_run(only(out.asked.computed.resolved, [row]), up_to, charge_design), up_to)
    asked = compute(longest, out.computed.graph)
    faults = [*price_faults(out.costing.folder, asked), *postage_faults(out.costing.folder, asked, channel)]
    if faults:
        raise Faults(faults)
    keeping = compute(asking(longest, channel, [{"asks_solving": True, "asked_margin": margin}]), out.computed.graph)
    runs = _runs(asked, keeping, column, up_to + 1)
    best = best_places([each["unit_cost"] for each in runs])
    return Lots(
        sku,
        alloy,
        channel,
        in_force,
        margin,
        tuple(
            Lot(place + 1, discount=1 - each["keeping"] / in_force, is_best=place in best, **each)
            for place, each in enumerate(runs[:-1])
        ),
    )


def _runs(asked: Computed, keeping: Computed, column: int, up_to: int) -> list[dict[str, Any]]:
    """The figures of the runs of 1 to `up_to` sets, by the names of `Lot`."""
    found = _at_every_size(asked, up_to, ["unit_cost", "price", *STEPS])
    required = _at_every_size(keeping, up_to, ["required_price"])["required_price"][:, 0, column].tolist()
    costs, prices = found["unit_cost"][:, 0].tolist(), found["price"][:, 0, column].tolist()
    steps = {name: found[name][:, 0].tolist() for name in STEPS if found[name].ndim > 2}
    runs = []
    for run, (cost, price, kept) in enumerate(zip(costs, prices, required, strict=True)):
        flasks, loads, quantity = 0, {}, run + 1
        for place, step in enumerate(asked.resolved.variants[0].steps):
            at = {name: figures[run][place] for name, figures in steps.items()}
            if not at["is_made_whole"]:
                continue
            if at["is_flask"]:
                flasks = max(flasks, round(quantity * at["whole_units"]))
            if at["together"] > 1 and not at["is_design"]:
                loads[step.name] = round(quantity * at["times"])
        runs.append({"unit_cost": cost, "price": price, "keeping": kept, "flasks": flasks,
                     "loads": MappingProxyType(loads)})  # fmt: skip
    return runs


def _at_every_size(computed: Computed, up_to: int, wanted: Iterable[str]) -> dict[str, np.ndarray]:
    """Quantities by name for runs of 1 to `up_to` sets, each sent as one order; the size of the run is the first axis,
    from 1."""
    everywhere = np.indices(computed["sets_per_order"].shape)
    size = np.zeros(everywhere.shape[1:], dtype=int)  # the one figure of each run
    landings = [Landing("run_sets", (), np.array(0)), Landing("sets_per_order", tuple(everywhere), size)]
    found = Worlds(computed, landings).run(np.arange(1.0, up_to + 1)[:, None], wanted)
    return {name: np.broadcast_to(array, (up_to, *array.shape[1:])) for name, array in found.items()}


def best_places(costs: Sequence[float]) -> set[int]:
    """The places of all but the last where a cost is above none before, and the next is above it."""
    found, lowest = set(), float("inf")
    for place, (cost, after) in enumerate(zip(costs, costs[1:], strict=False)):
        if cost <= lowest * (1 + COST_NOISE) and after > cost * (1 + COST_NOISE):
            found.add(place)
        lowest = min(lowest, cost)
    return found


def loads_in_words(lot: Lot) -> str:
    """How many loads of what."""
    return ", ".join(f"{name} {count}" for name, count in lot.loads.items())


def lot_records(found: Lots) -> list[dict[str, Any]]:
    """A flat record for each lot; loads as words."""
    return [
        {
            "sku": found.sku,
            "alloy": found.alloy,
            "channel": found.channel,
            "quantity": lot.quantity,
            "unit_cost": number(lot.unit_cost),
            "price": decimal_price(lot.price),
            "keeping": number(lot.keeping),
            "discount": number(lot.discount),
            "flasks": lot.flasks,
            "loads": loads_in_words(lot),
            "is_best": lot.is_best,
        }
        for lot in found.lots
    ]
