"""What one good set costs, line by line and in all."""

from pricing.words import maximum, total


def labour_hours(step_labour_hours) -> "variant":
    """Attended hours of one good set.

    Unit: h
    Why: sum of the steps.
    """
    return total(step_labour_hours)


def labour_cost(step_labour_cost) -> "variant":
    """Cost of the attended hours of one good set.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_labour_cost)


def overhead_cost(step_overhead_cost) -> "variant":
    """Overhead that one good set carries.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_overhead_cost)


def machine_cost(step_machine_cost) -> "variant":
    """Cost of the machine hours of one good set.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_machine_cost)


def material_cost(step_material_cost) -> "variant":
    """Cost of the materials used up by one good set.

    Unit: cur
    Why: sum of the steps.
    """
    return total(step_material_cost)


def fee_cost(step_fee_cost) -> "variant":
    """Cost of bought-in services for one good set.

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


def finding_metal_cost(finding_quantity, finding_metal_g, grain_price_per_g, spoil) -> "finding":
    """The part of a finding's cost that moves with its metal.

    Unit: cur
    Why: a bail or chain by weight costs its alloy's price per gram on top of its making.
    """
    return finding_quantity * finding_metal_g * grain_price_per_g * (1 + spoil)


def finding_piece_cost(finding_quantity, finding_price, unreclaimed_tax, spoil) -> "finding":
    """The part of a finding's cost that does not.

    Unit: cur
    Why: bought by the piece, with tax that cannot be claimed back and the spoiled ones.
    """
    return finding_quantity * finding_price * (1 + unreclaimed_tax) * (1 + spoil)


def findings_metal_cost(finding_metal_cost) -> "variant":
    """Metal of the findings of one set.

    Unit: cur
    Why: sum of the findings that belong to this alloy.
    """
    return total(finding_metal_cost)


def findings_cost(finding_piece_cost, findings_metal_cost) -> "variant":
    """Findings of one set, metal included.

    Unit: cur
    Why: sum of the findings that belong to this alloy.
    """
    return total(finding_piece_cost) + findings_metal_cost


def unit_cost(
    metal_cost, labour_cost, overhead_cost, machine_cost, material_cost, fee_cost, findings_cost
) -> "variant":
    """What one good set costs, all in.

    Unit: cur
    Source: absorption costing: metal, labour, overhead, machines, materials, services and findings.
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
