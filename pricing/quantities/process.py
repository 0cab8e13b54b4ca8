"""What is done to a piece, how often, and what each step costs per good set."""

from pricing.words import (
    both,
    ceil,
    downstream,
    either,
    mass_tolerance,
    microns_per_centimetre,
    minutes_per_hour,
    opposite,
    powder_per_gram,
    product,
    total,
    upstream,
    where,
    whole_tolerance,
)

# ---- how often each step is done


def starts(good) -> "step":
    """Sets' worth begun at a step for each good set at the end.

    Unit: 1/set
    Source: normal loss in process costing: units begun are good units by the yields of all that follows.
    """
    return 1 / downstream(good)


def units(is_design, is_piece, is_flask, expected_sales, castings_per_set, pieces_per_flask, starts) -> "step":
    """How many of what a step is counted by (pieces, flasks, sets, designs) fall on one good set.

    Unit: 1/set
    Why: a design is made once for all the sets it will ever sell.
    """
    return where(
        is_design,
        1 / expected_sales,
        starts * where(is_piece, castings_per_set, where(is_flask, castings_per_set / pieces_per_flask, 1)),
    )


def run_share(link_quantity, link_spoil) -> "variant":
    """Sets of this that are made for one set of the whole of which it is a part; 1 for what is no part.

    Unit: 1
    Why: along the way down to a part quantities multiply, each with what is spoiled when it is joined.
    """
    return product(link_quantity * (1 + link_spoil))


def set_count(link_quantity) -> "variant":
    """Sets of this that are in one finished set of the whole; 1 for what is no part.

    Unit: 1
    Why: what was spoiled in joining is not in it.
    """
    return product(link_quantity)


def sets_in_run(run_sets, run_share) -> "variant":
    """Sets in the run, of a part so many as the run of the whole takes, and 1 where the steady state is costed.

    Unit: 1
    Why: keeps divisions by the run defined where there is none.
    """
    return where(run_sets > 0, run_sets * run_share, 1)


def is_made_whole(run_sets, shared) -> "step":
    """Whether a run must pay for whole flasks and whole loads at a step.

    Unit: switch
    Why: a kiln load or assay parcel filled up with other work is paid for by its share only.
    """
    return both(run_sets > 0, opposite(shared))


def whole_units(is_made_whole, is_flask, units, sets_in_run) -> "step":
    """Units per set once the flasks of a run are whole.

    Unit: 1/set
    Why: half a flask cannot be poured; the tolerance keeps float noise from starting another.
    """
    return where(both(is_made_whole, is_flask), ceil(sets_in_run * units - whole_tolerance) / sets_in_run, units)


def times_if_done(
    is_design, design_charged, is_made_whole, is_flask, together, units, whole_units, sets_in_run
) -> "step":
    """How often a step is done per good set, if it is done at all.

    Unit: 1/set
    Why: what is done together becomes whole loads in a run; what is done singly stays an expectation.
    """
    return where(
        both(is_design, design_charged),
        1 / sets_in_run / together,
        where(
            both(is_made_whole, either(is_flask, both(together > 1, opposite(is_design)))),
            ceil(sets_in_run * whole_units / together - whole_tolerance) / sets_in_run,
            units / together,
        ),
    )


def times(times_if_done, is_piece, finished_g, castings_per_set, from_g) -> "step":
    """How often a step is done per good set.

    Unit: 1/set
    Why: some steps (an assay mark) are due only from a finished mass upward, of the set or, per piece, of one casting;
    float noise does not put a piece below it.
    """
    return where(finished_g >= (from_g - mass_tolerance) * where(is_piece, castings_per_set, 1), times_if_done, 0)


# ---- what each step costs


def step_labour_hours(times, step_minutes, units, rework, rework_minutes, is_piece, mean_effort) -> "step":
    """Attended hours of a step per good set, mending included.

    Unit: h
    Why: only attended time is paid; a kiln runs alone. What is done by the piece takes as long as the pieces ask.
    """
    return (times * step_minutes + units * rework * rework_minutes) / minutes_per_hour * where(is_piece, mean_effort, 1)


def step_own_hours(is_own, step_labour_hours) -> "step":
    """The part of it that is the maker's own.

    Unit: h
    Why: hired help is a cost like any other, and no earning.
    """
    return where(is_own, step_labour_hours, 0)


def step_labour_cost(step_labour_hours, labour_rate) -> "step":
    """Cost of the attended hours of a step.

    Unit: cur
    Why: hours by what an hour of the role costs.
    """
    return step_labour_hours * labour_rate


def step_own_cost(step_own_hours, labour_rate) -> "step":
    """Cost of the maker's own hours of a step.

    Unit: cur
    Why: what the maker pays the maker is earned too.
    """
    return step_own_hours * labour_rate


def step_overhead_cost(step_labour_hours, overhead_rate) -> "step":
    """Overhead that the attended hours of a step carry.

    Unit: cur
    Source: overhead applied on labour hours, OpenStax Principles of Accounting 2, section 4.4.
    """
    return step_labour_hours * overhead_rate


def step_machine_cost(times, machine_minutes, machine_rate) -> "step":
    """Cost of the machine hours of a step.

    Unit: cur
    Why: a machine wears and draws power while it runs, attended or not.
    """
    return times * machine_minutes / minutes_per_hour * machine_rate


