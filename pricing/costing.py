"""From a workshop folder to every cost and price: read, resolve, compute, and see whether a price can be had."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from pricing.collecting import uncollected
from pricing.errors import Fault, Faults, Place, UsageFault
from pricing.folder.files import CHANNELS_FILE
from pricing.folder.kept import marks_of
from pricing.folder.memory import Memory
from pricing.folder.read import Folder, read_folder
from pricing.folder.rows.flask_room import flask_warnings
from pricing.folder.rows.remembered import resolved_again
from pricing.folder.rows.resolve import Asked, resolve
from pricing.folder.rows.resolving import MeasureMesh
from pricing.formulas.engine import Computed, compute
from pricing.formulas.graph import Graph
from pricing.model.product import Product
from pricing.model.rows import Resolved, VariantRow
from pricing.records import COST_QUANTITIES, MASS_QUANTITIES, MAY_BE_UNDEFINED, PRICE_QUANTITIES

if TYPE_CHECKING:
    from pricing.meshes import VolumeAndArea

#: Measures a mesh file closely enough for a price. Raises TroytagError where it cannot.
MeasureForPrice = Callable[[Path], "VolumeAndArea"]
#: Settles everything that a folder leaves open: `resolve`, or one that remembers.
Resolving = Callable[[Folder, Asked, MeasureMesh], tuple[Resolved, tuple[Fault, ...]]]


@dataclass(frozen=True, repr=False)
class Costing:
    """A folder, what was asked of it, all its figures, and what is doubtful about them."""

    folder: Folder
    asked: Asked
    computed: Computed
    warnings: tuple[Fault, ...]

    def __repr__(self) -> str:
        return f"<{self.folder.stated.workshop.name}: {self.counted()}, priced as of {self.asked.as_of}>"

    def column(self, channel: str) -> int:
        """The place of a channel among the prices of every variant."""
        return [row.name for row in self.computed.resolved.channels].index(channel)

    def counted(self) -> str:
        """How much there is: `18 products, 30 variants, 4 channels`."""
        resolved = self.computed.resolved
        products = len({variant.sku for variant in resolved.variants})
        counts = ((products, "product"), (len(resolved.variants), "variant"), (len(resolved.channels), "channel"))
        return ", ".join(f"{number} {word}{'' if number == 1 else 's'}" for number, word in counts)


def asked_for(as_of: date | None = None, run: float | None = None, charge_design: bool = False) -> Asked:
    """What is to be costed; the day is today where none is given. Raises UsageFault where it makes no sense."""
    if charge_design and run is None:
        raise UsageFault("--charge-design charges the design to a run: say how many with --run.")
    if run == float("inf"):
        raise UsageFault("--run inf: a run has an end.")
    if run is not None and not run >= 1:
        raise UsageFault(f"--run {run:g}: a run has at least one set.")
    return Asked(as_of or date.today(), run, charge_design)


def cost(root: Path, asked: Asked) -> Costing:
    """Cost a workshop folder. Raises Faults with everything in it that stands in the way."""
    return cost_folder(read_folder(root), asked, resolving=resolved_again)


def cost_if_priced(root: Path, asked: Asked) -> tuple[Folder, Costing | None, tuple[Fault, ...]]:
    """The folder, and its figures where they can be had; else what stands in their way, as a missing quote.

    Raises Faults where the folder itself cannot be read.
    """
    folder = read_folder(root)
    try:
        return folder, cost_folder(folder, asked, resolving=resolved_again), ()
    except Faults as lacking:
        return folder, None, lacking.faults


@uncollected()
def cost_folder(
    folder: Folder,
    asked: Asked,
    measure_mesh: MeasureForPrice | None = None,
    graph: Graph | None = None,
    resolving: Resolving = resolve,
    memory: Memory | None = None,
) -> Costing:
    """The same for a folder that is read already; by the formulas of `graph`, the cost model's where none is given.

    `resolving` may remember what a folder came to, where that stands as it was read. With the `memory` by which it was
    read only what has changed since the last costing is resolved and computed anew, by `resolve` and the cost model.
    """
    measure = measure_mesh or _measure_mesh
    found: dict[Path, VolumeAndArea] = {}

    def measured(path: Path) -> tuple[float, float]:
        if path not in found:
            found[path] = measure(path) if memory is None else _measured_before(memory, path, measure)
        return found[path].volume_cm3, found[path].area_cm2

    if memory is None:
        resolved, warnings = resolving(folder, asked, measured)
    else:
        resolved, warnings = resolve(folder, asked, measured, memory)
    with np.errstate(all="ignore"):
        computed = compute(resolved, graph, before=memory.figures if memory is not None else None)
    if memory is not None:
        memory.figures = computed
    faults = [*price_faults(folder, computed), *postage_faults(folder, computed), *overflow_faults(folder, computed)]
    if faults:
        raise Faults(faults)
    rooms = flask_warnings(folder, computed, {path: each.extent_mm for path, each in found.items()})
    return Costing(folder, asked, computed, (*folder.warnings, *warnings, *rooms))


def _measured_before(memory: Memory, path: Path, measure: MeasureForPrice) -> VolumeAndArea:
    """A mesh as it was measured before, where nobody has touched its file since."""
    known, marks = memory.meshes.get(path), marks_of(path)
    if known is not None and known[0] == marks:
        return known[1]  # type: ignore[no-any-return]
    found = measure(path)
    if marks is not None:
        memory.meshes.put(path, (marks, found))
    return found


def _measure_mesh(path: Path) -> VolumeAndArea:
    from pricing.meshes import volume_and_area

    return volume_and_area(path, thorough=True)


def price_faults(folder: Folder, computed: Computed) -> Iterator[Fault]:
    """Prices that cannot be had: fees that eat them whole, earnings asked of no hours; one fault for each policy."""
    eaten: dict[Place, list[tuple[int, int]]] = {}
    idle: dict[Place, list[tuple[int, int]]] = {}
    products = folder.products
    leaves_room = computed["leaves_room"].astype(bool)
    for row, column in np.argwhere(~computed["own_can_be_had"].astype(bool)).tolist():
        variant = computed.resolved.variants[row]
        channel = variant.prices[column].channel
        if any(channel in (variant.prices[at].channel, variant.prices[at].followed) for at in variant.sold_places):
            kind = idle if leaves_room[row, column] else eaten
            kind.setdefault(_policy_place(folder, products, variant, channel), []).append((row, column))
    for place, found in eaten.items():
        row, column = found[0]
        kept, fees = computed["keep_share"][row, column], computed["running_fees"][column]
        yield Fault(
            place,
            computed.resolved.channels[column].name,
            f"no price of {_named(computed, found)} can pay: of each 1.00 of list price the policy leaves {kept:.4f} "
            f"and the fees take {fees:.4f}",
            "Ask a smaller margin, or leave out a fee.",
        )
    for place, found in idle.items():
        yield Fault(
            place,
            computed.resolved.channels[found[0][1]].name,
            f"{_named(computed, found)} takes no attended time of your own, so it cannot earn so much an hour",
            "State minutes of your own for a step or an order, or ask by margin or markup.",
        )


def postage_faults(folder: Folder, computed: Computed, only: str | None = None) -> Iterator[Fault]:
    """Orders that are heavier than every tier of their channel's postage, one fault for each channel (or in `only`)."""
    passed, grams = computed["tiers_passed"], computed["order_g"]
    for column, (name, channel) in enumerate(folder.stated.channels.items()):
        if channel.tiers[-1].up_to_g is None or only not in (None, name):
            continue
        heavy = [
            row
            for row in np.flatnonzero(computed.sold_places[:, column]).tolist()
            if passed[row, column] >= len(channel.tiers)
        ]
        if heavy:
            row = max(heavy, key=lambda row: grams[row, column])
            more = f" (and {len(heavy) - 1} more)" if len(heavy) > 1 else ""
            variant = computed.resolved.variants[row]
            yield Fault(
                folder.place("channels.toml", ("channels", name, "postage")),
                name,
                f"an order of {variant.sku} in {variant.alloy}{more} is {grams[row, column]:.6g} g, past every tier",
                "Add a last tier without up_to_g, which takes the rest, or one that is heavy enough.",
            )


