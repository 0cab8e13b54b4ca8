"""From wants to a plan: how many of each, in which flask and kiln load, and what every flask takes on the scale.

The charge of a flask is the cost model's own `charge_g`, its sprues `sprue_g`, what may be returned metal `reused_g`:
the same functions that cost a set, on the castings of one flask.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from pricing.costing import Costing
from pricing.drawer.on_hand import OnHand
from pricing.pouring.chances import Count, count_for, mean_count
from pricing.pouring.designs import Design, designs_of
from pricing.pouring.figures import Flask, Line, Plan, Taken
from pricing.pouring.kiln import kiln_loads
from pricing.pouring.packing import FIRST_FIT, HIGHS, ROOM
from pricing.pouring.rooms import fits, limits_of
from pricing.pouring.scale import USUAL_WATER, metal_in_all, weighed
from pricing.pouring.spreading import attained, packed_group
from pricing.pouring.wants import Want
from pricing.shown import percent

#: So sure is who names nothing, and so long a packing is looked for, in seconds.
SURE, SECONDS = 0.90, 6.0


def plan(
    costing: Costing,
    wants: Iterable[Want],
    sure: float | None = SURE,
    stock: Mapping[str, OnHand] | None = None,
    seconds: float = SECONDS,
) -> Plan:
    """The plan for the wants: with the chance `sure` of each design by itself, or on the mean where that is None.

    `stock` is what the drawer holds by alloy; without it returned metal is taken up to its limit. Raises UsageFault
    for a want that is unknown, TroytagError where a piece goes into no flask or crucible.
    """
    designs = designs_of(costing, wants)
    limits = {design: limits_of(costing, design) for design in designs}
    counts = {design: _count(design, fits(design, limits[design]), sure) for design in designs}
    poured = [design for design in designs if design.takes == "cast"]
    groups: dict[tuple[str, ...], list[Design]] = {}
    for design in poured:
        groups.setdefault(_group(design), []).append(design)
    packed = {key: packed_group(group, limits, counts, sure, seconds / len(groups)) for key, group in groups.items()}
    filled = [
        (group, tuple((design, units) for design, units in zip(group, held, strict=True) if units))
        for key, group in groups.items()
        for held in packed[key].bins
    ]
    loads, order, least_loads = kiln_loads(costing, [holds for _, holds in filled], seconds)
    flasks = weighed(
        costing, [(holds, load) for holds, load in ((filled[at][1], load) for at, load in order)], limits, stock
    )
    lines = tuple(_line(design, counts[design], flasks) for design in designs)
    hows = {each.by for each in packed.values()}
    return Plan(
        sure,
        lines,
        flasks,
        loads,
        metal_in_all(costing, flasks, stock),
        tuple(
            Taken(line, line.count.on_trees * line.design.unit_g * (1 + line.design.sprue_ratio))
            for line in lines
            if line.design.takes != "cast"
        ),
        sum(each.least for each in packed.values()),
        least_loads,
        next((how for how in (FIRST_FIT, HIGHS) if how in hows), ROOM),
        stock is not None,
        tuple(dict.fromkeys(_notes(costing, lines, flasks))),
    )


def _group(design: Design) -> tuple[str, ...]:
    """Who may share a tree: one alloy, flask, kiln and furnace; without a flask each design by itself."""
    alone = () if design.flask else (design.titled,)
    return design.alloy, design.flask, design.burnout.machine if design.burnout else "", design.pour, *alone


def _count(design: Design, fits: int, sure: float | None) -> Count:
    if design.takes != "cast":  # no flask: all as one
        fits = 10**6
    if sure is None:
        return mean_count(design.chain, design.quantity, design.first_starts, design.tree_starts, fits)
    fits = min(fits, _enough_room(design))
    return count_for(design.chain, design.quantity, sure**design.sure_share, fits)


def _enough_room(design: Design) -> int:
    """Where no flask bounds them, so many units are looked at: several times what is wanted."""
    chain = design.chain
    return int(design.quantity * chain.per_set / max(chain.after * chain.sets, 1e-6) * 3) + 60


def _line(design: Design, count: Count, flasks: Sequence[Flask]) -> Line:
    held = [(flask.number, each.units) for flask in flasks for each in flask.holds if each.design == design]
    chance = attained(design, count, [units for _, units in held]) if held else count.attained
    return Line(design, count, tuple(held), chance)


def _notes(costing: Costing, lines: Sequence[Line], flasks: Sequence[Flask]) -> Iterable[str]:
    stated = costing.folder.stated
    for flask in flasks:
        if flask.flask and stated.workshop.flasks[flask.flask].water_per_100 is None:
            yield (
                f'the flask "{flask.flask}" states no water_per_100: {USUAL_WATER:g} parts of water to 100 of powder '
                "are taken; the powder's own sheet decides."
            )
        if flask.pour_c is None:
            yield f"no pouring temperature (pour_c) is stated for {flask.alloy}."
    for line in lines:
        variant = costing.computed.resolved.all_variants[line.design.place]
        if variant.sizes and not line.design.size:
            yield f"{line.design.titled}: no size is named, so it is weighed at the mean of its sizes."
        chain = line.design.chain
        if chain.flask < line.attained and line.design.quantity * chain.per_set * line.design.share <= 1:
            good = percent(chain.flask)
            yield (
                f"{line.design.titled}: one flask would hold enough, but comes out with a chance of {good} only, and "
                "all in it with it; so there is more than one. Less surely, or on the mean, fewer do."
            )
        if line.design.sure_share < 1:
            yield f"{line.design.titled}: a whole set is not poured at once, so each casting is planned by itself."