def counted_use_cost(use_quantity, takes_flask_powder, material_unit_cost) -> "use":
    """Material cost of one doing of a step.

    Unit: cur
    Why: taken once each time, however much metal is in it.
    """
    return where(takes_flask_powder, 0, use_quantity * material_unit_cost)


def powder_use_cost(takes_flask_powder, flask_powder_g, material_unit_cost) -> "use":
    """Cost of the investment powder of one flask.

    Unit: cur
    Why: every flask is filled, however many stand in the kiln together; powder is bought by the gram.
    """
    return where(takes_flask_powder, flask_powder_g * powder_per_gram * material_unit_cost, 0)


def sized_use_cost(per_cm3, per_cm2, per_g, pattern_cm3, pattern_cm2, as_cast_g, material_unit_cost) -> "use":
    """Cost of what a step takes by the volume, surface or mass of one set.

    Unit: cur
    Why: resin goes by volume, patina by surface, compound by mass.
    """
    return (per_cm3 * pattern_cm3 + per_cm2 * pattern_cm2 + per_g * as_cast_g) * material_unit_cost


def layer_g(microns, covers, pattern_cm2, density) -> "use":
    """Grams of the layer that a step plates on one set.

    Unit: g
    Why: a layer weighs surface by thickness by density (16 CFR 23 asks microns, ASTM B488 classes by them). It is
    material, and in no mass of the piece.
    """
    return pattern_cm2 * covers * microns / microns_per_centimetre * density


def plated_use_cost(layer_g, plating_waste, grain_price_per_g) -> "use":
    """Cost of the layer that a step plates on one set.

    Unit: cur
    Why: its metal moves with its price, and what is used and does not stay is paid too.
    """
    return layer_g * (1 + plating_waste) * grain_price_per_g


def step_material_cost(
    times, whole_units, is_design, starts, counted_use_cost, powder_use_cost, sized_use_cost, plated_use_cost
) -> "step":
    """Cost of the materials of a step per good set.

    Unit: cur
    Why: counted uses go with the doings, powder with the flasks, sized uses with the sets begun.
    """
    return (
        times * total(counted_use_cost)
        + whole_units * total(powder_use_cost)
        + where(is_design, times, starts) * total(sized_use_cost + plated_use_cost)
    )


def step_fee_cost(times, step_fee, unreclaimed_tax) -> "step":
    """Cost of the bought-in work of a step: plating house, assay office.

    Unit: cur
    Why: tax on bought-in work that cannot be claimed back is a cost.
    """
    return times * step_fee * (1 + unreclaimed_tax)


def step_cost(step_labour_cost, step_overhead_cost, step_machine_cost, step_material_cost, step_fee_cost) -> "step":
    """What a step costs per good set, all in.

    Unit: cur
    Why: labour with its overhead, machines, materials and bought-in work; metal and findings come on top of all steps.
    """
    return step_labour_cost + step_overhead_cost + step_machine_cost + step_material_cost + step_fee_cost


# ---- the mass that passes through each step


def mass_in(is_from_metal, as_cast_g, metal_kept) -> "step":
    """Mass of one set as it enters a step; 0 before the metal is in.

    Unit: g
    Why: every step before has taken its share off.
    """
    return where(is_from_metal, as_cast_g * upstream(metal_kept), 0)


def step_removed_g(starts, mass_in, metal_loss) -> "step":
    """Metal that a step takes off per good set.

    Unit: g
    Why: all that are begun are worked, also those that are spoiled.
    """
    return starts * mass_in * metal_loss


def step_caught_g(step_removed_g, caught) -> "step":
    """The part of it that is kept as filings and dust.

    Unit: g
    Why: the bench skin and the filter catch some; the rest is gone.
    """
    return step_removed_g * caught


def step_rejected_g(starts, good, mass_in, metal_loss) -> "step":
    """Metal in the pieces that a step spoils, per good set.

    Unit: g
    Why: a rejected piece has been worked already.
    """
    return starts * (1 - good) * mass_in * (1 - metal_loss)


def step_reject_refined_g(goes_to_refiner, step_rejected_g) -> "step":
    """The part of it that only the refiner can take.

    Unit: g
    Why: what is soldered, darkened or has studs in it spoils a melt.
    """
    return where(goes_to_refiner, step_rejected_g, 0)


def step_reject_lost_g(is_lost, step_rejected_g) -> "step":
    """The part of it that is lost.

    Unit: g
    Why: a piece spoiled in the post or stolen does not come back.
    """
    return where(is_lost, step_rejected_g, 0)


def step_poured_g(is_metal_step, starts, as_cast_g) -> "step":
    """Castings poured (or pieces cut) per good set, by mass; 0 but at the metal step.

    Unit: g
    Why: the metal comes in at one step.
    """
    return where(is_metal_step, starts * as_cast_g, 0)


def step_flasks(is_metal_step, is_flask, whole_units) -> "step":
    """Flasks poured per good set; 0 but at the metal step.

    Unit: 1/set
    Why: each flask leaves a button of metal.
    """
    return where(both(is_metal_step, is_flask), whole_units, 0)


def step_poured_sets(is_metal_step, is_flask, is_piece, pieces_per_flask, together, castings_per_set) -> "step":
    """Sets' worth of castings in one pour: a full tree, or as many as are done together; 0 but at the metal step.

    Unit: 1
    Why: a crucible is charged for a whole tree, whatever comes good of it.
    """
    return where(
        is_metal_step,
        where(is_flask, pieces_per_flask / castings_per_set, together / where(is_piece, castings_per_set, 1)),
        0,
    )
