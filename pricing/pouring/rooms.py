"""What bounds a pour: places on the tree, its height and volume, the crucible; and how much of each a piece takes."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from pricing.costing import Costing
from pricing.errors import TroytagError
from pricing.folder.rows.flask_room import END_WALL_MM
from pricing.pouring.designs import Design
from pricing.pouring.model import formula

HAIR = 1e-9


@dataclass(frozen=True)
class RoomsOfPour:
    """Rooms of a pour that a unit takes a share of: places on the tree, the flask's volume, the crucible, the height.

    A tree grows by what hangs on it: half a full tree is taken to be half as high. `flask_cm3` is the empty flask's.
    """

    high_mm: float | None
    room_cm3: float | None
    charge_g: float | None
    button_g: float
    density: float
    flask_cm3: float = 0.0

    def shares(self, design: Design) -> list[float]:
        sprued = 1 + design.sprue_ratio
        volume = design.unit_cm3 * sprued / self.room_cm3 if self.room_cm3 else 0.0
        poured = 0.0
        if self.charge_g:
            poured = design.unit_g * sprued / (self.charge_g * (1 - design.melt_loss) - self.button_g)
        high = design.share * design.tree_mm / self.high_mm if self.high_mm else 0.0
        return [design.share, volume, poured, high]


def limits_of(costing: Costing, design: Design) -> RoomsOfPour:
    """The rooms of the flask and the furnace that a design is poured by."""
    stated = costing.folder.stated
    density = stated.alloys[design.alloy].density
    machine = stated.workshop.machines.get(design.pour)
    crucible = machine.crucible_cm3 * density if machine and machine.crucible_cm3 else None
    if not design.flask:
        return RoomsOfPour(None, None, crucible, 0.0, density)
    flask = stated.workshop.flasks[design.flask]
    computed = costing.computed
    held = float(computed["flask_cm3"][[row.name for row in computed.resolved.flasks].index(design.flask)])
    high, button = max(flask.height_mm - END_WALL_MM, HAIR), button_of(flask.button_cm3, density)
    return RoomsOfPour(high, max(held - flask.button_cm3, HAIR), crucible, button, density, held)


def button_of(button_cm3: float, density: float) -> float:
    """Metal of one flask's button: the cost model's sprues of a flask without castings."""
    return float(
        formula("sprue_g")(sprue_ratio=0.0, poured_g=0.0, button_cm3=button_cm3, density=density, flasks_per_set=1.0)
    )


def fits(design: Design, limits: RoomsOfPour) -> int:
    """Units that are poured at once at most. Raises TroytagError where it is not one."""
    if design.takes != "cast":
        return 10**9
    shares = limits.shares(design)
    crucible = shares[2]
    if crucible < 0 or crucible > 1 + HAIR:
        takes = charge(design.unit_g, design.sprue_ratio * design.unit_g + limits.button_g, design.melt_loss)
        raise TroytagError(
            f"workshop.toml machines.{design.pour}.crucible_cm3: one {design.titled} in {design.alloy} takes "
            f"{takes:,.0f} g, and the crucible holds {limits.charge_g or 0:,.0f} g of it. "
            "Name a machine with a larger crucible at the pour, or pour less at once."
        )
    if max(shares[1], shares[3]) > 1 + HAIR:
        raise TroytagError(
            f"workshop.toml flasks.{design.flask}: one {design.titled} with its sprues is larger than the flask. "
            "Give the product a larger flask."
        )
    return max(1, int(np.floor(1 / max(shares) + HAIR)))


def charge(castings_g: float, sprue_g: float, melt_loss: float) -> float:
    """What goes into the crucible, in gram: the cost model's charge of these castings and sprues."""
    return float(formula("charge_g")(poured_g=castings_g, sprue_g=sprue_g, melt_loss_in_force=melt_loss))
