"""From wants to a plan: how many of each, in which flask and kiln load, and what every flask takes on the scale.

The charge of a flask is the cost model's own `charge_g`, its sprues `sprue_g`, what may be returned metal `reused_g`:
the same functions that cost a set, on the castings of one flask.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pricing.costing import Costing
from pricing.drawer.on_hand import OnHand
from pricing.errors import TroytagError
from pricing.model.alloy import Alloy
from pricing.pouring.chances import Count, chance_of_enough, count_for, mean_count
from pricing.pouring.designs import Design, designs_of
from pricing.pouring.model import formula
from pricing.pouring.packing import FIRST_FIT, HIGHS, ROOM, Packed, fewest_bins
from pricing.pouring.wants import Want

#: So sure is who names nothing, and so long a packing is looked for, in seconds.
SURE, SECONDS = 0.90, 10.0
#: Parts of water to 100 of powder where a weighed flask states none: common practice, and what suppliers' sheets of
#: gypsum-bonded powders say for fine work (38 to 40).
USUAL_WATER = 40.0
#: A packing that spreads a design otherwise than it was counted for is counted once more, so often at most.
MOST_ROUNDS = 6
HAIR = 1e-9


@dataclass(frozen=True)
class Line:
    """A design with its count; `flasks` are the units in each flask of the plan, `attained` the chance with these."""

    design: Design
    count: Count
    flasks: tuple[tuple[int, int], ...]
    attained: float

    @property
    def patterns(self) -> int:
        """Castings' patterns to print or inject."""
        return self.count.patterns * self.design.chain.castings

    @property
    def on_trees(self) -> int:
        """Castings that have a place on the trees."""
        return self.count.on_trees * self.design.chain.castings

    @property
    def expected_starts(self) -> float:
        """The cost model's mean: castings to begin for the sets wanted."""
        chain = self.design.chain
        return self.design.quantity * chain.per_set * chain.castings * self.design.first_starts


@dataclass(frozen=True)
class InFlask:
    """So many units of a design on one tree; `missing_g` comes off the charge for each casting that is not there."""

    design: Design
    units: int
    missing_g: float

    @property
    def castings(self) -> int:
        return self.units * self.design.chain.castings


@dataclass(frozen=True)
class Flask:
    """One pour, with what goes on the scale, in gram; masses of metal are those of this flask alone.

    charge_g = castings_g + sprue_g + button_g + melt_lost_g = returned_g + fresh_g. `powder_g` is None where nothing
    is invested; `load` is 0 where nothing is burnt out. `room` is how full the
    tree is, `room_g` what the crucible takes.
    """

    number: int
    alloy: str
    flask: str
    load: int
    holds: tuple[InFlask, ...]
    room: float
    castings_g: float
    sprue_g: float
    button_g: float
    melt_lost_g: float
    charge_g: float
    returned_g: float
    fresh_g: float
    elements: Mapping[str, float]
    room_g: float | None
    tree_cm3: float
    powder_g: float | None
    water_g: float | None
    pour_c: float | None
    flask_c: float | None


@dataclass(frozen=True)
class Load:
    """One burnout: which flasks stand in the kiln, for how long, what it draws and costs."""

    number: int
    machine: str
    step: str
    minutes: float
    flasks: tuple[int, ...]
    share: float
    kwh: float
    cost: float


@dataclass(frozen=True)
class AlloyTotal:
    """One alloy in all flasks; `to_buy_g` is what the drawer lacks of the fresh metal (all of it, with no drawer)."""

    alloy: str
    charge_g: float
    returned_g: float
    fresh_g: float
    to_buy_g: float
    cost: float


@dataclass(frozen=True)
class Taken:
    """What is not poured: cut from sheet, wire or rod, or bought as castings."""

    line: Line
    metal_g: float


@dataclass(frozen=True)
class Plan:
    """A whole plan. `least_flasks` and `least_loads` are proved; `by` says how the flasks were found."""

    sure: float | None
    lines: tuple[Line, ...]
    flasks: tuple[Flask, ...]
    loads: tuple[Load, ...]
    alloys: tuple[AlloyTotal, ...]
    taken: tuple[Taken, ...]
    least_flasks: int
    least_loads: int
    by: str
    has_drawer: bool
    notes: tuple[str, ...]

    @property
    def gap(self) -> float:
        """How far the flasks may be above the fewest, as a share."""
        return (len(self.flasks) - self.least_flasks) / len(self.flasks) if self.flasks else 0.0