def overflow_faults(folder: Folder, computed: Computed) -> Iterator[Fault]:
    """Figures that are too large to compute with, the first of each variant."""
    for row in np.flatnonzero(~_all_finite(computed)).tolist():
        variant = computed.resolved.variants[row]
        asked = list(variant.sold_places)
        figures = [
            (name, computed[name][row]) for name in (*MASS_QUANTITIES, *COST_QUANTITIES) if name not in MAY_BE_UNDEFINED
        ]
        for name in PRICE_QUANTITIES:
            if name not in MAY_BE_UNDEFINED:
                values = computed[name]
                figures.append((name, values[asked] if values.ndim == 1 else values[row, asked]))
        worst = next((name for name, value in figures if not np.isfinite(value).all()), None)
        if worst is not None:
            yield Fault(
                folder.place(folder.product_file(variant.product)),
                variant.sku,
                f"in {variant.alloy}, {worst} comes to more than can be computed with",
                "Look for a figure that is far too large or too small, in its file or in what it uses.",
            )


def _all_finite(computed: Computed) -> np.ndarray:
    """Whether every figure of a variant can be computed with; prices count where it is sold. Shape: variants."""
    sold_places = computed.sold_places
    fine = np.ones(len(sold_places), dtype=bool)
    for name in (*MASS_QUANTITIES, *COST_QUANTITIES, *PRICE_QUANTITIES):
        if name in MAY_BE_UNDEFINED:
            continue
        finite = np.isfinite(computed[name])
        fine &= finite if name not in PRICE_QUANTITIES else (finite | ~sold_places).all(axis=-1)
    return fine


def _named(computed: Computed, found: list[tuple[int, int]]) -> str:
    variant = computed.resolved.variants[found[0][0]]
    more = f" (and {len(found) - 1} more)" if len(found) > 1 else ""
    return f"{variant.sku} in {variant.alloy}{more}"


def _policy_place(folder: Folder, products: Mapping[str, Product], variant: VariantRow, channel: str) -> Place:
    """Where the policy stands that asks for this price: of the alloy, of the product, or of the channel."""
    product = products[variant.product]
    in_alloy = product.for_alloy.get(variant.alloy)
    for own, path in ((in_alloy, ("for_alloy", variant.alloy)), (product, ())):
        stated = own.in_channel.get(channel) if own else None
        if stated and stated.policy is not None:
            return folder.place(folder.product_file(variant.product), (*path, "in_channel", channel, "policy"))
    return folder.place(CHANNELS_FILE, ("channels", channel, "policy"))
