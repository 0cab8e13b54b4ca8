"""What goes on the scale: metal, powder and water of every flask, and the metal of all of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np

from pricing.costing import Costing
from pricing.drawer.on_hand import OnHand
from pricing.model.alloy import Alloy
from pricing.pouring.designs import Design
from pricing.pouring.figures import AlloyTotal, Flask, InFlask
from pricing.pouring.model import formula
from pricing.pouring.rooms import RoomsOfPour, charge

#: Parts of water to 100 of powder where a weighed flask states none: common practice, and what suppliers' sheets of
#: gypsum-bonded powders say for fine work (38 to 40).
USUAL_WATER = 40.0


def weighed(
    costing: Costing,
    filled: Sequence[tuple[tuple[tuple[Design, int], ...], int]],
    limits: Mapping[Design, RoomsOfPour],
    stock: Mapping[str, OnHand] | None,
) -> tuple[Flask, ...]:
    """Every flask with its figures, in the order of the pours; returned metal of the drawer is used up by it."""
    stated, resolved = costing.folder.stated, costing.computed.resolved
    powder_of = dict(
        zip((row.name for row in resolved.flasks), costing.computed["flask_powder_g"].tolist(), strict=True)
    )
    left = {alloy: held.returned_g for alloy, held in (stock or {}).items()}
    found = []
    for number, (holds, load) in enumerate(filled, 1):
        first = holds[0][0]
        alloy, limit = stated.alloys[first.alloy], limits[first]
        castings = np.array([units * design.unit_g for design, units in holds])
        ratios = np.array([design.sprue_ratio for design, _ in holds])
        sprue = float(
            formula("sprue_g")(
                sprue_ratio=ratios, poured_g=castings, button_cm3=0.0, density=limit.density, flasks_per_set=0.0
            ).sum()
        )
        charged = charge(float(castings.sum()), sprue + limit.button_g, first.melt_loss)
        there = left.get(first.alloy, 0.0) if stock is not None else charged
        returned = float(formula("reused_g")(returns_g=there, return_limit=first.return_limit, charge_g=charged))
        left[first.alloy] = there - returned
        fresh = float(formula("fresh_g")(charge_g=charged, reused_g=returned))
        tree = sum(units * design.unit_cm3 * (1 + design.sprue_ratio) for design, units in holds)
        powder = water = None
        if first.flask:
            flask = stated.workshop.flasks[first.flask]
            tree += flask.button_cm3
            powder = float(
                formula("powder_beside_tree_g")(
                    flask_powder_g=powder_of[first.flask], flask_cm3=limit.flask_cm3, tree_cm3=tree
                )
            )
            ratio = USUAL_WATER if flask.water_per_100 is None else flask.water_per_100
            water = float(formula("water_for_powder_g")(powder_beside_tree_g=powder, water_per_100=ratio))
        found.append(
            Flask(
                number=number,
                alloy=first.alloy,
                flask=first.flask,
                load=load,
                holds=tuple(
                    InFlask(
                        design,
                        units,
                        charge(design.unit_g, design.sprue_ratio * design.unit_g, design.melt_loss)
                        / design.chain.castings,
                    )
                    for design, units in holds
                ),
                room=sum(units * design.share for design, units in holds),
                castings_g=float(castings.sum()),
                sprue_g=sprue,
                button_g=limit.button_g,
                melt_lost_g=float(formula("melt_lost_g")(charge_g=charged, melt_loss_in_force=first.melt_loss)),
                charge_g=charged,
                returned_g=returned,
                fresh_g=fresh,
                elements=elements_of(alloy, fresh),
                room_g=limit.charge_g,
                tree_cm3=tree,
                powder_g=powder,
                water_g=water,
                pour_c=alloy.pour_c,
                flask_c=alloy.flask_c,
            )
        )
    return tuple(found)


def elements_of(alloy: Alloy, grams: float) -> dict[str, float]:
    """So many grams of an alloy as its elements, for who mixes it; they add up to the whole."""
    whole = sum(alloy.composition.values())
    return {element: grams * share / whole for element, share in alloy.composition.items()}


def metal_in_all(
    costing: Costing, flasks: Sequence[Flask], stock: Mapping[str, OnHand] | None
) -> tuple[AlloyTotal, ...]:
    prices = {
        alloy.name: float(price)
        for alloy, price in zip(costing.computed.resolved.alloys, costing.computed["grain_price_per_g"], strict=True)
    }
    found = []
    for alloy in dict.fromkeys(flask.alloy for flask in flasks):
        own = [flask for flask in flasks if flask.alloy == alloy]
        fresh = sum(flask.fresh_g for flask in own)
        there = (stock or {}).get(alloy, OnHand(0.0, 0.0, 0.0)).fresh_g
        to_buy = max(0.0, fresh - there)
        charge, returned = sum(flask.charge_g for flask in own), sum(flask.returned_g for flask in own)
        found.append(AlloyTotal(alloy, charge, returned, fresh, to_buy, to_buy * prices[alloy]))
    return tuple(found)