@dataclass(frozen=True)
class _Limits:
    """Rooms of a pour that a unit takes a share of: the tree, the flask's volume, the crucible."""

    room_cm3: float | None
    charge_g: float | None
    button_g: float
    density: float

    def shares(self, design: Design) -> list[float]:
        sprued = 1 + design.sprue_ratio
        volume = design.unit_cm3 * sprued / self.room_cm3 if self.room_cm3 else 0.0
        poured = 0.0
        if self.charge_g:
            poured = design.unit_g * sprued / (self.charge_g * (1 - design.melt_loss) - self.button_g)
        return [design.share, volume, poured]


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
    limits = {design: _limits(costing, design) for design in designs}
    counts = {design: _count(design, _fits(design, limits[design]), sure) for design in designs}
    poured = [design for design in designs if design.takes == "cast"]
    groups: dict[tuple[str, ...], list[Design]] = {}
    for design in poured:
        groups.setdefault(_group(design), []).append(design)
    packed = {key: _packed(group, limits, counts, sure, seconds / len(groups)) for key, group in groups.items()}
    filled = [
        (group, tuple((design, units) for design, units in zip(group, held, strict=True) if units))
        for key, group in groups.items()
        for held in packed[key].bins
    ]
    loads, order, least_loads = _loads(costing, [holds for _, holds in filled], seconds)
    flasks = _weighed(
        costing, [(holds, load) for holds, load in ((filled[at][1], load) for at, load in order)], limits, stock
    )
    lines = tuple(_line(design, counts[design], flasks) for design in designs)
    hows = {each.by for each in packed.values()}
    return Plan(
        sure,
        lines,
        flasks,
        loads,
        _totals(costing, flasks, stock),
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


def _limits(costing: Costing, design: Design) -> _Limits:
    stated = costing.folder.stated
    density = stated.alloys[design.alloy].density
    machine = stated.workshop.machines.get(design.pour)
    crucible = machine.crucible_cm3 * density if machine and machine.crucible_cm3 else None
    if not design.flask:
        return _Limits(None, crucible, 0.0, density)
    flask = stated.workshop.flasks[design.flask]
    held = float(formula("flask_cm3")(flask_diameter_mm=flask.diameter_mm, flask_height_mm=flask.height_mm))
    return _Limits(max(held - flask.button_cm3, HAIR), crucible, _button_g(flask.button_cm3, density), density)


def _button_g(button_cm3: float, density: float) -> float:
    """Metal of one flask's button: the cost model's sprues of a flask without castings."""
    return float(
        formula("sprue_g")(sprue_ratio=0.0, poured_g=0.0, button_cm3=button_cm3, density=density, flasks_per_set=1.0)
    )


def _fits(design: Design, limits: _Limits) -> int:
    """Units that are poured at once at most. Raises TroytagError where it is not one."""
    if design.takes != "cast":
        return 10**9
    shares = limits.shares(design)
    crucible = shares[2]
    if crucible < 0 or crucible > 1 + HAIR:
        charge = _charge(design.unit_g, design.sprue_ratio * design.unit_g + limits.button_g, design.melt_loss)
        raise TroytagError(
            f"workshop.toml machines.{design.pour}.crucible_cm3: one {design.titled} in {design.alloy} takes "
            f"{charge:,.0f} g, and the crucible holds {limits.charge_g or 0:,.0f} g of it. "
            "Name a machine with a larger crucible at the pour, or pour less at once."
        )
    if shares[1] > 1 + HAIR:
        raise TroytagError(
            f"workshop.toml flasks.{design.flask}: one {design.titled} with its sprues is larger than the flask. "
            "Give the product a larger flask."
        )
    return max(1, int(np.floor(1 / max(shares) + HAIR)))


def _charge(castings_g: float, sprue_g: float, melt_loss: float) -> float:
    return float(formula("charge_g")(poured_g=castings_g, sprue_g=sprue_g, melt_loss_in_force=melt_loss))


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


def _packed(
    group: Sequence[Design],
    limits: Mapping[Design, _Limits],
    counts: dict[Design, Count],
    sure: float | None,
    seconds: float,
) -> Packed:
    """The fewest flasks for designs that may share them, with counts that hold for the very flasks of the packing.

    No design is put into fewer flasks than it was counted for. Where the packing spreads it otherwise and the chance
    falls short, it is counted with one more.
    """
    if len(group) == 1:  # it was counted for its own flasks, and spread evenly
        alone = counts[group[0]].flasks
        return Packed(tuple((units,) for units in alone), len(alone), ROOM)
    shares = np.array([limits[design].shares(design) for design in group])
    for _ in range(MOST_ROUNDS):
        units = [counts[design].on_trees for design in group]
        caps = [max(counts[design].flasks) for design in group]
        packed = fewest_bins(units, shares, caps, seconds)
        short = [
            design
            for place, design in enumerate(group)
            if sure is not None
            and _attained(design, counts[design], [held[place] for held in packed.bins])
            < sure**design.sure_share - HAIR
        ]
        if not short:
            break
        for design in short:
            count = counts[design]
            spread = sorted(count.flasks)
            more = tuple(sorted((*spread[1:], spread[0] + 1), reverse=True))
            counts[design] = replace(
                count, patterns=max(count.patterns, count.on_trees + 1), on_trees=count.on_trees + 1, flasks=more
            )
    return packed


def _attained(design: Design, count: Count, flasks: Iterable[int]) -> float:
    """The chance of enough with these flasks, of a design by itself."""
    return chance_of_enough(
        design.chain, design.quantity, count.patterns, sorted((each for each in flasks if each), reverse=True)
    )


def _loads(
    costing: Costing, flasks: Sequence[tuple[tuple[Design, int], ...]], seconds: float
) -> tuple[tuple[Load, ...], list[tuple[int, int]], int]:
    """Fewest kiln loads; the flasks in the order of their loads and alloys, each with its load; how few are proved.

    A flask takes the longest burnout of what is in it, and a load that of its flasks: longer does no harm.
    """
    resolved = costing.computed.resolved
    machines = {row.name: row for row in resolved.machines}
    rates = dict(zip(machines, costing.computed["machine_rate"].tolist(), strict=True))
    by_kiln: dict[str, list[tuple[float, float, str, int]]] = {}
    for at, holds in enumerate(flasks):
        runs = [design.burnout for design, _ in holds if design.burnout]
        if runs:
            longest = max(runs, key=lambda run: run.minutes)
            least = min(run.together for run in runs)
            by_kiln.setdefault(longest.machine, []).append((longest.minutes, least, longest.step, at))
    loads: list[Load] = []
    placed: dict[int, int] = {}
    least_loads = 0
    for machine, stands in by_kiln.items():
        kinds = sorted({each[:3] for each in stands}, key=lambda kind: (-kind[0], kind[1:]))
        waiting = {kind: [each[3] for each in stands if each[:3] == kind] for kind in kinds}
        for alike in waiting.values():
            alike.sort(key=lambda at: _by_alloy(flasks[at]), reverse=True)
        counts = [len(waiting[kind]) for kind in kinds]
        packed = fewest_bins(counts, np.array([[1 / kind[1]] for kind in kinds]), counts, seconds)
        least_loads += packed.least
        for held in packed.bins:
            inside = [kind for kind, count in zip(kinds, held, strict=True) if count]
            numbers = [waiting[kind].pop() for kind, count in zip(kinds, held, strict=True) for _ in range(count)]
            placed |= {at: len(loads) + 1 for at in numbers}
            row = machines[machine]
            minutes, _, step = inside[0]
            share = sum(count / kind[1] for kind, count in zip(kinds, held, strict=True))
            kwh = formula("run_kwh")(power_kw=row.power_kw, duty=row.duty, run_minutes=minutes)
            cost = minutes / 60 * rates[machine]
            loads.append(Load(len(loads) + 1, machine, step, minutes, tuple(numbers), share, float(kwh), cost))
    order = sorted(range(len(flasks)), key=lambda at: (placed.get(at, 0), _by_alloy(flasks[at]), at))
    numbers_of = {at: number for number, at in enumerate(order, 1)}
    renamed = tuple(replace(load, flasks=tuple(sorted(numbers_of[at] for at in load.flasks))) for load in loads)
    return renamed, [(at, placed.get(at, 0)) for at in order], least_loads


def _by_alloy(holds: tuple[tuple[Design, int], ...]) -> tuple[str, str]:
    return holds[0][0].alloy, holds[0][0].flask


def _weighed(
    costing: Costing,
    filled: Sequence[tuple[tuple[tuple[Design, int], ...], int]],
    limits: Mapping[Design, _Limits],
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
        charge = _charge(float(castings.sum()), sprue + limit.button_g, first.melt_loss)
        there = left.get(first.alloy, 0.0) if stock is not None else charge
        returned = float(formula("reused_g")(returns_g=there, return_limit=first.return_limit, charge_g=charge))
        left[first.alloy] = there - returned
        fresh = float(formula("fresh_g")(charge_g=charge, reused_g=returned))
        tree = sum(units * design.unit_cm3 * (1 + design.sprue_ratio) for design, units in holds)
        powder = water = None
        if first.flask:
            flask = stated.workshop.flasks[first.flask]
            tree += flask.button_cm3
            held = formula("flask_cm3")(flask_diameter_mm=flask.diameter_mm, flask_height_mm=flask.height_mm)
            powder = float(
                formula("powder_beside_tree_g")(flask_powder_g=powder_of[first.flask], flask_cm3=held, tree_cm3=tree)
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
                        _charge(design.unit_g, design.sprue_ratio * design.unit_g, design.melt_loss)
                        / design.chain.castings,
                    )
                    for design, units in holds
                ),
                room=sum(units * design.share for design, units in holds),
                castings_g=float(castings.sum()),
                sprue_g=sprue,
                button_g=limit.button_g,
                melt_lost_g=float(formula("melt_lost_g")(charge_g=charge, melt_loss_in_force=first.melt_loss)),
                charge_g=charge,
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


def _line(design: Design, count: Count, flasks: Sequence[Flask]) -> Line:
    held = [(flask.number, each.units) for flask in flasks for each in flask.holds if each.design == design]
    attained = _attained(design, count, [units for _, units in held]) if held else count.attained
    return Line(design, count, tuple(held), attained)


def _totals(costing: Costing, flasks: Sequence[Flask], stock: Mapping[str, OnHand] | None) -> tuple[AlloyTotal, ...]:
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
        if line.design.sure_share < 1:
            yield f"{line.design.titled}: a whole set does not go on one tree, so each casting is planned by itself."
