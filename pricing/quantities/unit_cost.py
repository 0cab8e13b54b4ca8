"""What one good set costs, line by line and in all: by itself, and with the pieces of the maker's own that are in it.

A part is costed once, by itself, as a variant of its own; every whole adds so much of each of its lines. Parts of
parts are counted one by one, each with what of it goes into one set of the whole, so that no line waits for another.
"""

from pricing.words import maximum, total, where

# ---- one set by itself


def hours_itself(step_labour_hours) -> "variant":
    """Attended hours of one good set without its parts.

    Unit: h
    Why: sum of the steps.
    """
    return total(step_labour_hours)


def labour_itself(step_labour_cost) -> "variant":
    """Cost of its attended hours without its parts.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_labour_cost)


def own_hours_itself(step_own_hours) -> "variant":
    """The maker's own hours of one good set without its parts.

    Unit: h
    Why: sum of the steps.
    """
    return total(step_own_hours)


def own_labour_itself(step_own_cost) -> "variant":
    """Cost of the maker's own hours of one good set without its parts.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_own_cost)


def overhead_itself(step_overhead_cost) -> "variant":
    """Overhead that one good set carries without its parts.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_overhead_cost)


def machines_itself(step_machine_cost) -> "variant":
    """Cost of the machine hours of one good set without its parts.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_machine_cost)


def materials_itself(step_material_cost) -> "variant":
    """Cost of the materials used up by one good set without its parts.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_material_cost)


def fees_itself(step_fee_cost) -> "variant":
    """Cost of bought-in work for one good set without its parts.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_fee_cost)


def making_cost(step_cost) -> "variant":
    """What all steps of one good set cost.

    Unit: cur
    Why: sum of the steps; metal and findings come on top.
    """
    return total(step_cost)


def finding_metal_cost(finding_melt_value, finding_premium, unreclaimed_tax, spoil) -> "finding":
    """The part of a finding's cost that moves with its metal.

    Unit: cur
    Why: a bought chain moves with its metal by its own premium, not with the price of casting grain.
    """
    return finding_melt_value * (1 + finding_premium) * (1 + unreclaimed_tax) * (1 + spoil)


def finding_piece_cost(finding_quantity, finding_price, unreclaimed_tax, spoil) -> "finding":
    """The part of a finding's cost that does not.

    Unit: cur
    Why: bought by the piece, with tax that cannot be claimed back and the spoiled ones.
    """
    return finding_quantity * finding_price * (1 + unreclaimed_tax) * (1 + spoil)


def findings_metal_itself(finding_metal_cost) -> "variant":
    """Metal of the findings of one set without its parts.

    Unit: cur
    Why: sum of the findings that belong to this alloy.
    """
    return total(finding_metal_cost)


def findings_itself(finding_piece_cost, findings_metal_itself) -> "variant":
    """Findings of one set without its parts, metal included.

    Unit: cur
    Why: sum of the findings that belong to this alloy.
    """
    return total(finding_piece_cost) + findings_metal_itself


# ---- the maker's own pieces in it


def part_sets(is_joined, piece_run_share, run_share) -> "part":
    """Sets of a piece that are made for one set, with those that are spoiled when it is joined.

    Unit: 1
    Why: both are counted per set of the same whole.
    """
    return where(is_joined, piece_run_share / run_share, 0)


def part_count(is_joined, piece_set_count, set_count) -> "part":
    """Sets of a piece that are in one finished set.

    Unit: 1
    Why: both are counted per set of the same whole.
    """
    return where(is_joined, piece_set_count / set_count, 0)


def part_metal(part_sets, piece_metal_itself) -> "part":
    """Metal of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_metal_itself


def part_hours(part_sets, piece_hours_itself) -> "part":
    """Attended hours of a piece, for one set of what it is in.

    Unit: h
    Why: so many times its own line.
    """
    return part_sets * piece_hours_itself


def part_labour(part_sets, piece_labour_itself) -> "part":
    """Cost of the attended hours of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_labour_itself


def part_own_hours(part_sets, piece_own_hours_itself) -> "part":
    """The maker's own hours of a piece, for one set of what it is in.

    Unit: h
    Why: so many times its own line.
    """
    return part_sets * piece_own_hours_itself


def part_own_labour(part_sets, piece_own_labour_itself) -> "part":
    """Cost of the maker's own hours of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_own_labour_itself


def part_overhead(part_sets, piece_overhead_itself) -> "part":
    """Overhead of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_overhead_itself


def part_machines(part_sets, piece_machines_itself) -> "part":
    """Machine hours' cost of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_machines_itself


def part_materials(part_sets, piece_materials_itself) -> "part":
    """Materials of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_materials_itself


def part_fees(part_sets, piece_fees_itself) -> "part":
    """Bought-in work of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_fees_itself


def part_findings_metal(part_sets, piece_findings_metal_itself) -> "part":
    """Metal of the findings of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_findings_metal_itself


def part_findings(part_sets, piece_findings_itself) -> "part":
    """Findings of a piece, for one set of what it is in.

    Unit: cur
    Why: so many times its own line.
    """
    return part_sets * piece_findings_itself


def part_melt_value(part_count, piece_melt_value_itself) -> "part":
    """Value of the metal of a piece in one finished set.

    Unit: cur
    Why: so many times its own; what was spoiled is not in it.
    """
    return part_count * piece_melt_value_itself


def part_grams(part_count, piece_grams_itself) -> "part":
    """Mass of a piece in one finished set.

    Unit: g
    Why: so many times its own; what was spoiled is not in it.
    """
    return part_count * piece_grams_itself


# ---- one set with all that is in it


def metal_cost(metal_itself, part_metal) -> "variant":
    """Metal of one good set, parts and all: bought, less what scrap and filings bring back.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return metal_itself + total(part_metal)


def labour_hours(hours_itself, part_hours) -> "variant":
    """Attended hours of one good set, of its parts too.

    Unit: h
    Why: its own, and that of every piece of the maker's own in it.
    """
    return hours_itself + total(part_hours)


def labour_cost(labour_itself, part_labour) -> "variant":
    """Cost of the attended hours of one good set.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return labour_itself + total(part_labour)


def own_labour_hours(own_hours_itself, part_own_hours) -> "variant":
    """Attended hours of one good set that are the maker's own, its parts' too.

    Unit: h
    Why: its own, and that of every piece of the maker's own in it.
    """
    return own_hours_itself + total(part_own_hours)


def own_labour_cost(own_labour_itself, part_own_labour) -> "variant":
    """Cost of the attended hours of one good set that are the maker's own, its parts' too.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return own_labour_itself + total(part_own_labour)


def overhead_cost(overhead_itself, part_overhead) -> "variant":
    """Overhead that one good set carries.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return overhead_itself + total(part_overhead)


def machine_cost(machines_itself, part_machines) -> "variant":
    """Cost of the machine hours of one good set.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return machines_itself + total(part_machines)


def material_cost(materials_itself, part_materials) -> "variant":
    """Cost of the materials used up by one good set.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return materials_itself + total(part_materials)


def fee_cost(fees_itself, part_fees) -> "variant":
    """Cost of bought-in work for one good set.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return fees_itself + total(part_fees)


def findings_metal_cost(findings_metal_itself, part_findings_metal) -> "variant":
    """Metal of the findings of one set.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return findings_metal_itself + total(part_findings_metal)


def findings_cost(findings_itself, part_findings) -> "variant":
    """Findings of one set, metal included.

    Unit: cur
    Why: its own, and that of every piece of the maker's own in it.
    """
    return findings_itself + total(part_findings)


def melt_value(melt_value_itself, part_melt_value) -> "variant":
    """Value of the metal in one finished set at the price in force, findings and parts included.

    Unit: cur
    Why: what the piece would be worth as metal alone.
    """
    return melt_value_itself + total(part_melt_value)


def total_g(grams_itself, part_grams) -> "variant":
    """Mass of one finished set with all that is in it.

    Unit: g
    Why: what goes into the parcel.
    """
    return grams_itself + total(part_grams)


def unit_cost(
    metal_cost, labour_cost, overhead_cost, machine_cost, material_cost, fee_cost, findings_cost
) -> "variant":
    """What one good set costs, all in.

    Unit: cur
    Source: absorption costing: metal, labour, overhead, machines, materials, bought-in work and findings.
    """
    return metal_cost + labour_cost + overhead_cost + machine_cost + material_cost + fee_cost + findings_cost


def cost_before_credits(
    metal_cost, labour_cost, overhead_cost, machine_cost, material_cost, fee_cost, findings_cost
) -> "variant":
    """What is spent on one good set before a line that brings money back is taken off.

    Unit: cur
    Why: shares of cost are shares of this: where scrap brings more than the metal cost, shares of less would pass 1.
    """
    return (
        maximum(0, metal_cost)
        + maximum(0, labour_cost)
        + maximum(0, overhead_cost)
        + maximum(0, machine_cost)
        + maximum(0, material_cost)
        + maximum(0, fee_cost)
        + maximum(0, findings_cost)
    )
